"""``boardgauge chart``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

import click
from attrs import evolve

from boardgauge.command.failing import Unusable
from boardgauge.command.finding import find_board, find_trace, find_wiring, settings_of, spec_path
from boardgauge.drawings.chart import Chart
from boardgauge.drawings.chart_pages import chart_pages
from boardgauge.drawings.page import Paper
from boardgauge.drawings.rendering import typeset, typeset_pages
from boardgauge.drawings.run_chart import Asked, NoSuchSignal, run_chart
from boardgauge.drawings.timing_chart import timing_chart
from boardgauge.language import UnusableSpec
from boardgauge.language.model import Board
from boardgauge.machine.compile import compile_board
from boardgauge.machine.picture import CannotSettle
from boardgauge.machine.scenario import ScenarioStuck, play
from boardgauge.machine.scenario_reader import read_scenario
from boardgauge.machine.settle import Engine

if TYPE_CHECKING:
    from boardgauge.machine.chance import Timings
    from boardgauge.machine.run import Run

FORMATS = ("svg", "png", "pdf")


def chart_of_file(given: str, source: str, output: str | None, format_: str | None, **asked: Any) -> list[Path]:
    """Draw the timing chart of a scenario or a recording; gives the files written.

    ``asked`` are the other options of the command: timings, seed, wiring, setting, start, end, signals, paper.
    """
    board = find_board(given)
    path = Path(source)
    target = path_of(output, f"{board.id}-{_stem(path)}", format_, FORMATS)
    signals = asked["signals"]
    names = None if signals is None else tuple(name.strip() for name in signals.split(",") if name.strip())
    start, end = _time(asked["start"], "--from"), _time(asked["end"], "--to")
    if start is not None and end is not None and start >= end:
        raise Unusable(f"--from {asked['start']} lies behind --to {asked['end']}")
    wanted = Asked(start, end, names)
    engine = Engine(compile_board(board))
    try:
        if path.suffix == ".toml":
            chart = _of_scenario(engine, given, path, wanted, asked)
        else:
            chart = _of_recording(engine, given, source, wanted, asked)
    except NoSuchSignal as error:
        raise Unusable(str(error)) from None
    if chart is None:
        raise Unusable(f"{source}: nothing changes in the stretch asked for, so there is nothing to draw")
    return _write(chart, target, cast(Paper, asked["paper"]))


def _write(chart: Chart, target: Path, paper: Paper) -> list[Path]:
    """Write a chart: in its own size for a screen, on sheets of paper as PDF (all in one) or PNG (each a file)."""
    ending = target.suffix.lower()
    if ending == ".svg":
        target.write_text(timing_chart(chart), encoding="utf-8")
        return [target]
    sheets = chart_pages(chart, paper)
    if ending == ".pdf" and len(sheets) > 1:
        target.write_bytes(typeset_pages(sheets, chart.title))
        return [target]
    made = [typeset(sheet, "pdf" if ending == ".pdf" else "png", chart.title) for sheet in sheets]
    names = (
        [target]
        if len(made) == 1
        else [target.with_name(f"{target.stem}-{number}{target.suffix}") for number in range(1, len(made) + 1)]
    )
    for name, data in zip(names, made, strict=True):
        name.write_bytes(data)
    return names


def played(engine: Engine, path: Path, timings: str, seed: int) -> tuple[Run, str]:
    """Play the scenario of a file; gives the run and the title. Raises Unusable."""
    board = engine.machine.board
    try:
        scenario = read_scenario(path, board)
        return play(engine.machine, scenario, cast("Timings", timings), seed, engine), scenario.title
    except UnusableSpec as error:
        raise Unusable(f"{path} cannot be used:\n{error}") from None
    except ScenarioStuck as error:
        raise Unusable(str(error)) from None
    except CannotSettle as error:
        raise Unusable(f"{board.id} does not come to rest on this scenario: {error}") from None


def _of_scenario(engine: Engine, given: str, path: Path, wanted: Asked, asked: dict[str, Any]) -> Chart | None:
    for option in ("wiring", "setting"):
        if asked[option]:
            raise Unusable(f"--{option} is for recordings; a scenario says itself what it needs")
    run, title = played(engine, path, asked["timings"] or "nominal", asked["seed"])
    if wanted.start is not None and wanted.start >= run.end:
        raise Unusable(f"--from {asked['start']}: the scenario ends at {run.end / 1_000_000:g} s")
    how = f"simulated, {asked['timings'] or 'nominal'} timings"
    return run_chart(engine, run, evolve(wanted, title=title, subtitle=f"{path.name}, {how}"))


def _of_recording(engine: Engine, given: str, source: str, wanted: Asked, asked: dict[str, Any]) -> Chart | None:
    from boardgauge.judging.judge import Judge
    from boardgauge.judging.recording_chart import recording_chart

    if asked["timings"]:
        raise Unusable("--timings is for scenarios; a recording shows what its board took")
    board: Board = engine.machine.board
    trace = find_trace(source, find_wiring(asked["wiring"], board, spec_path(given)), board)
    for remark in trace.remarks:
        if remark.kind == "no channel":
            click.echo(f"boardgauge: {remark.text}", err=True)
    trace = evolve(trace, settings={**trace.settings, **settings_of(asked["setting"], board)})
    if wanted.start is not None and wanted.start >= trace.end - trace.start:
        raise Unusable(f"--from {asked['start']}: the recording lasts {(trace.end - trace.start) / 1_000_000:g} s")
    try:
        judgement = Judge.of(board).judge(trace)
    except CannotSettle as error:
        raise Unusable(f"{given} cannot be judged with: {error}") from None
    title = f"{board.id}: {Path(source).name}"
    return recording_chart(engine, trace, judgement, evolve(wanted, title=title))


def _stem(path: Path) -> str:
    name = path.name
    while Path(name).suffix.lower() in {".gz", ".xz", ".bz2", ".zst", ".csv", ".vcd", ".toml", ".jsonl", ".arrow"}:
        name = Path(name).stem
    return name


def path_of(output: str | None, stem: str, asked: str | None, formats: tuple[str, ...]) -> Path:
    """Give the file to write, its format plain from its name or from ``asked``. Raises Unusable."""
    if output is None:
        return Path(f"{stem}.{asked or 'svg'}")
    target = Path(output)
    ending = target.suffix.lstrip(".").lower()
    if ending not in formats:
        if asked is None:
            raise Unusable(f"{target}: the format is not plain from the name; end it in .{', .'.join(formats)}")
        return target.with_name(f"{target.name}.{asked}")
    if asked is not None and ending != asked:
        raise Unusable(f"{target}: its name says {ending} and --format says {asked}; leave one of them out")
    return target


def _time(text: str | None, option: str) -> int | None:
    """Read a time of the command line: ``90``, ``90s``, ``1.5min``, ``2h``."""
    if text is None:
        return None
    import re

    match = re.fullmatch(r"\s*(\d+(?:\.\d+)?)\s*(ms|s|min|h)?\s*", text)
    if match is None:
        raise Unusable(f"{option} {text}: expected a time like 90s, 1.5min or 2h")
    unit = {"ms": 1_000, None: 1_000_000, "s": 1_000_000, "min": 60_000_000, "h": 3_600_000_000}[match[2]]
    from fractions import Fraction

    return round(Fraction(match[1]) * unit)

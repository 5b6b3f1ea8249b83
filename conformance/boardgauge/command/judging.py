"""``boardgauge judge``."""

from __future__ import annotations

import json
from collections.abc import Sequence

import click
from attrs import evolve

from boardgauge.command.explaining import Charts
from boardgauge.command.failing import CONFORMS, DEVIATES, UNDECIDED, UNUSABLE, Unusable
from boardgauge.command.finding import find_board, find_trace, find_wiring, settings_of, spec_path
from boardgauge.command.report import report
from boardgauge.judging.judge import Judge
from boardgauge.machine.picture import CannotSettle


def judge_recordings(
    board: str,
    recordings: Sequence[tuple[str, ...]],
    wiring: str | None,
    start: str | None,
    setting: tuple[str, ...],
    as_json: bool,
    explain: str | None = None,
) -> int:
    """Judge recordings, each of one or more parts, and print what came of each; give the exit status.

    ``explain`` is where the charts of deviations go; their paths are printed, with ``as_json`` on standard error.
    """
    charts = None if explain is None else Charts.at(explain)
    spec = find_board(board)
    wired = find_wiring(wiring, spec, spec_path(board))
    settings = settings_of(setting, spec)
    judge = Judge.of(spec)
    verdicts: list[str] = []
    failed = False
    for parts in recordings:
        recording = ", ".join(parts)
        try:
            trace = find_trace(parts[0], wired, spec, *parts[1:])
            trace = evolve(trace, settings={**trace.settings, **settings})
            judgement = judge.judge(trace, start)  # type: ignore[arg-type]  # click gives one of the two words
        except (Unusable, OSError, CannotSettle) as error:
            failed = True
            message = f"{board} cannot be judged with: {error}" if isinstance(error, CannotSettle) else str(error)
            if as_json:
                click.echo(json.dumps({"trace": recording, "error": message}, ensure_ascii=False))
            click.echo(f"boardgauge: {message}", err=True)
            continue
        verdicts.append(judgement.verdict)
        judgement = evolve(judgement, file=recording)
        if as_json:
            click.echo(json.dumps(judgement.as_json(), ensure_ascii=False))
        else:
            click.echo(report(judgement, spec))
            click.echo()
        for path in () if charts is None else charts.draw(judge.engine.machine, trace, judgement):
            click.echo(f"chart {path}", err=as_json)
    if not as_json and len(recordings) > 1:
        counts = {word: verdicts.count(word) for word in ("conforms", "deviates", "undecided")}
        click.echo(", ".join(f"{number} {word}" for word, number in counts.items() if number))
    return exit_status(verdicts, failed)


def exit_status(verdicts: list[str], failed: bool) -> int:
    """Give the exit status for the verdicts on some recordings; ``failed`` if one could not be read."""
    if failed:
        return UNUSABLE
    if "deviates" in verdicts:
        return DEVIATES
    return UNDECIDED if "undecided" in verdicts else CONFORMS

"""``boardgauge certificate``: what is handed out on a board.

Law of this module: recordings are judged here and now, be they files or out of the records; a report is never older
than its verdict. Where a kept verdict was another, the report says so.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING, cast

import click
from attrs import evolve, frozen

from boardgauge.command.failing import CONFORMS, DEVIATES, UNDECIDED, Unusable
from boardgauge.command.finding import find_board, find_wiring, settings_of, spec_path
from boardgauge.command.keeping import check_names, moment, opened, typed
from boardgauge.command.taking_long import taking_long

if TYPE_CHECKING:
    from boardgauge.drawings.chart import Chart
    from boardgauge.drawings.page import Paper
    from boardgauge.judging.run import Start
    from boardgauge.language.model import Board
    from boardgauge.records.again import Again
    from boardgauge.records.database import Records
    from boardgauge.reports.report import BoardReport, JudgedRun
    from boardgauge.traces.trace import Trace
    from boardgauge.traces.wiring import Wiring

ENDINGS = (".pdf", ".html", ".xml", ".json")


@frozen
class ToDraw:
    """What it takes to draw a run: the board and wiring, the files with their bytes, settings.

    ``written`` is the trace of a sheet that a person wrote.
    """

    board: Board
    wiring: Wiring
    names: tuple[str, ...]
    contents: tuple[bytes, ...]
    settings: dict[str, str]
    written: Trace | None = None


@frozen
class About:
    """What was said of the board on the command line."""

    serial: str | None = None
    lot: str | None = None
    operator: str | None = None
    measured: str | None = None


def write_certificate(
    given: str,
    recordings: Sequence[str],
    wiring: str | None,
    start: str | None,
    setting: tuple[str, ...],
    record: str | None,
    about: About,
    outputs: Sequence[str],
    paper: str,
) -> int:
    """Judge recordings, write what is asked for of them, and give the exit status of their verdict."""
    targets = [_target(output) for output in outputs]
    check_names(about.serial, about.lot, about.operator)
    if about.serial is None and any(target.suffix.lower() == ".pdf" for target in targets):
        raise Unusable("--serial: a certificate is about one board; say which")
    if (record is None) == (not recordings):
        raise Unusable("expected recordings, or --record with the records to take them from, and not both")
    board = find_board(given)
    if record is None:
        report, drawn = _of_files(given, board, recordings, wiring, start, setting, about)
    else:
        for option, value in (("--wiring", wiring), ("--start", start), ("--setting", setting)):
            if value:
                raise Unusable(f"{option}: runs of the records are judged as they were kept; leave it out")
        report, drawn = _of_records(board, record, about)
    for target in targets:
        _write(report, drawn, target, cast("Paper", paper))
        click.echo(str(target))
    from boardgauge.reports.report import statement

    click.echo(statement(report))
    return {"conforms": CONFORMS, "deviates": DEVIATES, "undecided": UNDECIDED}[report.verdict]


def _target(output: str) -> Path:
    path = Path(output)
    if path.suffix.lower() not in ENDINGS:
        raise Unusable(f"{output}: the format is not plain from the name; end it in {', '.join(ENDINGS)}")
    if not path.parent.is_dir():
        raise Unusable(f"{output}: there is no folder {path.parent}")
    _see_it_can_be_written(path)
    return path


def _see_it_can_be_written(path: Path) -> None:
    """Open a file to add to it, before minutes go into judging; what is in it stays. Raises Unusable."""
    # Where it is a link, the file that it leads to is made, and is the one to be taken away again.
    file = path.resolve()
    there = file.exists()
    try:
        file.open("ab").close()
    except OSError as error:
        raise Unusable(f"{path}: cannot be written: {error.strerror or error}") from None
    if not there:
        file.unlink()


def _of_files(
    given: str,
    board: Board,
    recordings: Sequence[str],
    wiring: str | None,
    start: str | None,
    setting: tuple[str, ...],
    about: About,
) -> tuple[BoardReport, list[ToDraw]]:
    from boardgauge.many.job import Item, Job
    from boardgauge.many.judging_one import judge_item
    from boardgauge.many.listing import list_recordings
    from boardgauge.records.entry import KeptFile
    from boardgauge.reports.report import BoardReport, JudgedRun, RecordingFile

    listing = list_recordings(recordings)
    if listing.empty:
        raise Unusable("\n".join(listing.empty))
    wired = find_wiring(wiring, board, spec_path(given))
    job = Job(given, board, wired, cast("Start | None", start), settings_of(setting, board))
    packed = job.packed()
    measured = None if about.measured is None else moment(about.measured, "--measured")
    runs: list[JudgedRun] = []
    drawn: list[ToDraw] = []
    for number, name in enumerate(listing.files):
        try:
            content = Path(name).read_bytes()
        except ValueError as error:
            raise Unusable(f"{name}: {error}") from None
        with taking_long(f"judging {name}"):
            outcome = judge_item(packed, Item(number, (name,)), (content,))
        if outcome.judgement is None:
            raise Unusable(str(outcome.error))
        file = RecordingFile(name, KeptFile(name, content).sha256)
        runs.append(JudgedRun(outcome.judgement, (file,), measured=measured))
        drawn.append(ToDraw(board, wired, (name,), (content,), job.settings))
    report = BoardReport(
        board,
        tuple(runs),
        version("boardgauge"),
        typed(None),
        about.serial,
        about.lot,
        about.operator,
        made=datetime.now(UTC),
    )
    return report, drawn


def _of_records(board: Board, record: str, about: About) -> tuple[BoardReport, list[ToDraw]]:
    if about.serial is None:
        raise Unusable("--record: say with --serial which board")
    for option, value in (("--lot", about.lot), ("--operator", about.operator), ("--measured", about.measured)):
        if value is not None:
            raise Unusable(f"{option}: stands in the records already; leave it out")
    with opened(record, "--record ") as records:
        return _of_last_visit(records, board, about.serial, typed(record))


def _of_last_visit(records: Records, board: Board, serial: str, command: str) -> tuple[BoardReport, list[ToDraw]]:
    from boardgauge.language.problems import nearest_of
    from boardgauge.records.again import CannotJudgeAgain, judge_again
    from boardgauge.records.finding import Wanted, find_runs
    from boardgauge.records.lots import last_visit
    from boardgauge.reports.report import BoardReport, JudgedRun, RecordingFile
    from boardgauge.rigs.rig import SIMULATED
    from boardgauge.sheets.figures import many

    of_kind = find_runs(records, Wanted(board=board.id))
    rows = [row for row in of_kind if row.serial == serial]
    if not rows:
        near = nearest_of(serial, {row.serial for row in of_kind})
        hint = f"; did you mean {near!r}?" if near else ""
        raise Unusable(f"{records.name}: no run of {board.id} {serial}{hint}")
    found: list[Again] = []
    # A simulated run under a board's serial number takes nothing from what was measured of the board.
    real = [row for row in rows if not row.simulated]
    for row in last_visit(real or rows):
        try:
            found.append(judge_again(records, row.number))
        except CannotJudgeAgain as error:
            raise Unusable(f"{records.name}: {error}") from None
    if len({one.board.digest for one in found}) > 1:
        raise Unusable(f"{records.name}: the runs of the last visit of {board.id} {serial} are of several specs")
    notes = []
    judged_by = found[0].board
    if judged_by.digest != board.digest:
        notes.append(f"The spec says something else today ({board.digest[:12]}); the board is judged as it was kept.")
    if real and len(real) < len(rows):
        notes.append(f"{many(len(rows) - len(real), 'run')} of this number left out ({SIMULATED}).")
    notes += [
        f"Run {one.kept.row.number} was kept as {one.kept.row.verdict}, by Boardgauge {one.kept.row.version}."
        for one in found
        if not one.same
    ]
    runs = tuple(
        JudgedRun(
            one.judgement,
            tuple(RecordingFile(file.name, file.sha256) for file in one.files),
            one.kept.row.number,
            one.kept.row.measured,
            one.kept.plan,
            one.kept.row.simulated,
        )
        for one in found
    )
    first = found[0].kept.row
    report = BoardReport(
        judged_by,
        runs,
        version("boardgauge"),
        command,
        serial,
        first.lot,
        first.operator,
        first.rig,
        first.rig_kind,
        datetime.now(UTC),
        tuple(notes),
    )
    drawn = [
        ToDraw(
            one.board,
            one.wiring,
            tuple(file.name for file in one.files),
            tuple(file.content for file in one.files),
            one.kept.settings,
            one.written,
        )
        for one in found
    ]
    return report, drawn


def _write(report: BoardReport, drawn: Sequence[ToDraw], target: Path, paper: Paper) -> None:
    match target.suffix.lower():
        case ".pdf":
            from boardgauge.reports.certificate import TooLong, to_certificate

            try:
                target.write_bytes(to_certificate(report, paper))
            except TooLong as error:
                raise Unusable(f"{target}: {error}") from None
        case ".html":
            from boardgauge.reports.as_html import to_html_report

            charts = [_chart(run, one) for run, one in zip(report.runs, drawn, strict=True)]
            target.write_text(to_html_report(report, charts, paper), encoding="utf-8")
        case ".xml":
            from boardgauge.reports.junit import to_junit

            target.write_text(to_junit(report), encoding="utf-8")
        case _:
            from boardgauge.reports.as_json import to_json

            target.write_text(to_json(report), encoding="utf-8")


def _chart(run: JudgedRun, one: ToDraw) -> Chart | None:
    from boardgauge.drawings.run_chart import Asked
    from boardgauge.judging.recording_chart import recording_chart
    from boardgauge.machine.compile import compile_board
    from boardgauge.machine.settle import Engine
    from boardgauge.many.judging_one import trace_of

    # It was read a moment ago, so it can be read.
    trace = one.written or trace_of(one.names, one.wiring, one.board, one.contents)
    trace = evolve(trace, settings={**trace.settings, **one.settings})
    engine = Engine(compile_board(one.board))
    title = f"{one.board.id}: {', '.join(Path(name).name for name in one.names)}"
    return recording_chart(engine, trace, run.judgement, Asked(title=title))

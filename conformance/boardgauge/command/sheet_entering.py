"""``boardgauge plan --enter``: what a person wrote on the sheet of a plan, asked for or read from a file, and judged.

Law of this module: what was written of a plan is judged sitting by sitting; what was not written is told, and never
taken for good.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from boardgauge.command.failing import CONFORMS, DEVIATES, UNDECIDED, Unusable
from boardgauge.command.finding import find_board
from boardgauge.command.options import time_given
from boardgauge.command.taking_long import taking_long

if TYPE_CHECKING:
    from collections.abc import Sequence

    from boardgauge.command.keeping import Asked
    from boardgauge.judging.judgement import Judgement
    from boardgauge.language.model import Board
    from boardgauge.plans.entering import Sheet
    from boardgauge.plans.plan import Plan


def enter(given: str, plan_file: str, times: str | None, reaction: str | None, records: Asked) -> int:
    """Judge what a person wrote on the sheet of a plan, and keep it if it is asked for; give the exit status.

    A ``reaction`` given here goes before that of the file of times.
    """
    from boardgauge.command.report import report
    from boardgauge.judging.judge import Judge
    from boardgauge.language import UnusableSpec
    from boardgauge.language.text_file import text_of
    from boardgauge.plans.entering import REACTION, trace_of_sheet
    from boardgauge.plans.pace import for_hand
    from boardgauge.plans.plan_reader import read_plan_text
    from boardgauge.plans.sheet_reader import read_sheets_text

    if records.record is not None and records.serial is None:
        raise Unusable("--record: say with --serial which board it was")
    records.checked()
    board = find_board(given)
    _check_records(records, board)
    asked = None if reaction is None else time_given("--reaction", reaction)
    try:
        plan_text = text_of(plan_file)
        plan = for_hand(read_plan_text(plan_text, plan_file, board), board)
    except UnusableSpec as error:
        raise Unusable(f"--enter {plan_file}: the plan cannot be used:\n{error}") from None
    try:
        if times is not None:
            name, text = times, text_of(times)
            sheets, off = read_sheets_text(text, times, plan, board, asked)
        else:
            off = REACTION if asked is None else asked
            sheets, name, text = _typed(given, plan_file, plan, board, off)
    except UnusableSpec as error:
        raise Unusable(f"{times or plan_file} cannot be used:\n{error}") from None
    judge = Judge.of(board)
    with taking_long("judging what was written"):
        judged = [(sheet, judge.judge(trace_of_sheet(sheet, board, off), "power-up")) for sheet in sheets]
    verdicts: set[str] = {judgement.verdict for _, judgement in judged}
    for _, judgement in judged:
        click.echo(report(judgement, board))
    click.echo(f"every written time taken to be off by up to {off / 1_000_000:g} s, either way")
    written = {sheet.sitting.id for sheet in sheets}
    for sitting in plan.sittings:
        if sitting.id not in written:
            verdicts.add("undecided")
            click.echo(f"nothing is written of sitting {sitting.id}, so nothing is known of what it shows")
    if records.record is not None:
        _keep(records, board, given, plan, (name, text), (plan_file, plan_text), off, judged)
    return DEVIATES if "deviates" in verdicts else UNDECIDED if "undecided" in verdicts else CONFORMS


def _check_records(records: Asked, board: Board) -> None:
    """See that what is typed can be kept, before somebody types for an hour. Raises Unusable."""
    from boardgauge.command.keeping import check_records, moment

    if records.measured is not None:
        moment(records.measured, "--measured")
    if records.record is not None and records.serial is not None:
        check_records(records.record, board.id, records.serial, records.lot)


def _keep(
    asked: Asked,
    board: Board,
    given: str,
    plan: Plan,
    times: tuple[str, str],
    plan_file: tuple[str, str],
    off: int,
    judged: Sequence[tuple[Sheet, Judgement]],
) -> None:
    """Put what was written into the records, each sitting a run, all of them one visit."""
    from datetime import UTC, datetime
    from importlib.metadata import version
    from uuid import uuid4

    from boardgauge.command.keeping import moment, opened, typed
    from boardgauge.records.adding import add_run
    from boardgauge.records.database import UnusableRecords
    from boardgauge.records.entry import Entry, KeptFile, UnusableEntry
    from boardgauge.records.written import START, WRITTEN, WrittenSheet

    assert asked.record is not None
    assert asked.serial is not None
    sheet = WrittenSheet(KeptFile(times[0], times[1].encode()), KeptFile(plan_file[0], plan_file[1].encode()), off)
    coverage = sheet.coverage(plan, [one for one, _ in judged])
    measured = datetime.now(UTC) if asked.measured is None else moment(asked.measured, "--measured")
    visit = uuid4().hex
    with opened(asked.record, "--record ", make=True) as records:
        try:
            for one, judgement in judged:
                entry = Entry(
                    serial=asked.serial,
                    judgement=judgement,
                    board=board,
                    files=sheet.files,
                    measured=measured,
                    version=version("boardgauge"),
                    spec_given=given,
                    wiring_id=WRITTEN,
                    wiring_text=sheet.reading(one.sitting),
                    start=START,
                    lot=asked.lot,
                    operator=asked.operator,
                    plan=coverage,
                    visit=visit,
                    command=typed(asked.record),
                    note="; ".join(filter(None, (f"sitting {one.sitting.id}, by hand", asked.note))),
                )
                number = add_run(records, entry)
                click.echo(f"kept as run {number} of {board.id} {asked.serial} in {records.name}")
        except (UnusableEntry, UnusableRecords) as error:
            raise Unusable(f"--record {error}") from None


def _typed(given: str, plan_file: str, plan: Plan, board: Board, off: int) -> tuple[tuple[Sheet, ...], str, str]:
    """Ask at the terminal for what was written, and keep it, however that ends; gives the file's name and text too.

    Raises Unusable, or KeyboardInterrupt as it comes.
    """
    from boardgauge.command.sheet_asking import ask_plan
    from boardgauge.command.sheet_keeping import keep_times
    from boardgauge.plans.entering import NotAllWritten, Sheet, Written, check_sheet

    written: dict[str, dict[int, Written]] = {}
    try:
        ask_plan(plan, board, off, written)
    except (KeyboardInterrupt, EOFError) as stop:
        click.echo("", err=True)
        keep_times(given, plan_file, plan, board, off, written)
        if isinstance(stop, EOFError):
            raise Unusable("there was no more to read, and not every step is written") from None
        raise
    name, text = keep_times(given, plan_file, plan, board, off, written)
    sheets = tuple(Sheet(sitting, written[sitting.id]) for sitting in plan.sittings)
    for sheet in sheets:
        try:
            check_sheet(sheet, off)
        except NotAllWritten as error:
            raise Unusable(str(error)) from None
    return sheets, name, text

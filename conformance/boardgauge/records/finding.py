"""Find runs in the records, and give one back whole.

Law of this module: it reads and changes nothing. What is found comes in the order in which it was measured; times
inside a recording are microseconds, moments of the calendar have their zone (UTC).
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from datetime import UTC, datetime
from typing import Any

from attrs import field, frozen
from sqlalchemy import ColumnElement, Connection, Row, Select, false, func, or_, select, true

from boardgauge.judging.judgement import Verdict
from boardgauge.records.database import Records
from boardgauge.records.entry import Goal, LeftOut, PlanCoverage
from boardgauge.records.moments import without_zone
from boardgauge.records.tables import boards, deviations, files, run_files, runs, specs, timings


class NoSuchRun(Exception):
    """There is no run of this number; the message says which there are."""


@frozen
class Wanted:
    """Which runs are asked for; what is None asks for nothing. In ``serial``, ``*`` stands for anything.

    ``since`` and ``until`` are about when the recording was made: from the one on, and before the other. ``real``: runs
    that are known to be simulated are not asked for.
    """

    serial: str | None = None
    board: str | None = None
    verdict: Verdict | None = None
    lot: str | None = None
    operator: str | None = None
    since: datetime | None = None
    until: datetime | None = None
    runs: tuple[int, ...] = ()
    real: bool = False


@frozen
class RunRow:
    """One run as a list shows it. ``plan_reached`` and ``plan_missed`` count goals; None: no plan was run.

    ``simulated``: no real board stood on the rig; None: not known, since an earlier version kept the run.
    """

    number: int
    measured: datetime
    board: str
    serial: str
    lot: str | None
    verdict: Verdict
    exercised: int
    exercisable: int
    deviations: int
    plan_reached: int | None
    plan_missed: int | None
    operator: str | None
    rig: str | None
    rig_kind: str | None
    simulated: bool | None
    visit: str
    spec_digest: str
    spec_given: str
    wiring_id: str
    known_start: bool
    length: int
    version: str
    note: str
    added: datetime
    command: str = ""


@frozen
class MeasuredTiming:
    """What a run measured of a timing; times in microseconds, None where nothing was measured."""

    run: int
    timing: str
    rule: str
    clause: str | None
    shortest: int
    longest: int
    varies: bool
    ended: int
    sped_up: int
    least: int | None
    greatest: int | None


@frozen
class FileOfRun:
    """A file of a recording, without its bytes."""

    name: str
    sha256: str
    size: int


@frozen
class KeptRun:
    """One run with all that was kept of it. ``judgement`` is as ``Judgement.as_json`` gave it."""

    row: RunRow
    files: tuple[FileOfRun, ...]
    timings: tuple[MeasuredTiming, ...]
    plan: PlanCoverage | None
    spec_text: str
    wiring_text: str | None
    wiring_given: str
    start: str | None
    settings: dict[str, str]
    judgement: dict[str, Any] = field(repr=False)


def find_runs(records: Records, wanted: Wanted | None = None) -> list[RunRow]:
    """Give the runs asked for, in the order in which they were measured."""
    with records.reading() as connection:
        return [_run_row(row) for row in connection.execute(_asked(wanted or Wanted()))]


def simulated_runs(records: Records, wanted: Wanted) -> int:
    """Count the runs asked for that are known to be simulated."""
    with records.reading() as connection:
        query = _asked(wanted).where(runs.c.simulated == true()).with_only_columns(func.count()).order_by(None)
        return int(connection.execute(query).scalar_one())


def find_timings(records: Records, wanted: Wanted | None = None) -> list[tuple[RunRow, tuple[MeasuredTiming, ...]]]:
    """Give the runs asked for with what each measured."""
    with records.reading() as connection:
        asked = _asked(wanted or Wanted())
        rows = [_run_row(row) for row in connection.execute(asked)]
        numbers = asked.with_only_columns(runs.c.id).order_by(None)
        query = select(timings).where(timings.c.run_id.in_(numbers)).order_by(timings.c.run_id, timings.c.position)
        found: dict[int, list[MeasuredTiming]] = {}
        for row in connection.execute(query):
            found.setdefault(row.run_id, []).append(_timing(row))
        return [(row, tuple(found.get(row.number, ()))) for row in rows]


def find_run(records: Records, number: int) -> KeptRun:
    """Give one run whole. Raises NoSuchRun."""
    with records.reading() as connection:
        row = connection.execute(_asked(Wanted(runs=(number,)))).one_or_none()
        if row is None:
            last = connection.execute(select(runs.c.id).order_by(runs.c.id.desc()).limit(1)).scalar()
            there = "it holds no runs yet" if last is None else f"the runs in it go up to {last}"
            raise NoSuchRun(f"{records.name}: there is no run {number}; {there}")
        more = connection.execute(
            select(runs, specs.c.text).join(specs, runs.c.spec_digest == specs.c.digest).where(runs.c.id == number)
        ).one()
        query = select(timings).where(timings.c.run_id == number).order_by(timings.c.position)
        return KeptRun(
            _run_row(row),
            _files(connection, number),
            tuple(_timing(one) for one in connection.execute(query)),
            None if more.plan is None else plan_of(json.loads(more.plan)),
            more.text,
            more.wiring_text,
            more.wiring_given,
            more.start,
            json.loads(more.settings),
            json.loads(more.judgement),
        )


def plans_of_runs(records: Records, numbers: Iterable[int]) -> dict[int, PlanCoverage]:
    """Give the coverage of the runs among these that followed a plan."""
    wanted = set(numbers)
    with records.reading() as connection:
        query = select(runs.c.id, runs.c.plan).where(runs.c.plan.is_not(None))
        return {row.id: plan_of(json.loads(row.plan)) for row in connection.execute(query) if row.id in wanted}


def plan_of(data: dict[str, Any]) -> PlanCoverage:
    """Give a plan's coverage back from what was kept of it."""
    return PlanCoverage(
        data["title"],
        data["digest"],
        tuple(Goal(**goal) for goal in data["reached"]),
        tuple(Goal(**goal) for goal in data["missed"]),
        tuple(LeftOut(**one) for one in data["left_out"]),
    )


def _files(connection: Connection, number: int) -> tuple[FileOfRun, ...]:
    query = (
        select(run_files.c.name, run_files.c.sha256, files.c.size)
        .outerjoin(files, run_files.c.sha256 == files.c.sha256)
        .where(run_files.c.run_id == number)
        .order_by(run_files.c.position)
    )
    return tuple(FileOfRun(row.name, row.sha256, row.size or 0) for row in connection.execute(query))


def _asked(wanted: Wanted) -> Select[Any]:
    told = select(deviations.c.run_id, func.count().label("number")).group_by(deviations.c.run_id).subquery()
    query = (
        select(
            *(column for column in runs.c if column.name not in {"judgement", "plan", "wiring_text", "settings"}),
            boards.c.board.label("board"),
            boards.c.serial.label("serial"),
            boards.c.lot.label("lot"),
            func.coalesce(told.c.number, 0).label("deviations"),
        )
        .join(boards, runs.c.board_id == boards.c.id)
        .outerjoin(told, told.c.run_id == runs.c.id)
    )
    if wanted.serial is not None:
        query = query.where(_is_serial(wanted.serial))
    for column, value in (
        (boards.c.board, wanted.board),
        (runs.c.verdict, wanted.verdict),
        (boards.c.lot, wanted.lot),
        (runs.c.operator, wanted.operator),
    ):
        if value is not None:
            query = query.where(column == value)
    if wanted.since is not None:
        query = query.where(runs.c.measured_at >= without_zone(wanted.since))
    if wanted.until is not None:
        query = query.where(runs.c.measured_at < without_zone(wanted.until))
    if wanted.real:
        query = query.where(or_(runs.c.simulated.is_(None), runs.c.simulated == false()))
    if wanted.runs:
        query = query.where(runs.c.id.in_(wanted.runs))
    return query.order_by(runs.c.measured_at, runs.c.id)


def _is_serial(asked: str) -> ColumnElement[bool]:
    if "*" not in asked:
        # No pattern, since some databases take capital and small letters of one for the same.
        return boards.c.serial == asked
    plain = asked.replace("\\", "\\\\").replace("%", "\\%").replace("_", "\\_")
    return boards.c.serial.like(plain.replace("*", "%"), escape="\\")


def _run_row(row: Row[Any]) -> RunRow:
    return RunRow(
        number=row.id,
        measured=row.measured_at.replace(tzinfo=UTC),
        board=row.board,
        serial=row.serial,
        lot=row.lot,
        verdict=row.verdict,
        exercised=row.exercised,
        exercisable=row.exercisable,
        deviations=row.deviations,
        plan_reached=row.plan_reached,
        plan_missed=row.plan_missed,
        operator=row.operator,
        rig=row.rig,
        rig_kind=row.rig_kind,
        simulated=row.simulated,
        visit=row.visit,
        spec_digest=row.spec_digest,
        spec_given=row.spec_given,
        wiring_id=row.wiring_id,
        known_start=row.known_start,
        length=row.length_us,
        version=row.version,
        note=row.note,
        added=row.added_at.replace(tzinfo=UTC),
        command=row.command,
    )


def _timing(row: Row[Any]) -> MeasuredTiming:
    return MeasuredTiming(
        row.run_id,
        row.timing,
        row.rule,
        row.clause,
        row.shortest_us,
        row.longest_us,
        row.varies,
        row.ended,
        row.sped_up,
        row.least_us,
        row.greatest_us,
    )

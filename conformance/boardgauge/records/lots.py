"""What the boards of the records say together: each timing over all boards, over time and from lot to lot.

Law of this module: one time a board, and simulated boards only where they are asked for. Where a board was measured
more than once, its last run that measured the timing counts. Boards whose run deviated in a timing without giving a
time for it are counted and told, since figures of the others alone look better than the boards are.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from attrs import define, evolve, field, frozen
from sqlalchemy import select

from boardgauge.judging.judgement import Verdict, worst
from boardgauge.records.capability import Capability, capability
from boardgauge.records.database import Records
from boardgauge.records.drift import Drift, Trend, drift_of, told, trend_of
from boardgauge.records.entry import any_simulated, together
from boardgauge.records.finding import MeasuredTiming, RunRow, Wanted, find_runs, find_timings, plans_of_runs
from boardgauge.records.spread import Interval, Spread, spread_of
from boardgauge.records.tables import deviations

SECOND = 1_000_000


@frozen
class BoardTime:
    """What a timing took on one board: at least ``time.low`` seconds and at most ``time.high``.

    ``simulated``: no real board was there; None: not known.
    """

    board: str
    serial: str
    lot: str | None
    run: int
    measured: datetime
    time: Interval
    simulated: bool | None = False


@frozen
class TimingFigures:
    """One timing of one board kind over many boards.

    ``varies``: its limits hang on a setting, so it is held against none. ``capability``, ``trend`` and ``drift`` are
    None where there are too few boards. ``deviated`` counts boards that deviated in its rule and gave no time.
    ``moves``: the trend is one that the report tells; ``drifts``: the same of the lots.
    """

    board: str
    timing: str
    clause: str | None
    limits: Interval
    varies: bool
    times: tuple[BoardTime, ...]
    deviated: int
    spread: Spread | None
    capability: Capability | None
    trend: Trend | None
    drift: Drift | None
    moves: bool = False
    drifts: bool = False

    @property
    def values(self) -> list[Interval]:
        """The times alone."""
        return [one.time for one in self.times]


@frozen
class BoardState:
    """What a board's last visit came to: the worst verdict of its runs, and whether a plan reached all its goals.

    ``made_good``: an earlier visit deviated and the last one does not: it was mended, or measured wrongly before.
    ``simulated``: no real board was there at the last visit; None: not known.
    """

    board: str
    serial: str
    lot: str | None
    verdict: Verdict
    first_measured: datetime
    plan_complete: bool
    made_good: bool = False
    simulated: bool | None = False


def figures(records: Records, wanted: Wanted, *, simulated: bool = False) -> list[TimingFigures]:
    """Give the figures of each timing of the runs asked for; with ``simulated`` those of simulated boards too."""
    runs = find_timings(records, evolve(wanted, real=not simulated))
    broken = _deviating(records, [row for row, _ in runs])
    found: dict[tuple[str, str], _Gathered] = {}
    for row, measured in runs:
        for one in measured:
            gathered = found.setdefault((row.board, one.timing), _Gathered(one))
            gathered.take(row, one, (row.number, one.rule) in broken)
    return _movements([_of_timing(board, g) for (board, _), g in found.items() if g.times or g.deviated])


@define
class _Gathered:
    """A timing's times by board: of each its last one, or that it deviated without one."""

    last: MeasuredTiming
    times: dict[str, BoardTime] = field(factory=dict)
    deviated: set[str] = field(factory=set)

    def take(self, row: RunRow, one: MeasuredTiming, broken: bool) -> None:
        self.last = one
        if one.least is not None and one.greatest is not None:
            time = Interval(one.least / SECOND, one.greatest / SECOND)
            self.deviated.discard(row.serial)
            # Taken out first, so that boards stand in the order of their last measuring.
            self.times.pop(row.serial, None)
            found = BoardTime(row.board, row.serial, row.lot, row.number, row.measured, time, row.simulated)
            self.times[row.serial] = found
        elif broken:
            self.times.pop(row.serial, None)
            self.deviated.add(row.serial)


def board_states(records: Records, wanted: Wanted, *, simulated: bool = False) -> list[BoardState]:
    """Give what the last visit of each board came to, boards in the order in which they were first measured.

    Visits of simulated boards count only with ``simulated``.
    """
    boards: dict[tuple[str, str], list[RunRow]] = {}
    rows = find_runs(records, evolve(wanted, real=not simulated))
    plans = plans_of_runs(records, [row.number for row in rows if row.plan_reached is not None])
    for row in rows:
        boards.setdefault((row.board, row.serial), []).append(row)
    states = []
    for (board, serial), of_board in boards.items():
        last = last_visit(of_board)
        verdict = worst(run.verdict for run in last)
        covered = together(plans[run.number] for run in last if run.number in plans)
        states.append(
            BoardState(
                board,
                serial,
                last[0].lot,
                verdict,
                of_board[0].measured,
                bool(covered) and all(plan.complete for plan in covered),
                verdict != "deviates" and any(run.verdict == "deviates" for run in of_board),
                any_simulated(run.simulated for run in last),
            )
        )
    return states


def last_visit(rows: Sequence[RunRow]) -> list[RunRow]:
    """Give the runs of one board's last visit: that of the run which was measured last (of several, put in last)."""
    last = max(rows, key=lambda run: (run.measured, run.number))
    return [row for row in rows if row.visit == last.visit]


def _of_timing(board: str, gathered: _Gathered) -> TimingFigures:
    one, times = gathered.last, tuple(gathered.times.values())
    limits = Interval(one.shortest / SECOND, one.longest / SECOND)
    values = [time.time for time in times]
    lots: dict[str, list[Interval]] = {}
    for time in times:
        if time.lot is not None:
            lots.setdefault(time.lot, []).append(time.time)
    return TimingFigures(
        board,
        one.timing,
        one.clause,
        limits,
        one.varies,
        times,
        len(gathered.deviated),
        spread_of(values) if len(values) > 1 else None,
        None if one.varies else capability(values, limits),
        # What hangs on a setting differs from board to board for a reason.
        None if one.varies else trend_of([(time.measured, time.time) for time in times]),
        None if one.varies else drift_of(lots),
    )


def _movements(made: list[TimingFigures]) -> list[TimingFigures]:
    names = {f"{one.board} {one.timing}": one for one in made}
    # One family of tests, so that the whole report gives no more false alarms than said.
    p_values = {("trend", name): one.trend.p for name, one in names.items() if one.trend is not None}
    p_values |= {("drift", name): one.drift.p for name, one in names.items() if one.drift is not None}
    moving = told({f"{kind} {name}": p for (kind, name), p in p_values.items()})
    return [
        evolve(
            one,
            moves=f"trend {name}" in moving and one.trend is not None and one.trend.beyond,
            drifts=f"drift {name}" in moving and one.drift is not None and one.drift.beyond,
        )
        for name, one in names.items()
    ]


def _deviating(records: Records, rows: Sequence[RunRow]) -> set[tuple[int, str]]:
    """Give the runs that deviated, each with the rule that was broken."""
    numbers = {row.number for row in rows if row.deviations}
    with records.reading() as connection:
        query = select(deviations.c.run_id, deviations.c.rule)
        return {(row.run_id, row.rule) for row in connection.execute(query) if row.run_id in numbers}

"""Strategies for what is done to a board: changes of inputs, waits, settings, whole scenarios.

Law of this module: a wait is most telling at the limits of a timing, so those are what is drawn; sensors are brought to
where their accuracy leaves no doubt.
"""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from boardgauge.language import in_unit
from boardgauge.language.expressions import Comparison
from boardgauge.language.model import Board, InputKind
from boardgauge.language.quantities import MS, Duration, H, S
from boardgauge.language.units import difference_in_unit
from boardgauge.machine.compile import compile_board
from boardgauge.machine.input_ways import readings_of
from boardgauge.machine.run import Value
from boardgauge.machine.scenario import Power, Scenario, ScenarioStep, SetInputs, Wait, with_waits_joined
from boardgauge.machine.table import Machine
from hypothesis import strategies as st

Change = tuple[str, bool | int | float]
LONGEST = H
_ROUND = 10 * MS


def telling_waits(board: Board) -> tuple[int, ...]:
    """Give the waits that tell boards apart, in microseconds, the shortest first.

    For each time of the spec: clearly before its shortest length, and clearly after its longest; for each filter
    likewise; and a second. Waits of more than an hour (the window of a count, mostly) are left out.
    """
    found = {S}
    for duration in _durations(board, ("requirement", "not judged")):
        found |= {wait for wait in _around(duration) if wait <= LONGEST}
    for row in board.inputs.values():
        if row.filter.greatest:
            found |= {max(MS, row.filter.least // 2), row.filter.greatest + max(MS, row.responds_within)}
    return tuple(sorted(found))


def last_wait(board: Board) -> int:
    """Give the wait after which whatever was set going has shown: as long as the longest time, an hour at most.

    Windows of counts do not matter here, since nothing shows as they end.
    """
    rows = _durations(board, ("requirement", "not judged", "window"))
    return min(LONGEST, max((max(_around(duration)) for duration in rows), default=S))


def _durations(board: Board, without: tuple[str, ...]) -> list[Duration]:
    timings = compile_board(board).timings
    return [duration for timing in timings if timing.role not in without for duration in timing.choices]


def after(board: Board, name: str) -> int:
    """Give how long an input is left alone after a change.

    A sensor, until the board has seen it: what measures something moves slowly, and a reading for a moment only says
    nothing about a firmware. Another input that nothing is filtered of, for a tenth of a second: no contact is faster,
    though the spec would have its shortest pulse seen. One with a filter not at all: what is too short is ignored.
    """
    row = board.inputs[name]
    if row.kind is InputKind.SENSOR:
        return row.filter.greatest + row.responds_within
    return 0 if row.filter.greatest else 100 * MS


def _around(duration: Duration) -> set[int]:
    """Give a wait well inside a timing, one just before its end may come, and one just after it must have come."""
    least, most = duration.shortest, duration.longest
    fine = _ROUND if least > S else MS
    margin = max(fine, (most - least) // 20)
    before = [max(fine, row // fine * fine) for row in (least // 2, least - margin)]
    return {*before, -(-(most + margin) // fine) * fine}


def waits(board: Board) -> st.SearchStrategy[int]:
    """Draw waits, in microseconds; they shrink to the shortest."""
    return st.sampled_from(telling_waits(board))


def changes(board: Board, inputs: Iterable[str] | None = None) -> st.SearchStrategy[Change]:
    """Draw an input (one of those named, else any) and what it is brought to."""
    machine = compile_board(board)
    rows: list[Change] = []
    for name, row in board.inputs.items():
        if inputs is not None and name not in inputs:
            continue
        if row.kind is InputKind.SENSOR:
            rows += [(name, _plain(reading)) for reading in _readings(board, machine, name)]
        else:
            rest = next(level.at_rest for level in machine.levels if level.input == name)
            rows += [(name, not rest), (name, rest)]
    return st.sampled_from(rows) if rows else st.nothing()


def _plain(number: Fraction) -> int | float:
    """Give a number as a person would write it into a test."""
    return number.numerator if number.denominator == 1 else float(number)


def _readings(board: Board, machine: Machine, name: str) -> list[Fraction]:
    """Give readings of a sensor on all sides of its limits, as far from each as its accuracy and more."""
    rows = [level for level in machine.levels if level.input == name]
    if not rows:
        return [Fraction(0)]
    row = board.inputs[name]
    off = Fraction(0) if row.accuracy is None else difference_in_unit(row.accuracy, row.unit or "").number
    candidates = [q.number for q in readings_of(board, rows)]
    limits = [level.comparison for level in rows if level.comparison is not None]
    bounds = sorted({n for c in limits for n in _numbers(c, row.unit or "")})
    candidates += [bounds[0] - off - 5, bounds[-1] + off + 5]
    clear = [n for n in candidates if all(abs(n - bound) > off for bound in bounds)]
    return sorted({Fraction(round(n * 10), 10) for n in clear}, key=lambda n: (abs(n), n))


def _numbers(comparison: Comparison, unit: str) -> list[Fraction]:
    return [in_unit(q, unit).number for q in (comparison.limit, comparison.until) if q is not None]


def positions(board: Board) -> st.SearchStrategy[dict[str, str]]:
    """Draw where the settings stand that a person chooses; they shrink to where they left the factory."""
    rows = {}
    for name, row in board.settings.items():
        names = [p.name for p in row.positions if p.name is not None]
        if names:
            names.sort(key=lambda position: position != row.factory)
            rows[name] = st.sampled_from(names)
    return st.fixed_dictionaries(rows)


def scenarios(board: Board, max_steps: int = 20) -> st.SearchStrategy[Scenario]:
    """Draw scenarios: the supply comes on, inputs change, times go by, the supply is lost now and then.

    Each ends with a wait in which what was set going can show.
    """
    last = last_wait(board)
    step: st.SearchStrategy[tuple[ScenarioStep, ...]] = st.one_of(
        changes(board).map(lambda change: _changed(board, change)),
        waits(board).map(lambda time: (Wait(time),)),
        # A board reads its inputs as the supply comes; what changes in the microseconds after that proves nothing.
        st.sampled_from([(Power(True), Wait(max(100 * MS, board.responds_within))), (Power(False), Wait(100 * MS))]),
    )

    def put_together(steps: list[tuple[ScenarioStep, ...]], settings: dict[str, str]) -> Scenario:
        start = {name: first_reading(board, name) for name, row in board.inputs.items() if row.unit is not None}
        told = (Power(True), Wait(S), *(one for some in steps for one in some), Wait(last))
        return Scenario(board.id, "drawn", with_waits_joined(told), start, settings)

    return st.builds(put_together, st.lists(step, max_size=max_steps), positions(board))


def _changed(board: Board, change: Change) -> tuple[ScenarioStep, ...]:
    name, said = change
    value: Value = said if isinstance(said, bool) else Fraction(str(said))
    return (SetInputs({name: value}), Wait(after(board, name)))


def first_reading(board: Board, name: str) -> Fraction:
    """Give what a sensor reads to begin with: the nearest to nought that is clear of its limits."""
    return _readings(board, compile_board(board), name)[0]

"""What a simulated board takes in of its input terminals, and when.

Law of this module: what may be taken in is said by ``inputs``; here one way is chosen. Each change is taken in once,
from its own time at the terminal to ``responds_within`` later, in order for each input; changes of one moment together.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from fractions import Fraction

from attrs import define, evolve

from boardgauge.language import in_unit
from boardgauge.language.expressions import Comparator, Comparison
from boardgauge.language.model import InputKind
from boardgauge.language.quantities import TimeRange
from boardgauge.language.units import difference_in_unit
from boardgauge.machine.chance import Chance
from boardgauge.machine.inputs import Change, RawEdge, filtered, moments
from boardgauge.machine.run import Value
from boardgauge.machine.table import Level, Machine

_FAR = 1 << 62


class MissingValue(ValueError):
    """A sensor has no value when the board is switched on."""


class TooShort(ValueError):
    """An input that the board has acted on changes back sooner than any change that counts may."""


@define(eq=False)
class Arrival:
    """A change on its way in: at the terminal at ``raw``, taken in at ``act``, together with all of its ``batch``."""

    level: int
    value: bool
    raw: int
    act: int = 0
    batch: object = None


@define
class _Limit:
    """A comparison as this board makes it: the limits with the error of its sensor."""

    op: Comparator
    limit: Fraction
    until_op: Comparator | None
    until: Fraction | None

    def holds(self, value: Fraction, held: bool) -> bool:
        if held and self.until_op is not None and self.until is not None:
            return not _compare(value, self.until_op, self.until)
        return _compare(value, self.op, self.limit)


def _compare(value: Fraction, op: Comparator, limit: Fraction) -> bool:
    match op:
        case "<":
            return value < limit
        case "<=":
            return value <= limit
        case ">":
            return value > limit
        case ">=":
            return value >= limit


class Terminals:
    """The input side of one simulated board."""

    def __init__(self, machine: Machine, chance: Chance) -> None:
        self.machine = machine
        self._chance = chance
        self._limits = [None if level.comparison is None else self._limit(level) for level in machine.levels]
        self.levels_of: dict[str, list[Level]] = {name: [] for name in machine.board.inputs}
        for level in machine.levels:
            self.levels_of[level.input].append(level)

    def _limit(self, level: Level) -> _Limit:
        comparison, row = level.comparison, self.machine.board.inputs[level.input]
        assert isinstance(comparison, Comparison)
        assert row.unit is not None
        off = Fraction(0)
        if row.accuracy is not None and self._chance.timings == "random":
            width = difference_in_unit(row.accuracy, row.unit).number
            off = self._chance.part(width, width)
        until = None if comparison.until is None else in_unit(comparison.until, row.unit).number + off
        return _Limit(comparison.op, in_unit(comparison.limit, row.unit).number + off, comparison.until_op, until)

    def responds_within(self, level: int) -> int:
        """Give how late the board may take in a change of this level; microseconds."""
        return self.machine.board.inputs[self.machine.levels[level].input].responds_within

    def at_rest(self, name: str) -> Value | None:
        """Give the value of an input that nothing was said about; None for a sensor."""
        if self.machine.board.inputs[name].kind is InputKind.SENSOR:
            return None
        return self.levels_of[name][0].at_rest

    def level(self, level: Level, value: Value | None, held: bool) -> bool:
        """Give a level for a value at the terminal; ``held`` is the level before (for the limit where it lets go)."""
        limit = self._limits[level.index]
        if value is None:
            raise MissingValue(f"{level.input} is a sensor and has no value; say what it measures from the start")
        if limit is None:
            return bool(value)
        return limit.holds(Fraction(value), held)

    def level_edges(self, level: Level, before: bool, edges: Iterable[tuple[int, Value]]) -> list[tuple[int, bool]]:
        """Give the changes of a level that follow from the changes of its input."""
        found = []
        for time, value in edges:
            now = self.level(level, value, before)
            if now != before:
                found.append((time, now))
            before = now
        return found

    # -- which changes are taken in ------------------------------------------------------------------------------

    def seen(self, level: int, before: bool, edges: Sequence[tuple[int, bool]]) -> list[Arrival]:
        """Choose which changes of a level the board takes in; none of them has an act time yet."""
        ignores = self.machine.board.inputs[self.machine.levels[level].input].filter
        raw = [RawEdge(time, time, value) for time, value in edges]
        changes = self._settled(level, before, filtered(level, before, raw, ignores, _FAR), ignores)
        found: list[Arrival] = []
        index = 0
        while index < len(changes):
            change = changes[index]
            if change.value == before:
                index += 1
                continue
            following = changes[index + 1] if index + 1 < len(changes) else None
            if change.droppable and following is not None:
                lasted = following.earliest - change.latest
                if lasted <= ignores.greatest and not self._chance.sees(lasted, ignores):
                    index += 2
                    continue
            before = bool(change.value)
            found.append(Arrival(level, before, change.earliest))
            index += 1
        return found

    def _settled(self, level: int, before: bool, changes: Sequence[Change], ignores: TimeRange) -> list[Change]:
        """Decide what a contact that bounces amounts to: one change, a pulse, or nothing."""
        found: list[Change] = []
        value = before
        index = 0
        while index < len(changes):
            change = changes[index]
            if change.value is None:
                rest = changes[index + 1]
                if rest.value != value:
                    time = self._chance.edge(rest.earliest, rest.latest)
                    found.append(evolve(rest, earliest=time, latest=time))
                elif self._chance.sees(rest.latest - change.earliest, ignores):
                    found.append(Change(level, not value, change.earliest, change.earliest))
                    found.append(evolve(rest, earliest=rest.latest))
                index += 2
                value = bool(rest.value)
                continue
            time = self._chance.edge(change.earliest, change.latest)
            found.append(evolve(change, earliest=time, latest=time))
            value = change.value
            index += 1
        return found

    # -- when they are taken in ----------------------------------------------------------------------------------

    def timed(self, arrivals: Iterable[Arrival], now: int, last_act: Mapping[str, int]) -> list[Arrival]:
        """Choose when the changes are taken in, none before ``now``; gives them in the order of the terminals."""
        machine = self.machine
        ordered = sorted(arrivals, key=lambda arrival: (arrival.raw, arrival.level))
        changes = [Change(a.level, a.value, a.raw, a.raw) for a in ordered]
        batches: dict[object, list[Arrival]] = {}
        for arrival, change in zip(ordered, moments(changes, machine.board.same_moment), strict=True):
            # A value that passes several limits at once is one change of its sensor.
            key = change.moment if change.moment >= 0 else (machine.levels[arrival.level].input, arrival.raw)
            arrival.batch = (now, key)
            batches.setdefault(arrival.batch, []).append(arrival)
        latest = dict(last_act)
        for batch in batches.values():
            first = max(now, *(a.raw for a in batch))
            last = min(a.raw + self.responds_within(a.level) for a in batch)
            act = self._chance.between(first, last)
            for arrival in batch:
                act = max(act, latest.get(machine.levels[arrival.level].input, -1) + 1)
            for arrival in batch:
                arrival.act = act
                latest[machine.levels[arrival.level].input] = act
        return ordered

"""The levels of a recording over time: what an input may be at a moment, and what conditions on inputs are.

Law of this module: exact about what is not certain. A change is not certain from its earliest until it must have come,
and a condition is in three values what its levels make it.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

import numpy as np
from attrs import field, frozen

from boardgauge.judging.clocks import LONG
from boardgauge.judging.columns import Changes
from boardgauge.language import expressions as ex
from boardgauge.machine.table import Level
from boardgauge.traces.wave import truth

Stretch = tuple[int, int, bool | None]
"""From, to, and the level: None where it is not certain."""


class _Changed(NamedTuple):
    """The changes of one level, its value at the start as the first: when, to what, and their numbers."""

    earliest: list[int]
    latest: list[int]
    values: list[bool | None]
    numbers: tuple[int, ...]


@frozen
class Levels:
    """The levels of a recording over time, for conditions on nothing but inputs; exact about what is not certain.

    The stretches of a level may overlap: while two of them differ, the level is not certain.
    """

    _initial: tuple[bool | None, ...]
    _changes: Changes
    _delays: tuple[int, ...]
    _by_input: Mapping[str, int] = field(factory=dict)
    _by_comparison: Mapping[ex.Comparison, int] = field(factory=dict)
    _changed: dict[int, _Changed] = field(factory=dict, eq=False)
    _certain: dict[int, tuple[list[int], list[bool | None]]] = field(factory=dict, eq=False)

    @classmethod
    def of(
        cls, levels: Sequence[Level], initial: Sequence[bool | None], changes: Changes, delays: Sequence[int]
    ) -> Levels:
        """Lay out every level, as it is asked for."""
        return cls(
            tuple(initial),
            changes,
            tuple(delays),
            {level.input: level.index for level in levels if level.comparison is None},
            {level.comparison: level.index for level in levels if level.comparison is not None},
        )

    def stretches(self, index: int) -> list[Stretch]:
        """Give the stretches of a level; a change is not certain from its earliest until it must have been acted on."""
        row: list[Stretch] = []
        since, now = -LONG, self._initial[index]
        for change in self._changes.taken(self._changes.level == index):
            row.append((since, change.earliest, now))
            since = change.latest + self._delays[index]
            row.append((change.earliest, since, None))
            now = None if change.droppable else change.value
        row.append((since, LONG, now))
        return row

    def last(self, index: int, time: int) -> bool | None:
        """Give what a level became by the last of its changes that may have come by a time.

        None where that is not known, or where it may not have been taken in at all.
        """
        row = self._changed.get(index) or self._of(index)
        return row.values[bisect_right(row.earliest, time) - 1]

    def came(self, index: int, time: int) -> int | None:
        """Give when the last change of a level that may have come by a time came at the latest; -LONG if none did.

        None where the level is not known then, other than that it may have been seen or not.
        """
        row = self._changed.get(index) or self._of(index)
        place = bisect_right(row.earliest, time) - 1
        number = row.numbers[place]
        unknown = row.values[place] is None and (number < 0 or not self._changes.droppable[number])
        return None if unknown else row.latest[place]

    def ways(self, index: int, earliest: int, latest: int) -> tuple[tuple[bool | None, tuple[int, ...]], ...]:
        """Give what a level may be at a moment in [earliest, latest], each with the changes (numbers) still to come.

        The first is what ``last`` gives; the others leave out changes that may have come after the moment.
        """
        row = self._changed.get(index) or self._of(index)
        last = place = bisect_right(row.earliest, latest) - 1
        found: list[tuple[bool | None, tuple[int, ...]]] = [(row.values[place], ())]
        while place > 0 and row.latest[place] > earliest:
            place -= 1
            found.append((row.values[place], row.numbers[place + 1 : last + 1]))
        return tuple(found)

    def _of(self, index: int) -> _Changed:
        own = np.flatnonzero(self._changes.level == index)
        values = [
            None if droppable else truth(value)
            for value, droppable in zip(
                self._changes.value[own].tolist(), self._changes.droppable[own].tolist(), strict=True
            )
        ]
        found = self._changed[index] = _Changed(
            [-LONG, *self._changes.earliest[own].tolist()],
            [-LONG, *self._changes.latest[own].tolist()],
            [self._initial[index], *values],
            (-1, *own.tolist()),
        )
        return found

    def truth(self, condition: ex.Condition, time: int) -> bool | None:
        """Give whether a condition on inputs holds just after a time: None if it is not certain (Kleene)."""
        match condition:
            case ex.Name(name=name):
                return self._level(self._by_input[name], time)
            case ex.InState(name=name, state=state):
                value = self._level(self._by_input[name], time)
                return value if value is None else value == (state in {"on", "closed", "fitted", "pressed"})
            case ex.Comparison():
                return self._level(self._by_comparison[condition], time)
            case ex.Not(item=item):
                inner = self.truth(item, time)
                return None if inner is None else not inner
            case ex.And(items=items):
                found = [self.truth(item, time) for item in items]
                return False if False in found else None if None in found else True
            case ex.Or(items=items):
                found = [self.truth(item, time) for item in items]
                return True if True in found else None if None in found else False
        return None

    def _level(self, index: int, time: int) -> bool | None:
        times, values = self._certain.get(index) or self._overlaid(index)
        return values[bisect_right(times, time) - 1] if time >= times[0] else None

    def _overlaid(self, index: int) -> tuple[list[int], list[bool | None]]:
        """Lay the stretches of a level over each other: from each time on, the one value all agree on, or None."""
        borders: list[tuple[int, int, bool | None]] = []
        for since, until, value in self.stretches(index):
            if since < until:
                borders += [(since, 1, value), (until, -1, value)]
        borders.sort(key=lambda border: border[0])
        times, values = list[int](), list[bool | None]()
        standing: dict[bool | None, int] = {True: 0, False: 0, None: 0}
        for time, step, value in borders:
            standing[value] += step
            found = [value for value, number in standing.items() if number]
            level = found[0] if len(found) == 1 else None
            if times and times[-1] == time:
                values[-1] = level
            else:
                times.append(time)
                values.append(level)
        self._certain[index] = times, values
        return times, values

    def borders(self, conditions: Sequence[ex.Condition]) -> list[int]:
        """Give every time at which the certainty of some level changes that these conditions look at."""
        found = {-LONG, LONG}
        for index in {index for condition in conditions for index in self._indices(condition)}:
            self._level(index, 0)
            found.update(self._certain[index][0])
        return sorted(found)

    def _indices(self, condition: ex.Condition) -> Iterator[int]:
        for item in ex.walk(condition):
            if isinstance(item, ex.Name | ex.InState) and item.name in self._by_input:
                yield self._by_input[item.name]
            elif isinstance(item, ex.Comparison):
                yield self._by_comparison[item]

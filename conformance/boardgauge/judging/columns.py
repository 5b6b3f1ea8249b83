"""The changes and the events of a trace as columns; one of them becomes an object when somebody asks for it.

Law of this module: a column holds what the object would say, value for value. Of a long trace most are never asked for.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from enum import IntEnum
from typing import Any, overload

import numpy as np
import numpy.typing as npt
from attrs import frozen

from boardgauge.machine.inputs import Change
from boardgauge.traces.recording import Times
from boardgauge.traces.wave import Booleans, Truths, truth

Numbers = npt.NDArray[np.int64]


class Kind(IntEnum):
    """What an event is about; at one moment they come in this order."""

    POWER = 0
    INPUT = 1
    OUTPUT = 2
    END = 3


@frozen
class Happening:
    """One event of the trace: known to lie in [earliest, latest], and handled at ``latest`` (inputs at ``earliest``).

    ``which``: for INPUT the number of the change, for OUTPUT the index of the output. ``value``: the new value of an
    output or of the supply. ``maybe``: the board may have ridden through this change of the supply.
    """

    time: int
    kind: Kind
    which: int
    earliest: int
    latest: int
    value: bool | None = None
    maybe: bool = False


@frozen(eq=False)
class Changes(Sequence[Change]):
    """Input changes, in order of time."""

    level: Numbers
    value: Truths
    earliest: Times
    latest: Times
    droppable: Booleans
    hidden: Booleans
    moment: Numbers

    @classmethod
    def of(cls, changes: Sequence[Change]) -> Changes:
        """Put changes into columns."""
        return cls(
            np.array([c.level for c in changes], dtype=np.int64),
            np.array([-1 if c.value is None else c.value for c in changes], dtype=np.int8),
            np.array([c.earliest for c in changes], dtype=np.int64),
            np.array([c.latest for c in changes], dtype=np.int64),
            np.array([c.droppable for c in changes], dtype=bool),
            np.array([c.hidden for c in changes], dtype=bool),
            np.array([c.moment for c in changes], dtype=np.int64),
        )

    @classmethod
    def plain(cls, level: Numbers, value: Truths, earliest: Times, latest: Times, droppable: Booleans) -> Changes:
        """Give changes that were seen and that are no moment together."""
        none = np.zeros(len(level), dtype=bool)
        return cls(level.astype(np.int64), value, earliest, latest, droppable, none, np.full(len(level), -1))

    @classmethod
    def joined(cls, parts: Sequence[Changes]) -> Changes:
        """Put columns one behind the other."""
        rows = zip(*(part.columns() for part in (*parts, cls.of(()))), strict=True)
        return cls(*(np.concatenate(row) for row in rows))

    def columns(self) -> tuple[npt.NDArray[Any], ...]:
        """Give the columns in the order of the fields."""
        return self.level, self.value, self.earliest, self.latest, self.droppable, self.hidden, self.moment

    def taken(self, order: npt.NDArray[np.intp] | Booleans) -> Changes:
        """Give these of them, in this order."""
        return Changes(*(column[order] for column in self.columns()))

    def __len__(self) -> int:
        return len(self.level)

    @overload
    def __getitem__(self, index: int) -> Change: ...
    @overload
    def __getitem__(self, index: slice) -> Sequence[Change]: ...
    def __getitem__(self, index: int | slice) -> Change | Sequence[Change]:
        if isinstance(index, slice):
            return [self[i] for i in range(*index.indices(len(self)))]
        return Change(
            int(self.level[index]),
            truth(int(self.value[index])),
            int(self.earliest[index]),
            int(self.latest[index]),
            bool(self.droppable[index]),
            int(self.moment[index]),
            bool(self.hidden[index]),
        )

    def __iter__(self) -> Iterator[Change]:
        rows = zip(*(column.tolist() for column in self.columns()), strict=True)
        for level, value, early, late, droppable, hidden, moment in rows:
            yield Change(level, truth(value), early, late, droppable, moment, hidden)


@frozen(eq=False)
class Happenings(Sequence[Happening]):
    """The events of a trace in order."""

    kind: Numbers
    which: Numbers
    earliest: Times
    latest: Times
    value: Truths
    maybe: Booleans

    @classmethod
    def of(cls, supply: Sequence[Happening], changes: Changes, shown: Sequence[Shown], end: int) -> Happenings:
        """Put the changes of the supply, of the inputs and of the outputs in order, and the end of the trace last."""
        outputs, count = list(shown), len(changes)
        last = Happening(end, Kind.END, 0, end, end)
        lengths = [len(one.values) for one in outputs]
        total = sum(lengths)
        few = [*supply, last]
        kind = np.concatenate(
            ([h.kind for h in supply], np.full(count, Kind.INPUT), np.full(total, Kind.OUTPUT), [Kind.END])
        ).astype(np.int64)
        which = np.concatenate(
            ([h.which for h in supply], np.arange(count), np.repeat([one.output for one in outputs], lengths), [0])
        ).astype(np.int64)
        early = [np.array([h.earliest for h in supply], dtype=np.int64), changes.earliest]
        late = [np.array([h.latest for h in supply], dtype=np.int64), changes.latest]
        value = [np.array([-1 if h.value is None else h.value for h in supply], dtype=np.int8), changes.value]
        early += [*(one.earliest for one in outputs), np.array([end])]
        late += [*(one.latest for one in outputs), np.array([end])]
        value += [*(one.values for one in outputs), np.array([-1], dtype=np.int8)]
        maybe = np.zeros(len(kind), dtype=bool)
        maybe[: len(supply)] = [h.maybe for h in few[:-1]]
        earliest, latest = np.concatenate(early).astype(np.int64), np.concatenate(late).astype(np.int64)
        time = np.where(kind == Kind.INPUT, earliest, latest)
        order = np.lexsort((which[:-1], latest[:-1], kind[:-1], time[:-1]))
        order = np.append(order, len(kind) - 1)
        values = np.concatenate(value).astype(np.int8)
        return cls(kind[order], which[order], earliest[order], latest[order], values[order], maybe[order])

    def __len__(self) -> int:
        return len(self.kind)

    @overload
    def __getitem__(self, index: int) -> Happening: ...
    @overload
    def __getitem__(self, index: slice) -> Sequence[Happening]: ...
    def __getitem__(self, index: int | slice) -> Happening | Sequence[Happening]:
        if isinstance(index, slice):
            return [self[i] for i in range(*index.indices(len(self)))]
        kind, early, late = Kind(int(self.kind[index])), int(self.earliest[index]), int(self.latest[index])
        return Happening(
            early if kind == Kind.INPUT else late,
            kind,
            int(self.which[index]),
            early,
            late,
            truth(int(self.value[index])),
            bool(self.maybe[index]),
        )


@frozen(eq=False)
class Shown:
    """The changes of one output."""

    output: int
    earliest: Times
    latest: Times
    values: Truths

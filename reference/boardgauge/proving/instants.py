"""Every instant that a kernel can have, at once: whichever inputs change in it, and whichever timings are over.

Law of this module: of each instant it is told what it does, as ``ManyInstants`` does it. What says nothing but how fast
timings run is left out: it does nothing in an instant. Only of the ways that the inputs were asked to be before is
anything worked out: those that a kernel is ever met in are a few of all.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import prod
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt
from attrs import define, field

from boardgauge.proving.folding import Folds, Kernel, Numbers
from boardgauge.proving.many import Done
from boardgauge.proving.many_journeys import differ
from boardgauge.proving.many_pictures import Standing
from boardgauge.proving.together import End
from boardgauge.proving.words import NO, YES, Bits, Truths, Words, any_of, numbered, packed, unpacked

MOST_INSTANTS = 1 << 22
"""So many instants of one kernel are looked at: ways of its inputs before, times after, times choices of ends."""

_AT_ONCE = 1 << 16
"""A kernel with no more instants than these has all of them worked out when the first is asked for."""

MOST_KEPT = 1 << 29
"""With more bytes than these of what instants do it is forgotten, and worked out again where it is asked for."""

Table = npt.NDArray[np.unsignedinteger[Any]]
"""A number for each instant: by the way of the inputs before it, its choice of ends, and the way after it."""
Masks = npt.NDArray[np.uint64]
_NO_WAYS: Numbers = np.zeros(0, dtype=np.intp)
_NOWHERE: Kernel = ((), 0, 0)
_NONE: Masks = np.zeros((0, 0), dtype=np.uint64)


@define
class Every:
    """The instants of a kernel, of the ways before them that are ``known``. ``does`` numbers what each does; by that
    number: ``to`` the number of the kernel that it leads to (-1 where the rules do not come to rest, or it is left
    out), ``kernels`` it, ``gone`` the bits of the ends that are not the same any more, ``joined`` what may come about
    twice and is once (as far as it is ``kept``), ``seen`` what is watched, ``once`` what may not come about twice."""

    ends: tuple[End, ...]
    does: Table
    known: Truths
    numbers: dict[bytes, int] = field(factory=dict)
    kernels: list[Kernel] = field(factory=list)
    to: npt.NDArray[np.int64] = field(factory=lambda: np.zeros(0, dtype=np.int64))
    gone: npt.NDArray[np.int64] = field(factory=lambda: np.zeros(0, dtype=np.int64))
    joined: Masks = field(factory=lambda: _NONE)
    kept: Masks = field(factory=lambda: _NONE)
    seen: Masks = field(factory=lambda: _NONE)
    once: Masks = field(factory=lambda: _NONE)


class _Told(NamedTuple):
    """What some instants do, a column for each: as rows of truths."""

    left_out: Truths
    places: Truths
    joined: Truths
    seen: Truths
    once: Truths
    again: Truths


class Instants:
    """Knows the instants of a folded machine."""

    def __init__(self, folds: Folds) -> None:
        self.folds = folds
        self._every: dict[Kernel, Every] = {}
        self._numbers: dict[Kernel, int] = {}
        # What says nothing but how fast timings run may always come first: it is looked at by itself.
        self.ways = folds.ways[: len(folds.ways) - folds.hasty]
        self.inputs = [atom for atom in folds.inputs if atom.input < len(self.ways)]
        self.hasty = prod(len(values) for _, values in folds.ways[len(self.ways) :])
        self.truths = folds.truths[:: self.hasty]
        self.to: Numbers = folds.to[: len(self.inputs), :: self.hasty] // self.hasty
        """For each value that each of these inputs may come to, and each way, the way that it leads to."""
        self.values = np.array([self._values(i) for i in range(len(self.ways))], dtype=np.intp)
        self.values = self.values.reshape(-1, len(self.truths))
        """Of each input and each way which of its values it has."""
        self._inputs_changed: Numbers | None = None
        self._first_of = [next(n for n, a in enumerate(folds.inputs) if a.input == i) for i in range(len(self.ways))]
        self._thens: dict[tuple[Kernel, int], tuple[Every, Numbers]] = {}
        self._kernels: dict[bytes, Kernel] = {}
        self._begun: tuple[int, ...] = ()
        self._kept = 0

    def forget(self) -> None:
        """Forget what instants do, if that is a lot; who still holds some of it may go on with that."""
        if self._kept > MOST_KEPT:
            self._every.clear()
            self._thens.clear()
            self._kept = 0

    def serves(self, kernel: Kernel) -> bool:
        """Tell whether every instant of a kernel can be looked at."""
        return len(self.truths) ** 2 << len(self.folds.ends(kernel)) <= MOST_INSTANTS

    @property
    def inputs_changed(self) -> Numbers:
        """How many inputs change between two ways: after it, before it."""
        if self._inputs_changed is None:
            self._inputs_changed = (self.values[:, :, None] != self.values[:, None, :]).sum(axis=0)
        return self._inputs_changed

    def _values(self, input_: int) -> list[int]:
        indices, values = self.ways[input_]
        value_of = {value: number for number, value in enumerate(values)}
        return [value_of[tuple(levels)] for levels in self.truths[:, list(indices)].tolist()]

    def things(self, ends: int) -> range:
        """Give the numbers of what may happen: the inputs, and then so many ends."""
        return range(len(self.ways) + ends)

    def input_of(self, levels: Iterable[int]) -> int | None:
        """Give the number of the input that some levels are of, None if it does nothing here."""
        return next((number for level in levels for number, (mine, _) in enumerate(self.ways) if level in mine), None)

    def atom(self, thing: int, value: int) -> int:
        """Give the number of a value that an input may come to."""
        return self._first_of[thing] + value

    def _single(self, thing: int, after: Numbers) -> Numbers:
        """Give the number of each single thing: an input that comes to be as it is afterwards, or an end."""
        inputs = len(self.ways)
        if thing >= inputs:
            return np.full(len(after), thing - inputs + len(self.inputs))
        return np.asarray(self._first_of[thing] + self.values[thing, after], dtype=np.intp)

    def _in(self, thing: int, choice: Numbers, after: Numbers, before: Numbers) -> Truths:
        """Tell in which instants a thing happens."""
        inputs = len(self.ways)
        if thing < inputs:
            return np.asarray(self.values[thing, after] != self.values[thing, before])
        return (choice >> thing - inputs & 1).astype(bool)

    # -- what each does ----------------------------------------------------------------------------------------------

    def every(self, kernel: Kernel, before: Numbers | None = None) -> Every:
        """Give the instants of a kernel that can be looked at; of these ways before them at least, all if None."""
        found = self._every.get(kernel)
        if found is None:
            ends, ways = self.folds.ends(kernel), len(self.truths)
            does = np.zeros((ways, 1 << len(ends), ways), dtype=np.uint8)
            found = self._every[kernel] = Every(ends, does, np.zeros(ways, dtype=bool))
        if before is None or (found.does.size <= _AT_ONCE and not found.known.all()):
            before = np.arange(len(self.truths))
        new = before[~found.known[before]]
        if len(new):
            self._work_out(kernel, found, new)
        return found

    def _work_out(self, kernel: Kernel, every: Every, before: Numbers) -> None:
        """Put in what the instants with the inputs so before them do."""
        does, told = self._settled(kernel, every.ends, before)
        columns = np.ascontiguousarray(np.concatenate(told).T)
        known = len(every.numbers)
        numbers = [every.numbers.setdefault(column.tobytes(), len(every.numbers)) for column in columns]
        if len(every.numbers) > np.iinfo(every.does.dtype).max:
            every.does = every.does.astype(np.uint16 if len(every.numbers) <= 1 << 16 else np.uint32)
        every.does[before] = np.array(numbers, dtype=every.does.dtype)[does].reshape(len(before), *every.does.shape[1:])
        every.known[before] = True
        self._kept += len(before) * every.does[0].nbytes
        new = [place for place, number in enumerate(numbers) if number >= known]
        if new:
            self._number(every, _Told(*(rows[:, new] for rows in told)))

    def _number(self, every: Every, told: _Told) -> None:
        """Put in what some new numbers of what instants do stand for."""
        rows = zip(np.ascontiguousarray(told.places.T), told.left_out[0].tolist(), strict=True)
        # What does not come to rest leads to no place.
        kernels = [_NOWHERE if lost else self._kernel(row) for row, lost in rows]
        to = [-1 if there is _NOWHERE else self._numbers.setdefault(there, len(self._numbers)) for there in kernels]
        # What began and was cut short at the same moment began for nothing.
        kept = np.ones(told.joined.shape, dtype=bool)
        runs = told.places[len(told.places) - 2 * len(self.folds.machine.timings) :]
        kept[: len(self._begun)] = runs[list(self._begun)]
        bits = np.arange(len(every.ends))[:, None]
        gone = (told.again.astype(np.int64) << bits).sum(axis=0, dtype=np.int64)
        every.kernels += kernels
        every.to = np.concatenate((every.to, np.array(to, dtype=np.int64)))
        every.gone = np.concatenate((every.gone, gone))
        every.joined = _more(every.joined, told.joined)
        every.kept = _more(every.kept, kept)
        every.seen = _more(every.seen, told.seen)
        every.once = _more(every.once, told.once)

    def _settled(self, kernel: Kernel, ends: Sequence[End], before: Numbers) -> tuple[Numbers, _Told]:
        """Give what some instants do, as numbers, and what those stand for."""
        folds, ways, choices = self.folds, len(self.truths), 1 << len(ends)
        standing = folds.standing(kernel)
        levels = tuple(packed(np.repeat(column[before], choices * ways)) for column in self.truths.T)
        after = [packed(np.tile(column, len(before) * choices)) for column in self.truths.T]
        expired, dropped = due(ends, np.tile(np.repeat(np.arange(choices), ways), len(before)))
        standing = standing._replace(levels=levels)
        done = folds.many.settle(standing, after, expired, dropped, causes=False)
        self._begun = tuple(sorted(done.begun))
        number = len(before) * choices * ways
        # Where speed-ups are left out, what brings one about is no more gone through than what does not come to rest.
        refused = done.refused if folds.sped_up else any_of((done.refused, *done.sped))
        seen = [bits for table in (done.broken, done.together) for _, bits in sorted(table.items())]
        again = [_again(done, end) for end in ends]
        tables = ([refused], done.standing.columns(), _joined(done), seen, _once(standing, done), again)
        truths = [_truths(column, number) for table in tables for column in table]
        does, firsts = numbered([row for row in truths if len(row) > 1], number)
        told = np.array([row[firsts] if len(row) > 1 else np.repeat(row, len(firsts)) for row in truths], dtype=bool)
        return does, _Told(*np.split(told, np.cumsum([len(table) for table in tables[:-1]])))

    def _kernel(self, state: Truths) -> Kernel:
        key = state.tobytes()
        found = self._kernels.get(key)
        if found is None:
            found = self._kernels[key] = self.folds.kernel_from(state.tolist())
        return found

    def _then(self, kernel: Kernel, does: int) -> tuple[Every, Numbers]:
        """Give what may happen after something was done, as far as it was worked out, and for each choice of ends from
        before its number there, -1 if one of them is no longer to come, or is not the same."""
        found = self._thens.get((kernel, does))
        if found is None:
            every = self.every(kernel, _NO_WAYS)
            then = self.every(every.kernels[does], _NO_WAYS)
            place_of = {end: place for place, end in enumerate(then.ends)}
            onward = np.zeros(1, dtype=np.intp)
            for place, end in enumerate(every.ends):
                there = -1 if every.gone[does] >> place & 1 else place_of.get(end, -1)
                with_it = np.full(len(onward), -1) if there < 0 else np.where(onward < 0, -1, onward | 1 << there)
                onward = np.concatenate((onward, with_it))
            found = self._thens[kernel, does] = then, onward
        return found


def chosen(ends: Sequence[End], choice: int) -> tuple[End, ...]:
    """Give the ends of a choice."""
    return tuple(end for place, end in enumerate(ends) if choice >> place & 1)


def due(ends: Sequence[End], choice: Numbers) -> tuple[dict[int, Words], dict[int, Words]]:
    """Give which timings are over, and of which counts an event is too old, in instants of these choices of ends."""
    expired: dict[int, Words] = {}
    dropped: dict[int, Words] = {}
    for place, end in enumerate(ends):
        words = packed((choice >> place & 1).astype(bool))
        table, key = (expired, end.timing) if end.region < 0 else (dropped, end.region)
        table[key] = words
    return expired, dropped


def _truths(column: Bits, number: int) -> Truths:
    """Give the truths of a column, one alone where all are alike."""
    if np.ndim(column) == 0 or ((column == column[0]).all() and column[0] in (NO, YES)):
        return np.array([bool(np.reshape(column, -1)[0])])
    return unpacked(column, number)


def _joined(done: Done) -> list[Bits]:
    tables = (done.begun, done.paused, done.emptied, done.forgot)
    return [bits for table in tables for _, bits in sorted(table.items())]


def _once(before: Standing, done: Done) -> list[Bits]:
    """Give what may not come about twice and be the same: what is counted, what moves, what is commanded."""
    moved = [differ(old, new) for old, new in zip(before.places, done.standing.places, strict=True)]
    return [*(bits for _, bits in sorted(done.counted.items())), *moved, *done.commands.values()]


def _again(done: Done, end: End) -> Bits:
    """Tell where what was to be over begins anew."""
    return done.begun.get(end.timing, NO) if end.region < 0 else done.forgot.get(end.region, NO)


def _masks(rows: Truths) -> Masks:
    """Put truths, a row for each thing, into words: so many words for each column."""
    filled = np.zeros((-len(rows) % 64 + len(rows), rows.shape[1]), dtype=bool)
    filled[: len(rows)] = rows
    return np.packbits(filled, axis=0, bitorder="little").T.copy().view(np.uint64)


def _more(masks: Masks, rows: Truths) -> Masks:
    """Put further columns of truths behind the words of others."""
    new = _masks(rows)
    return np.concatenate((masks, new)) if len(masks) else new

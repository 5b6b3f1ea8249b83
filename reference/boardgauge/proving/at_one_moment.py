"""Which instants of a kernel have to be looked at, of all that there can be.

Law of this module: an instant is left apart only if one of the things that happen in it, first and alone, and then all
the others, at the same moment, come to the same. So whatever may happen at one moment, however much, is gone through:
as one instant, or as some in a row. Where a kernel has more instants than are kept, that is told.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations
from math import comb
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt
from attrs import define

from boardgauge.machine.settle import Engine
from boardgauge.proving.folding import Folds, Kernel, Numbers
from boardgauge.proving.instants import Every, Instants, Table, chosen
from boardgauge.proving.together import Happens
from boardgauge.proving.words import Truths

MOST_FEW = 1 << 18
"""Of a kernel with too many instants so many are looked at, at most, those of the fewest things."""

_Several = tuple[Numbers, ...]
"""Instants by their numbers, their choices of ends, the ways of the inputs after and before, and a bit for each thing
that happens in them."""


@define
class Looked:
    """Which instants of a kernel have to be looked at.

    ``beside`` has for the single things (each value of each input, then the ends) the bits of the ends that, due at the
    same moment, would be part of it: a row for each thing, a column for each way before.
    """

    look: Truths
    beside: npt.NDArray[np.int64]


class Rows(NamedTuple):
    """Instants of a kernel: which ends, the ways of the inputs after and before, and the bits of the ends that, due at
    the same moment, would be part of them."""

    choice: Numbers
    after: Numbers
    before: Numbers
    beside: npt.NDArray[np.int64]


class Moments(Instants):
    """Knows what may happen at one moment in a folded machine."""

    def __init__(self, folds: Folds) -> None:
        super().__init__(folds)
        self._looked: dict[Kernel, Looked] = {}
        self._of: dict[tuple[Kernel, int], list[tuple[Happens, frozenset[tuple[int, int]]]]] = {}
        self._rows: dict[int, tuple[_Several, _Several]] = {}

    def rows(self, kernel: Kernel) -> Rows:
        """Give the instants of a kernel that have to be looked at; where it has too many, those of the fewest things,
        as many as are looked at, and of all of them at least every thing alone."""
        if not self.serves(kernel):
            return self._fewest(kernel)
        choice, after, before = np.nonzero(self.looked(kernel).look)
        beside = self.beside(kernel, choice, after, before)
        if not self.folds.hasty:
            return Rows(choice, after, before, beside)
        ways, fast = np.arange(len(self.folds.levels)), np.arange(self.hasty)[:, None]
        alone = self.folds.to[len(self.inputs) :]
        turned, way = np.nonzero(alone != ways)
        nothing = np.zeros(len(way), dtype=np.int64)
        return Rows(
            np.concatenate((np.tile(choice, self.hasty), nothing)),
            np.concatenate(((after * self.hasty + fast).reshape(-1), alone[turned, way])),
            np.concatenate(((before * self.hasty + fast).reshape(-1), way)),
            np.concatenate((np.tile(beside, self.hasty), nothing)),
        )

    def of(self, kernel: Kernel, levels: tuple[bool, ...]) -> list[tuple[Happens, frozenset[tuple[int, int]]]]:
        """Give what may happen in a kernel with its inputs so, and the ends (timing, region) that would be in it."""
        way = self.folds.number[levels]
        found = self._of.get((kernel, way))
        if found is None:
            ends, (core, fast) = self.every(kernel).ends, divmod(way, self.hasty)
            choice, after = np.nonzero(self.looked(kernel).look[:, :, core])
            beside = self.beside(kernel, choice, after, np.full(len(after), core))
            rows = zip(choice.tolist(), (after * self.hasty + fast).tolist(), beside.tolist(), strict=True)
            alone = [int(to) for to in self.folds.to[len(self.inputs) :, way] if to != way]
            found = self._of[kernel, way] = [
                (
                    Happens(self.folds.changes(way, to), tuple(sorted(chosen(ends, over)))),
                    frozenset(end[:2] for end in chosen(ends, due_too)),
                )
                for over, to, due_too in (*rows, *((0, to, 0) for to in alone))
            ]
        return found

    def _fewest(self, kernel: Kernel) -> Rows:
        ways, inputs = np.arange(len(self.folds.levels)), self.folds.inputs
        ends = len(self.folds.ends(kernel))
        found: list[tuple[int, Numbers]] = []
        tried = 0
        for size in range(1, len(self.folds.ways) + ends + 1):
            tried += len(ways) * comb(len(inputs) + ends, size)
            if size > 1 and tried > MOST_FEW:
                break
            for some in combinations(range(len(inputs) + ends), size):
                turned = [number for number in some if number < len(inputs)]
                if len({inputs[number].input for number in turned}) < len(turned):
                    continue
                to = ways
                for number in turned:
                    to = self.folds.to[number, to]
                found.append((sum(1 << number - len(inputs) for number in some if number >= len(inputs)), to))
        choice = np.repeat(np.array([over for over, _ in found], dtype=np.intp), len(ways))
        after, before = np.concatenate([to for _, to in found]), np.tile(ways, len(found))
        some_change = (choice != 0) | (after != before)
        nothing = np.zeros(some_change.sum(), dtype=np.int64)
        return Rows(choice[some_change], after[some_change], before[some_change], nothing)

    # -- what has to be looked at ------------------------------------------------------------------------------------

    def looked(self, kernel: Kernel) -> Looked:
        """Tell which instants of a kernel have to be looked at."""
        found = self._looked.get(kernel)
        if found is None:
            found = self._looked[kernel] = self._sorted_out(kernel)
        return found

    def _sorted_out(self, kernel: Kernel) -> Looked:
        every = self.every(kernel)
        ends, ways = len(every.ends), len(self.truths)
        things = self._things(ends)
        look = things == 1
        two, more = self._several(ends)
        first = self._first_of_two(kernel, two)
        look.reshape(-1)[two[0]] = first.reshape(-1)[two[0]] == 0
        hurts = [self._hurts(first, thing) for thing in self.things(ends)]
        apart, by, left = self._apart(kernel, more, hurts)
        look.reshape(-1)[more[0]] = ~apart
        beside = np.concatenate(hurts) if hurts else np.zeros((0, ways), dtype=np.int64)
        for thing in np.unique(by[left]).tolist():
            rows = left[by[left] == thing]
            choice, after, before = (row[rows] for row in more[1:4])
            due = choice if thing < len(self.ways) else choice & ~(1 << thing - len(self.ways))
            np.bitwise_and.at(beside, (self._single(thing, after), before), ~due)
        return Looked(look, beside)

    def _first_of_two(self, kernel: Kernel, two: _Several) -> Table:
        """Give for each instant of two things the bits of those that may come first."""
        first = np.zeros(self.every(kernel).does.shape, dtype=np.uint32)
        for thing in self.things(len(self.every(kernel).ends)):
            rows = np.flatnonzero(two[4] >> thing & 1)
            good = rows[self.comes_first(kernel, thing, *(row[rows] for row in two[:4]))]
            first.reshape(-1)[two[0][good]] |= np.uint32(1 << thing)
        return first

    def _hurts(self, first: Table, thing: int) -> npt.NDArray[np.int64]:
        """Give for each single thing of this kind, and each way before it, the bits of the ends before which it may not
        come, at the same moment."""
        inputs, before = len(self.ways), np.arange(len(self.truths))
        ends = range(len(first).bit_length() - 1)
        if thing >= inputs:
            place = thing - inputs
            pairs = [(first[1 << place | 1 << e, before, before], e != place) for e in ends]
            return _bits([(row >> np.uint32(thing) & 1 == 0) & other for row, other in pairs], (1, len(before)))
        start = self._first_of[thing]
        leads = self.to[start : start + len(self.ways[thing][1])]
        turned = leads != before
        return _bits([(first[1 << e, leads, before] >> np.uint32(thing) & 1 == 0) & turned for e in ends], leads.shape)

    def _apart(
        self, kernel: Kernel, rows: _Several, hurts: Sequence[npt.NDArray[np.int64]]
    ) -> tuple[Truths, Numbers, Numbers]:
        """Tell which instants are left apart: by what comes first, and which of them leave an end due that hurts."""
        inputs, number = len(self.ways), len(rows[0])
        apart, by = np.zeros(number, dtype=bool), np.full(number, -1, dtype=np.intp)
        place = np.arange(number)
        for thing in self._likely(kernel):
            mine = np.flatnonzero(rows[4] >> thing & 1)
            choice, after, before = (row[mine] for row in rows[1:4])
            good = self.comes_first(kernel, thing, rows[0][mine], choice, after, before)
            ok, choice, after, before = mine[good], choice[good], after[good], before[good]
            by[place[ok]] = thing
            due = choice if thing < inputs else choice & ~(1 << thing - inputs)
            value = self.values[thing, after] if thing < inputs else np.zeros(len(ok), dtype=np.intp)
            ok = ok[hurts[thing][value, before] & due == 0]
            apart[place[ok]] = True
            left = np.ones(len(place), dtype=bool)
            left[ok] = False
            place, rows = place[left], tuple(row[left] for row in rows)
        place = place[by[place] >= 0]
        apart[place] = True
        return apart, by, place

    def _likely(self, kernel: Kernel) -> list[int]:
        """Give the numbers of all things, first those that most often do nothing by themselves."""
        every, inputs, before = self.every(kernel), len(self.ways), np.arange(len(self.truths))
        nothing = every.to == self._numbers.setdefault(kernel, len(self._numbers))
        nothing &= ~(every.joined.any(axis=1) | every.once.any(axis=1))
        often = [0] * inputs
        for number, atom in enumerate(self.inputs):
            often[atom.input] += (
                int(nothing[every.does[0, self.to[number], before]].sum()) * 64 // len(self.ways[atom.input][1])
            )
        return [*sorted(range(inputs), key=lambda thing: -often[thing]), *range(inputs, inputs + len(every.ends))]

    def comes_first(
        self, kernel: Kernel, thing: int, number: Numbers, choice: Numbers, after: Numbers, before: Numbers
    ) -> Truths:
        """Tell of which instants a thing that happens in them may come first, and then all the rest, to the same."""
        every, inputs, ways = self.every(kernel), len(self.ways), len(self.truths)
        over, leads = 0, before
        if thing < inputs:
            leads = self.to.reshape(-1)[self._single(thing, after) * ways + before]
        else:
            over = 1 << thing - inputs
        flat = every.does.reshape(-1)
        alone, both = flat[(over * ways + leads) * ways + before], flat[number]
        found = np.zeros(len(choice), dtype=bool)
        for does in _each(alone, len(every.to)).tolist():
            if every.to[does] < 0:
                continue
            rows = np.flatnonzero(alone == does)
            then, onward = self._then(kernel, does)
            rest = onward[choice[rows] & ~over]
            if (rest < 0).any():
                rows, rest = rows[rest >= 0], rest[rest >= 0]
            there = then.does.reshape(-1)[(rest * ways + after[rows]) * ways + leads[rows]]
            here = both[rows]
            if then is every and not (every.joined[does].any() or every.once[does].any() or every.seen[does].any()):
                found[rows] = there == here
                continue
            found[rows] = self._come_to(every, does, then, there, here)
        return found

    def _come_to(self, every: Every, does: int, then: Every, there: Table, here: Table) -> Truths:
        """Tell where one thing and then others come to what is done together; each two numbers are compared once."""
        pairs = there.astype(np.int64) * len(every.to) + here
        some = _each(pairs, len(then.to) * len(every.to))
        after, both = some // len(every.to), some % len(every.to)
        same = (then.to[after] == every.to[both]) & (every.to[both] >= 0)
        same &= ((every.once[does] | then.once[after]) == every.once[both]).all(axis=1)
        same &= ~(every.once[does] & then.once[after]).any(axis=1)
        same &= ((every.joined[does] | then.joined[after]) & every.kept[both] == every.joined[both]).all(axis=1)
        same &= ((every.seen[does] | then.seen[after]) == every.seen[both]).all(axis=1)
        told = np.zeros(len(then.to) * len(every.to), dtype=bool)
        told[some] = same
        return np.asarray(told[pairs])

    def _things(self, ends: int) -> Numbers:
        """Give how many things happen in each instant: inputs that change, and so many ends."""
        return np.asarray(self.inputs_changed + _ones(ends)[:, None, None])

    def _several(self, ends: int) -> tuple[_Several, _Several]:
        """Give the instants in which two things happen, and those in which more do."""
        if ends not in self._rows:
            things = self._things(ends)
            two, more = (np.flatnonzero(rows) for rows in (things == 2, things > 2))
            self._rows[ends] = self._placed(two, things.shape), self._placed(more, things.shape)
        return self._rows[ends]

    def _placed(self, rows: Numbers, shape: tuple[int, ...]) -> _Several:
        choice, after, before = (row.astype(np.intp) for row in np.unravel_index(rows, shape))
        things = choice << len(self.ways)
        for thing, values in enumerate(self.values):
            things |= (values[after] != values[before]).astype(np.intp) << thing
        return rows, choice, after, before, things

    def beside(self, kernel: Kernel, choice: Numbers, after: Numbers, before: Numbers) -> npt.NDArray[np.int64]:
        """Give for instants the bits of the ends that, due at the same moment, would be part of them."""
        every, looked = self.every(kernel), self.looked(kernel)
        found = ~choice.astype(np.int64) & (1 << len(every.ends)) - 1
        if not every.ends:
            return found
        # Of several things together none comes first and leaves the others; of one alone it is known.
        alone = self.inputs_changed[after, before] + _ones(len(every.ends))[choice] == 1
        for thing in self.things(len(every.ends)):
            rows = np.flatnonzero(alone & self._in(thing, choice, after, before))
            found[rows] = looked.beside[self._single(thing, after[rows]), before[rows]]
        return found


def moments_of(folds: Folds) -> Moments:
    """Give what may happen at one moment in a folded machine, the same whoever asks."""
    if folds.moments is None:
        folds.moments = Moments(folds)
    found: Moments = folds.moments
    return found


def moments_of_all(engine: Engine) -> Moments | None:
    """Give the same of a machine, its speed-ups holding or not; None if its inputs may be in too many ways."""
    if not Folds.serves(engine, ()):
        return None
    if "moments" not in engine.notes:
        engine.notes["moments"] = Moments(Folds(engine, True))
    found: Moments = engine.notes["moments"]
    return found


def _each(numbers: npt.NDArray[np.integer[Any]], number: int) -> Numbers:
    """Give each of some numbers, all below ``number``, once."""
    met = np.zeros(number, dtype=bool)
    met[numbers] = True
    return np.flatnonzero(met)


def _bits(rows: Sequence[Truths], shape: tuple[int, ...]) -> npt.NDArray[np.int64]:
    found = np.zeros(shape, dtype=np.int64)
    for place, row in enumerate(rows):
        found |= row.astype(np.int64) << place
    return found


def _ones(ends: int) -> npt.NDArray[np.int64]:
    """Give of each choice of ends how many there are in it."""
    return np.array([number.bit_count() for number in range(1 << ends)], dtype=np.int64)

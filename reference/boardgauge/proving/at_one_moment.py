"""Which instants of a kernel have to be looked at, of all that there can be.

Law of this module: an instant is left apart only if one of the things that happen in it, first and alone, and then all
the others, at the same moment, come to the same. So whatever may happen at one moment, however much, is gone through:
as one instant, or as some in a row. Where a kernel has more instants than are kept, that is told.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations
from math import comb
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from boardgauge.machine.settle import Engine
from boardgauge.proving.folding import Folds, Kernel, Numbers
from boardgauge.proving.in_turn import InTurn
from boardgauge.proving.instants import Table, chosen
from boardgauge.proving.together import Happens
from boardgauge.proving.words import Truths

MOST_FEW = 1 << 18
"""Of a kernel with too many instants so many are looked at, at most, those of the fewest things."""


class OfWay(NamedTuple):
    """The instants that have to be looked at with the inputs in one way before them: as in ``Rows``."""

    choice: Numbers
    after: Numbers
    beside: npt.NDArray[np.int64]


class Rows(NamedTuple):
    """Instants of a kernel: which ends, the ways of the inputs after and before, and the bits of the ends that, due at
    the same moment, would be part of them."""

    choice: Numbers
    after: Numbers
    before: Numbers
    beside: npt.NDArray[np.int64]


class Moments(InTurn):
    """Knows what may happen at one moment in a folded machine."""

    def __init__(self, folds: Folds) -> None:
        super().__init__(folds)
        self._looked: dict[Kernel, dict[int, OfWay]] = {}
        self._of: dict[tuple[Kernel, int], list[tuple[Happens, frozenset[tuple[int, int]]]]] = {}

    def rows(self, kernel: Kernel, ways: Numbers) -> Rows:
        """Give the instants of a kernel that have to be looked at, with the inputs in one of these ways before.

        Where it has too many: those of the fewest things, as many as are looked at, and at least every thing alone.
        """
        if not self.serves(kernel):
            return self._fewest(kernel, ways)
        cores = np.unique(ways // self.hasty)
        looked = self.looked(kernel, cores)
        some = [looked[core] for core in cores.tolist()]
        choice, after, beside = (np.concatenate(rows) for rows in zip(*some, strict=True))
        before = np.repeat(cores, [len(row.choice) for row in some])
        # Fewer zones are kept where what inputs do is gone through before what is over.
        order = np.lexsort((before, after, choice))
        choice, after, before, beside = choice[order], after[order], before[order], beside[order]
        if not self.folds.hasty:
            return Rows(choice, after, before, beside)
        fast = np.arange(self.hasty)[:, None]
        alone = self.folds.to[len(self.inputs) :, ways]
        turned, place = np.nonzero(alone != ways)
        nothing = np.zeros(len(place), dtype=np.int64)
        found = Rows(
            np.concatenate((np.tile(choice, self.hasty), nothing)),
            np.concatenate(((after * self.hasty + fast).reshape(-1), alone[turned, place])),
            np.concatenate(((before * self.hasty + fast).reshape(-1), ways[place])),
            np.concatenate((np.tile(beside, self.hasty), nothing)),
        )
        asked = np.isin(found.before, ways)
        return Rows(*(row[asked] for row in found))

    def of(self, kernel: Kernel, levels: tuple[bool, ...]) -> list[tuple[Happens, frozenset[tuple[int, int]]]]:
        """Give what may happen in a kernel with its inputs so, and the ends (timing, region) that would be in it."""
        way = self.folds.number[levels]
        found = self._of.get((kernel, way))
        if found is None:
            ends, (core, fast) = self.folds.ends(kernel), divmod(way, self.hasty)
            # Here the ways are met one by one, and most of them are.
            choice, after, beside = self.looked(kernel, np.arange(len(self.truths)))[core]
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

    def _fewest(self, kernel: Kernel, ways: Numbers) -> Rows:
        inputs = self.folds.inputs
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

    def looked(self, kernel: Kernel, before: Numbers) -> dict[int, OfWay]:
        """Tell which instants of a kernel have to be looked at, for these ways of the inputs before them at least."""
        found = self._looked.setdefault(kernel, {})
        new = np.array([way for way in before.tolist() if way not in found], dtype=np.intp)
        if len(new):
            choice, after, place, beside = self._sorted_out(kernel, new)
            cuts = np.searchsorted(place, np.arange(1, len(new)))
            columns = (np.split(row, cuts) for row in (choice, after, beside))
            found.update(zip(new.tolist(), map(OfWay, *columns), strict=True))
        return found

    def _sorted_out(self, kernel: Kernel, before: Numbers) -> tuple[Numbers, Numbers, Numbers, npt.NDArray[np.int64]]:
        """Give of the instants that have to be looked at the choices of ends, the ways after, the places of the ways
        before, in their order, and the bits of the ends that would be part of them."""
        first = self.first(kernel, before)
        ends = len(self.folds.ends(kernel))
        # How many things happen: inputs that change, and ends.
        things = self.inputs_changed[before][:, None, :] + _ones(ends)[:, None]
        hurts = [self._hurts(first, thing, before) for thing in self.things(ends)]
        alone = np.concatenate(hurts) if hurts else np.zeros((0, len(before)), dtype=np.int64)
        # Something comes first in these, but an end that is due hangs on it: it may come all the same, for these are
        # left apart by it.
        place, choice, after = self._left(first, things, hurts)
        by = first[place, choice, after]
        for thing in self.things(ends):
            mine = np.flatnonzero(by >> thing & 1)
            due = choice[mine] if thing < len(self.ways) else choice[mine] & ~(1 << thing - len(self.ways))
            np.bitwise_and.at(alone, (self._single(thing, after[mine]), place[mine]), ~due)
            by[mine] = 0
        place, choice, after = np.nonzero((things == 1) | ((first == 0) & (things > 1)))
        beside = ~choice.astype(np.int64) & (1 << ends) - 1
        # Of several things together none comes first and leaves the others; of one alone it is known.
        single = things[place, choice, after] == 1
        for thing in self.things(ends):
            rows = np.flatnonzero(single & self._in(thing, choice, after, before[place]))
            beside[rows] = alone[self._single(thing, after[rows]), place[rows]]
        return choice, after, place, beside

    def _hurts(self, first: Table, thing: int, before: Numbers) -> npt.NDArray[np.int64]:
        """Give for each single thing of this kind, and each way before it, the bits of the ends before which it may not
        come, at the same moment."""
        inputs, places = len(self.ways), np.arange(len(before))
        ends = range(first.shape[1].bit_length() - 1)
        if thing >= inputs:
            mine = thing - inputs
            pairs = [(first[places, 1 << mine | 1 << e, before], e != mine) for e in ends]
            return _bits([(row >> thing & 1 == 0) & other for row, other in pairs], (1, len(before)))
        start = self._first_of[thing]
        leads = self.to[start : start + len(self.ways[thing][1]), before]
        return _bits([(first[places, 1 << e, leads] >> thing & 1 == 0) & (leads != before) for e in ends], leads.shape)

    def _left(
        self, first: Table, things: Numbers, hurts: Sequence[npt.NDArray[np.int64]]
    ) -> tuple[Numbers, Numbers, Numbers]:
        """Give the instants of more than two things in which whatever comes first hurts one of their ends: the places
        of the ways before, the choices of ends and the ways after."""
        harmless = sum(1 << thing for thing, row in enumerate(hurts) if not row.any())
        place, choice, after = np.nonzero((first != 0) & (first & harmless == 0) & (things > 2))
        for thing, row in enumerate(hurts):
            value = self.values[thing, after] if thing < len(self.ways) else np.zeros(len(after), dtype=np.intp)
            due = choice if thing < len(self.ways) else choice & ~(1 << thing - len(self.ways))
            left = (first[place, choice, after] >> thing & 1 == 0) | (row[value, place] & due != 0)
            place, choice, after = place[left], choice[left], after[left]
        return place, choice, after


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


def _bits(rows: Sequence[Truths], shape: tuple[int, ...]) -> npt.NDArray[np.int64]:
    found = np.zeros(shape, dtype=np.int64)
    for place, row in enumerate(rows):
        found |= row.astype(np.int64) << place
    return found


def _ones(ends: int) -> npt.NDArray[np.int64]:
    """Give of each choice of ends how many there are in it."""
    return np.array([number.bit_count() for number in range(1 << ends)], dtype=np.int64)

"""Which of the things that happen at one moment may come first, and then the others, to the same.

Law of this module: a thing comes first in an instant only if what it does by itself, and then what all the others do
together, from where it led, is what all of them do together: where to, what is begun and ended, what is watched.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np

from boardgauge.proving.folding import Kernel, Numbers
from boardgauge.proving.instants import Every, Instants, Table
from boardgauge.proving.words import Truths


class _Alone(NamedTuple):
    """One thing by itself: the choices of ends with it and without, the ways of the inputs after all of an instant, and
    of some ways before it their places, the ways that it leads to, and what it does, as a number."""

    thing: int
    choices: Numbers
    others: Numbers
    after: Numbers
    places: Numbers
    leads: Numbers
    does: Table


class InTurn(Instants):
    """Knows of the instants of a folded machine what may come first in each."""

    def first(self, kernel: Kernel, before: Numbers) -> Table:
        """Give for the instants of a kernel, with the inputs so before them, the bits of the things that may come
        first: by the place of the way before, the choice of ends, and the way after."""
        every = self.every(kernel, before)
        alone = list(self._alone(every, before))
        self._look_ahead(every, alone)
        things = len(self.ways) + len(every.ends)
        shape = len(before), *every.does.shape[1:]
        found: Table = np.zeros(shape, dtype=np.min_scalar_type((1 << things) - 1))
        same: dict[int, Truths] = {}
        for one in alone:
            here = every.does[before[one.places]][:, one.choices][:, :, one.after]
            for does in _each(one.does, every):
                mine = np.flatnonzero(one.does == does)
                then, onward = self._then(kernel, does)
                rest = onward[one.others]
                some = np.flatnonzero(rest >= 0)
                there = then.does[one.leads[mine]][:, rest[some]][:, :, one.after]
                if does not in same:
                    same[does] = _come_to_the_same(every, does, then)
                good = same[does][there.astype(np.intp) * len(every.to) + here[mine][:, some]]
                found[np.ix_(one.places[mine], one.choices[some], one.after)] |= good.astype(found.dtype) << one.thing
        return found

    def _alone(self, every: Every, before: Numbers) -> Iterator[_Alone]:
        ends, choices, ways = len(every.ends), np.arange(1 << len(every.ends)), np.arange(len(self.truths))
        for to, atom in zip(self.to, self.inputs, strict=True):
            places = np.flatnonzero(to[before] != before)
            leads, after = to[before[places]], np.flatnonzero(to == ways)
            yield _Alone(atom.input, choices, choices, after, places, leads, every.does[before[places], 0, leads])
        for end in range(ends):
            with_it = choices[choices >> end & 1 == 1]
            does = every.does[before, 1 << end, before]
            thing = len(self.ways) + end
            yield _Alone(thing, with_it, with_it & ~(1 << end), ways, np.arange(len(before)), before, does)

    def _look_ahead(self, every: Every, alone: Sequence[_Alone]) -> None:
        """Have worked out what may happen wherever one thing leads; of each kernel all at once."""
        asked: dict[Kernel, Truths] = {}
        for one in alone:
            for does in _each(one.does, every):
                table = asked.setdefault(every.kernels[does], np.zeros(len(self.truths), dtype=bool))
                table[one.leads[one.does == does]] = True
        for there, ways in asked.items():
            self.every(there, np.flatnonzero(ways))


def _each(does: Table, every: Every) -> list[int]:
    """Give each number of these that leads somewhere, once."""
    return [number for number in np.unique(does).tolist() if every.to[number] >= 0]


def _come_to_the_same(every: Every, does: int, then: Every) -> Truths:
    """Tell of the numbers of what is done after one thing, and of what is done together, where they come to the same: a
    truth for each pair, row by row."""
    after, both = (row.reshape(-1) for row in np.mgrid[: len(then.to), : len(every.to)])
    same = (then.to[after] == every.to[both]) & (every.to[both] >= 0)
    same &= ((every.once[does] | then.once[after]) == every.once[both]).all(axis=1)
    same &= ~(every.once[does] & then.once[after]).any(axis=1)
    same &= ((every.joined[does] | then.joined[after]) & every.kept[both] == every.joined[both]).all(axis=1)
    same &= ((every.seen[does] | then.seen[after]) == every.seen[both]).all(axis=1)
    return np.asarray(same)

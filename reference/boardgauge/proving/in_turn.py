"""Which of the things that happen at one moment may come first, and then the others, to the same.

Law of this module: a thing comes first in an instant only if what it does by itself, and then what all the others do
together, from where it led, is what all of them do together: where to, what is begun and ended, what is watched.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import prod
from typing import NamedTuple

import numpy as np

from boardgauge.proving.folding import Atom, Kernel, Numbers
from boardgauge.proving.instants import Every, Instants, Table
from boardgauge.proving.words import Truths, looked_up


class Part(NamedTuple):
    """A part of the ways of the inputs: those in the place ``one`` of ``size``, each of them ``times`` over, ``run``
    in a row."""

    times: int
    size: int
    run: int
    one: int

    def of(self, table: Table) -> Table:
        """Give the part of a table of which the last axis is all ways: that axis as two."""
        return table.reshape(*table.shape[:-1], self.times, self.size, self.run)[..., self.one, :]


class _Alone(NamedTuple):
    """One thing by itself: the choices of ends with it and without, the part of the ways of the inputs that it leaves
    them in, and of some ways before it their places, the ways that it leads to, and what it does, as a number."""

    thing: int
    choices: Numbers
    others: Numbers
    part: Part
    places: Numbers
    leads: Numbers
    does: Table


class InTurn(Instants):
    """Knows of the instants of a folded machine what may come first in each."""

    def first(self, kernel: Kernel, before: Numbers) -> Table:
        """Give for the instants of a kernel, with the inputs so before them, the bits of the things that may come
        first: by the place of the way before, the choice of ends, and the way after."""
        self.forget()
        every = self.every(kernel, before)
        alone = list(self._alone(every, before))
        self._look_ahead(every, alone)
        things = len(self.ways) + len(every.ends)
        shape = len(before), *every.does.shape[1:]
        found: Table = np.zeros(shape, dtype=np.min_scalar_type((1 << things) - 1))
        all_here = every.does[before]
        come_to: dict[int, list[Table]] = {}
        for one in alone:
            for does in _each(one.does, every):
                mine = np.flatnonzero(one.does == does)
                then, onward = self._then(kernel, does)
                rest = onward[one.others]
                some = np.flatnonzero(rest >= 0)
                there = one.part.of(then.does)[np.ix_(one.leads[mine], rest[some])]
                if does not in come_to:
                    come_to[does] = _come_to(every, does, then)
                where = np.ix_(one.places[mine], one.choices[some])
                here = one.part.of(all_here)[where]
                for table in come_to[does]:
                    good = looked_up(table, there) == here
                    one.part.of(found)[where] |= np.left_shift(good, one.thing, dtype=found.dtype)
        return found

    def _alone(self, every: Every, before: Numbers) -> Iterator[_Alone]:
        ends, choices, ways = len(every.ends), np.arange(1 << len(every.ends)), len(self.truths)
        for to, atom in zip(self.to, self.inputs, strict=True):
            places = np.flatnonzero(to[before] != before)
            leads, part = to[before[places]], self._part(atom)
            yield _Alone(atom.input, choices, choices, part, places, leads, every.does[before[places], 0, leads])
        for end in range(ends):
            with_it = choices[choices >> end & 1 == 1]
            does = every.does[before, 1 << end, before]
            thing = len(self.ways) + end
            part = Part(1, 1, ways, 0)
            yield _Alone(thing, with_it, with_it & ~(1 << end), part, np.arange(len(before)), before, does)

    def _part(self, atom: Atom) -> Part:
        """Give the part of the ways of the inputs in which one of them has this value: the last vary the fastest."""
        sizes = [len(values) for _, values in self.ways]
        return Part(prod(sizes[: atom.input]), sizes[atom.input], prod(sizes[atom.input + 1 :]), atom.value)

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


def _come_to(every: Every, does: int, then: Every) -> list[Table]:
    """Give tables that tell of each number of what is done after one thing which number of what is done together comes
    to the same, or one that there is not. There are as many as one may come to: mostly there is one."""
    after, both = _come_to_the_same(every, does, then)
    place = np.arange(len(after)) - np.searchsorted(after, after)
    tables: list[Table] = []
    for layer in range(place.max(initial=-1) + 1):
        mine = place == layer
        table = np.full(len(then.to), len(every.to), dtype=np.min_scalar_type(len(every.to)))
        table[after[mine]] = both[mine]
        tables.append(table)
    return tables


def _come_to_the_same(every: Every, does: int, then: Every) -> tuple[Numbers, Numbers]:
    """Give the numbers of what is done after one thing, in order, and of what is done together, that come to the
    same."""
    after, both = np.nonzero((then.to[:, None] == every.to) & (every.to >= 0))
    same = ((every.once[does] | then.once[after]) == every.once[both]).all(axis=1)
    same &= ~(every.once[does] & then.once[after]).any(axis=1)
    same &= ((every.joined[does] | then.joined[after]) & every.kept[both] == every.joined[both]).all(axis=1)
    same &= ((every.seen[does] | then.seen[after]) == every.seen[both]).all(axis=1)
    return after[same], both[same]

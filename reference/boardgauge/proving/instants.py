"""Every instant that a kernel can have, at once: whichever inputs change in it, and whichever timings are over.

Law of this module: of each instant it is told what it does, as ``ManyInstants`` does it. What says nothing but how fast
timings run is left out: it does nothing in an instant.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import prod

import numpy as np
import numpy.typing as npt
from attrs import define

from boardgauge.proving.folding import Folds, Kernel, Numbers
from boardgauge.proving.many import Done
from boardgauge.proving.many_journeys import differ
from boardgauge.proving.many_pictures import Standing
from boardgauge.proving.together import End
from boardgauge.proving.words import NO, YES, Bits, Truths, Words, any_of, numbered, packed, unpacked

MOST_INSTANTS = 1 << 22
"""So many instants of one kernel are looked at: ways of its inputs before, times after, times choices of ends."""

Table = npt.NDArray[np.uint32]
"""For each choice of ends, each way of the inputs after it and each before it, a number."""
Masks = npt.NDArray[np.uint64]


@define
class Every:
    """All instants of a kernel. ``does`` numbers what each does; by that number: ``to`` the number of the kernel that
    it leads to (-1 where the rules do not come to rest, or it is left out), ``kernels`` it, ``gone`` the bits of the
    ends that are not the same any more, ``joined`` what may come about twice and is once (as far as it is ``kept``),
    ``seen`` what is watched, ``once`` what may not come about twice."""

    ends: tuple[End, ...]
    does: Table
    to: npt.NDArray[np.int64]
    kernels: list[Kernel]
    joined: Masks
    kept: Masks
    seen: Masks
    once: Masks
    gone: npt.NDArray[np.int64]


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
        self._laid: dict[int, tuple[list[Words], list[Words]]] = {}

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

    def every(self, kernel: Kernel) -> Every:
        """Give all instants of a kernel that can be looked at."""
        found = self._every.get(kernel)
        if found is None:
            found = self._every[kernel] = self._settled(kernel)
        return found

    def _settled(self, kernel: Kernel) -> Every:
        folds, ends = self.folds, self.folds.ends(kernel)
        ways, choices = len(self.truths), 1 << len(ends)
        before, after = self._levels(len(ends))
        standing = folds.standing(kernel)._replace(levels=tuple(before))
        expired, dropped = due(ends, np.repeat(np.arange(choices), ways * ways))
        done = folds.many.settle(standing, after, expired, dropped, causes=False)
        number = choices * ways * ways
        state, joined, once = done.standing.columns(), _joined(done), _once(standing, done)
        seen = [bits for table in (done.broken, done.together) for _, bits in sorted(table.items())]
        again = [_again(done, end) for end in ends]
        # Where speed-ups are left out, what brings one about is no more gone through than what does not come to rest.
        refused = done.refused if folds.sped_up else any_of((done.refused, *done.sped))
        truths = [_truths(column, number) for column in (refused, *state, *joined, *seen, *once, *again)]
        does, firsts = numbered([row for row in truths if len(row) > 1], number)
        told = np.array([row[firsts] if len(row) > 1 else np.repeat(row, len(firsts)) for row in truths], dtype=bool)
        cuts = np.cumsum([1, len(state), len(joined), len(seen), len(once)])
        left_out, places, some, watched, others, anew = np.split(told, cuts)
        rows = zip(np.ascontiguousarray(places.T), left_out[0].tolist(), strict=True)
        kernels = [kernel if lost else self._kernel(row) for row, lost in rows]
        # What began and was cut short at the same moment began for nothing.
        runs = places[len(places) - 2 * len(folds.machine.timings) :]
        kept = np.ones(some.shape, dtype=bool)
        kept[: len(done.begun)] = runs[sorted(done.begun)]
        to = [self._numbers.setdefault(there, len(self._numbers)) for there in kernels]
        return Every(
            ends,
            does.astype(np.uint32).reshape(choices, ways, ways),
            np.where(left_out[0], -1, np.array(to, dtype=np.int64)),
            kernels,
            _masks(some),
            _masks(kept),
            _masks(watched),
            _masks(others),
            (anew.astype(np.int64) << np.arange(len(ends))[:, None]).sum(axis=0, dtype=np.int64),
        )

    def _kernel(self, state: Truths) -> Kernel:
        key = state.tobytes()
        found = self._kernels.get(key)
        if found is None:
            found = self._kernels[key] = self.folds.kernel_from(state.tolist())
        return found

    def _levels(self, ends: int) -> tuple[list[Words], list[Words]]:
        if ends not in self._laid:
            ways, choices = len(self.truths), 1 << ends
            before = [packed(np.tile(column, ways * choices)) for column in self.truths.T]
            after = [packed(np.tile(np.repeat(column, ways), choices)) for column in self.truths.T]
            self._laid[ends] = before, after
        return self._laid[ends]

    def _then(self, kernel: Kernel, does: int) -> tuple[Every, Numbers]:
        """Give what may happen after something was done, and for each choice of ends from before its number there,
        -1 if one of them is no longer to come, or is not the same."""
        found = self._thens.get((kernel, does))
        if found is None:
            every = self.every(kernel)
            then = self.every(every.kernels[does])
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

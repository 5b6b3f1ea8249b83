"""The steps of a folded machine: what may happen in a place, of what does the same one.

Law of this module: of two steps one is left out only if the other leads to the same place, does the same to every clock
that is followed, breaks the same, and may come wherever the one may.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np
from attrs import define, field

from boardgauge.machine.config import Config
from boardgauge.proving.folded_together import Combos, due, happenings
from boardgauge.proving.folding import Folds, Here, Kernel, Numbers, kernel_of
from boardgauge.proving.many import Done
from boardgauge.proving.noticing import Noted, Noticing
from boardgauge.proving.together import End, Happens
from boardgauge.proving.words import NO, Bits, Truths, Words, unpacked

Ends = frozenset[tuple[int, int]]
"""Ends of timings, and of the events of a count, which is not told: (timing, region)."""


class FoldedStep(NamedTuple):
    """What may happen in a place: ``levels`` the way that the inputs are, from which ``what`` happens.

    ``beside``: the ends that, due in the same moment, would be part of it. ``to``: the place that it leads to, but for
    settings; ``broken``: the watches that it breaks; ``noted``: what comes about in it that is looked for.
    """

    levels: tuple[bool, ...]
    what: Happens
    beside: Ends
    to: Config
    broken: tuple[int, ...]
    noted: tuple[Noted, ...] = ()


@define
class _OfKernel:
    """What may happen in one kernel, each row one instant: its way of the inputs before and after, which of ``combos``
    it is, what it does, as a number, and what would be part of it; of each number what it leads to, breaks and has
    come about."""

    before: Numbers
    after: Numbers
    which: Numbers
    does: Numbers
    beside: list[Ends]
    combos: list[tuple[int, ...]]
    kernels: list[Kernel]
    leads_to: Numbers
    broken: list[tuple[int, ...]]
    noted: list[tuple[Noted, ...]]


@define
class FoldedSteps:
    """Finds the steps of a folded machine, with the timings ``followed`` that have a clock."""

    folds: Folds
    followed: frozenset[int]
    noticing: Noticing | None = None
    _table: dict[Kernel, _OfKernel] = field(factory=dict)

    def steps(self, config: Config) -> Iterator[FoldedStep]:
        """Give what may happen in a place."""
        folds, kernel = self.folds, kernel_of(config)
        rows_of = self._table.get(kernel)
        if rows_of is None:
            rows_of = self._table[kernel] = self._worked_out(kernel)
        here = folds.here(kernel)
        home = here.home[folds.number[config.levels]]
        rows = np.flatnonzero(here.home[rows_of.before] == home)
        to = np.empty(len(rows), dtype=np.intp)
        leads_to = rows_of.leads_to[rows_of.does[rows]]
        for number in np.unique(leads_to).tolist():
            there = leads_to == number
            to[there] = folds.here(rows_of.kernels[number]).home[rows_of.after[rows[there]]]
        found: dict[tuple[int, int], list[int]] = {}
        for row, does, onward in zip(rows.tolist(), rows_of.does[rows].tolist(), to.tolist(), strict=True):
            beside = rows_of.beside[row]
            others = found.setdefault((does, onward), [])
            # What fewer ends would be part of may come wherever the other may.
            if not any(rows_of.beside[other] <= beside for other in others):
                others[:] = [other for other in others if not beside <= rows_of.beside[other]]
                others.append(row)
        for (_, onward), some in found.items():
            for row in some:
                yield self._step(config, rows_of, here, row, onward)

    def _step(self, config: Config, rows_of: _OfKernel, here: Here, row: int, onward: int) -> FoldedStep:
        folds = self.folds
        before, does = int(rows_of.before[row]), int(rows_of.does[row])
        atoms = [here.atoms[number] for number in rows_of.combos[int(rows_of.which[row])]]
        over = tuple(sorted(atom.end for atom in atoms if atom.end is not None))
        places, running, full = rows_of.kernels[rows_of.leads_to[does]]
        to = config._replace(levels=folds.levels[onward], places=places, running=running, full=full)
        what = Happens(folds.changes(before, int(rows_of.after[row])), over)
        return FoldedStep(
            folds.levels[before], what, rows_of.beside[row], to, rows_of.broken[does], rows_of.noted[does]
        )

    # -- all ways of the inputs of a kernel at once ------------------------------------------------------------------

    def _worked_out(self, kernel: Kernel) -> _OfKernel:
        folds, here = self.folds, self.folds.here(kernel)
        combos, known = happenings(folds, kernel)
        standing = folds.standing(kernel)
        ways = folds.ways_after(combos, here.atoms)
        levels = folds.levels_after(ways)
        expired, dropped = due(here.atoms, combos)
        done = folds.many.settle(standing, levels, expired, dropped, causes=bool(self.followed))
        bits = known & ~done.refused
        if not folds.sped_up:
            for sped in (*done.sped, *folds.many.sped_up(standing)):
                bits = bits & ~sped
        which, before = np.nonzero(unpacked(bits, len(folds.levels)))
        after = ways[which, before]
        gone = [self._ids(atom.end for n in combo if (atom := here.atoms[n]).end) for combo in combos]
        columns = _Columns(bits, which, before, len(folds.levels))
        state = columns.taken(done.standing.columns())
        broken = columns.taken([done.broken.get(number, NO) for number in range(len(folds.machine.watches))])
        told = columns.taken(self._told(done, standing.levels, levels))
        noted = [] if self.noticing is None else self.noticing.columns(standing, done, expired)
        shown = columns.taken([np.broadcast_to(row, bits.shape) for _, row in noted])
        gone_number, _ = _numbered(gone)
        does, first = _alike([*state, *broken, *told, *shown], gone_number[which])
        leads, kernels_first = _alike(state, np.zeros(len(which), dtype=np.intp))
        kernels = [self._kernel_from([row[one] for row in state]) for one in kernels_first.tolist()]
        beside, sets = _numbered(self._beside(here, (combos, known), which, before))
        # Of what does the same and comes to the same, one stands for all; and what does nothing is no step.
        home = here.home[before]
        stays = np.array([there == kernel for there in kernels], dtype=bool)[leads] & (here.home[after] == home)
        nothing = stays & np.array([not some for some in gone], dtype=bool)[which]
        for row in (*broken, *told, *shown):
            nothing &= ~row
        keep = np.flatnonzero(~nothing)
        if len(keep):
            key = np.stack((does[keep], home[keep], after[keep], beside[keep]))
            keep = keep[np.sort(np.unique(key, axis=1, return_index=True)[1])]
        breaks = [tuple(n for n, row in enumerate(broken) if row[one]) for one in first.tolist()]
        comes = [tuple(what for (what, _), row in zip(noted, shown, strict=True) if row[one]) for one in first.tolist()]
        besides = [sets[number] for number in beside[keep].tolist()]
        return _OfKernel(
            before[keep], after[keep], which[keep], does[keep], besides, combos, kernels, leads[first], breaks, comes
        )

    def _ids(self, ends: Iterator[End | None]) -> Ends:
        return frozenset((end.timing, end.region) for end in ends if end is not None and end.timing in self.followed)

    def _told(self, done: Done, before: Sequence[Bits], after: Sequence[Bits]) -> list[Bits]:
        """Give what of an instant the clocks that are followed hang on."""
        watched = {r.index for r in self.folds.machine.regions if r.timings and r.timings[0] in self.followed}
        found = [bits for timing, bits in done.begun.items() if timing in self.followed]
        for table in (done.counted, done.emptied, done.forgot):
            found += [bits for region, bits in table.items() if region in watched]
        all_changed: Bits = NO
        for (kind, index), causes in done.causes.items():
            if index in (self.followed if kind == "timing" else watched):
                happened = done.begun[index] if kind == "timing" else done.counted[index]
                found += [bits & happened for bits in causes.values()]
                all_changed = all_changed | (causes.get(("inputs", -1), NO) & happened)
        if np.any(all_changed):
            # All that changed together counts, so which did does.
            found += [(new ^ old) & all_changed for old, new in zip(before, after, strict=True)]
        return found

    def _beside(self, here: Here, known: Combos, which: Numbers, before: Numbers) -> list[Ends]:
        """Give for each instant the followed ends that would be part of it, were they due."""
        combos, words = known
        number = {frozenset(combo): row for row, combo in enumerate(combos)}
        truths = unpacked(words, len(self.folds.levels))
        ends = [(n, a.end) for n, a in enumerate(here.atoms) if a.end is not None and a.end.timing in self.followed]
        masks = np.zeros(len(which), dtype=np.int64)
        for place, (end, _) in enumerate(ends):
            with_it = [-1 if end in combo else number.get(frozenset((*combo, end)), -1) for combo in combos]
            row = np.array(with_it, dtype=np.intp)[which]
            masks |= (truths[row, before] & (row >= 0)).astype(np.int64) << place
        sets = {mask: self._ids(e for p, (_, e) in enumerate(ends) if mask >> p & 1) for mask in set(masks.tolist())}
        return [sets[mask] for mask in masks.tolist()]

    def _kernel_from(self, state: Sequence[bool]) -> Kernel:
        machine, values = self.folds.machine, iter(state)
        places = tuple([next(values) for _ in region.places].index(True) for region in machine.regions)
        timings = range(len(machine.timings))
        running = sum(1 << t for t in timings if next(values))
        return places, running, sum(1 << t for t in timings if next(values))


@define
class _Columns:
    """Takes the truths of instants out of words: of those that ``bits`` has, row by row."""

    bits: Words
    which: Numbers
    before: Numbers
    ways: int

    def taken(self, words: Sequence[Bits]) -> list[Truths]:
        """Give for each column a truth for each instant."""
        number = len(self.which)
        found = []
        for column in words:
            some = self.bits & column
            if not some.any():
                found.append(np.zeros(number, dtype=bool))
            elif (some == self.bits).all():
                found.append(np.ones(number, dtype=bool))
            else:
                found.append(unpacked(some, self.ways)[self.which, self.before])
        return found


def _alike(rows: Sequence[Truths], more: Numbers) -> tuple[Numbers, Numbers]:
    """Number columns of a table of truths, the same for those that are alike (and have the same of ``more``); and give
    for each number the first that has it."""
    if not len(more):
        return more, more
    varying = [row for row in rows if row.any() and not row.all()]
    words = np.packbits(np.array(varying, dtype=bool).reshape(-1, len(more)), axis=0).astype(np.uint64)
    words = np.concatenate((words, more[None].astype(np.uint64)))
    # Looked for by a sum that hardly ever is the same by chance; where it is, one by one.
    factors = np.random.default_rng(len(words)).integers(1, 1 << 63, size=(len(words), 1), dtype=np.uint64)
    _, first, number = np.unique((words * factors).sum(axis=0), return_index=True, return_inverse=True)
    if not (words[:, first[number.reshape(-1)]] == words).all():
        _, first, number = np.unique(words, axis=1, return_index=True, return_inverse=True)
    return number.reshape(-1).astype(np.intp), first.astype(np.intp)


def _numbered(sets: Sequence[Ends]) -> tuple[Numbers, list[Ends]]:
    number: dict[Ends, int] = {}
    found = [number.setdefault(some, len(number)) for some in sets]
    return np.array(found, dtype=np.intp), list(number)

"""The steps of a folded machine: what may happen in a place, of what does the same one.

Law of this module: of two steps one is left out only if the other leads to the same place, does the same to every clock
that is followed, breaks the same, and may come wherever the one may.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np
from attrs import define, evolve, field

from boardgauge.machine.config import Config, Outcome
from boardgauge.proving.at_one_moment import Moments, moments_of
from boardgauge.proving.folding import Folds, Kernel, Numbers, kernel_of
from boardgauge.proving.instants import due
from boardgauge.proving.many import Done
from boardgauge.proving.noticing import Noted, Noticing
from boardgauge.proving.together import End, Happens, settled
from boardgauge.proving.words import NO, Bits, Truths, any_of, numbered, unpacked

Ends = frozenset[tuple[int, int]]
"""Ends of timings, and of the events of a count, which is not told: (timing, region)."""


class FoldedStep(NamedTuple):
    """What may happen in a place: ``levels`` the way that the inputs are, from which ``what`` happens.

    ``beside``: the ends that, due in the same moment, would be part of it. ``to``: the place that it leads to, but for
    settings; ``broken``: the watches that it breaks; ``noted``: what comes about in it that is looked for; ``does``: a
    number, the same for all steps that do the same from one kernel.
    """

    levels: tuple[bool, ...]
    what: Happens
    beside: Ends
    to: Config
    broken: tuple[int, ...]
    noted: tuple[Noted, ...] = ()
    does: int = -1


@define
class _OfKernel:
    """What may happen in some places of a kernel, each row one instant: its way of the inputs before and after, which
    ``ends`` are over in it (bits), what it does, as a number, and what would be part of it; of each number what it
    leads to, breaks and has come about. ``numbered``: so many numbers for what is done were given before."""

    before: Numbers
    after: Numbers
    choice: Numbers
    does: Numbers
    beside: list[Ends]
    ends: tuple[End, ...]
    kernels: list[Kernel]
    leads_to: Numbers
    broken: list[tuple[int, ...]]
    noted: list[tuple[Noted, ...]]
    numbered: int = 0


@define
class FoldedSteps:
    """Finds the steps of a folded machine, with the timings ``followed`` that have a clock."""

    folds: Folds
    followed: frozenset[int]
    noticing: Noticing | None = None
    whole: bool = True
    """Whether all that may happen at one moment was looked at so far."""
    _instants: Moments = field(init=False)
    _table: dict[tuple[Kernel, int], _OfKernel] = field(factory=dict)
    _met: dict[Kernel, set[int]] = field(factory=dict)
    """The places of a kernel that something led to, and of which it is not worked out yet what may happen."""
    _numbered: int = 0
    _outcomes: dict[tuple[int, tuple[int, ...], tuple[int, ...]], Outcome] = field(factory=dict)
    _led: dict[tuple[int, tuple[int, ...], tuple[int, ...], tuple[bool, ...]], Outcome] = field(factory=dict)

    def __attrs_post_init__(self) -> None:
        self._instants = moments_of(self.folds)

    def steps(self, config: Config) -> Iterator[FoldedStep]:
        """Give what may happen in a place."""
        folds, kernel = self.folds, kernel_of(config)
        here = folds.here(kernel)
        home = int(here.home[folds.number[config.levels]])
        rows_of = self._of_place(kernel, home)
        rows = np.flatnonzero(here.home[rows_of.before] == home)
        to = np.empty(len(rows), dtype=np.intp)
        leads_to = rows_of.leads_to[rows_of.does[rows]]
        for number in np.unique(leads_to).tolist():
            there, kernel = leads_to == number, rows_of.kernels[number]
            to[there] = folds.here(kernel).home[rows_of.after[rows[there]]]
            self._met.setdefault(kernel, set()).update(to[there].tolist())
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
                yield self._step(config, rows_of, row, onward)

    def _step(self, config: Config, rows_of: _OfKernel, row: int, onward: int) -> FoldedStep:
        folds = self.folds
        before, does = int(rows_of.before[row]), int(rows_of.does[row])
        choice = int(rows_of.choice[row])
        over = tuple(sorted(end for place, end in enumerate(rows_of.ends) if choice >> place & 1))
        places, running, full = rows_of.kernels[rows_of.leads_to[does]]
        to = config._replace(levels=folds.levels[onward], places=places, running=running, full=full)
        what = Happens(folds.changes(before, int(rows_of.after[row])), over)
        return FoldedStep(
            folds.levels[before],
            what,
            rows_of.beside[row],
            to,
            rows_of.broken[does],
            rows_of.noted[does],
            rows_of.numbered + does,
        )

    def _of_place(self, kernel: Kernel, home: int) -> _OfKernel:
        """Give what may happen in a place, worked out with all places of its kernel that were met so far."""
        found = self._table.get((kernel, home))
        if found is None:
            homes = {home, *self._met.pop(kernel, ())}
            new = [place for place in homes if (kernel, place) not in self._table]
            found = self._worked_out(kernel, np.flatnonzero(np.isin(self.folds.here(kernel).home, new)))
            self._table |= dict.fromkeys(((kernel, place) for place in new), found)
        return found

    def outcome(self, before: Config, what: Happens, does: int, levels: tuple[bool, ...]) -> Outcome:
        """Give what a step does that leads to these levels: where to, what it breaks, and what it does to the clocks
        that are followed; of the rest what some step does that does the same to these. Raises CannotSettle."""
        key = does, before.settings, before.chosen
        found = self._led.get((*key, levels))
        if found is None:
            # Steps of one number do the same, so one of them is settled for all.
            done = self._outcomes.get(key)
            if done is None:
                done = self._outcomes[key] = settled(self.folds.engine, before, what)
            found = self._led[(*key, levels)] = evolve(done, config=done.config._replace(levels=levels))
        return found

    # -- all ways of the inputs of a kernel at once ------------------------------------------------------------------

    def _worked_out(self, kernel: Kernel, ways: Numbers) -> _OfKernel:
        folds, here = self.folds, self.folds.here(kernel)
        ends = folds.ends(kernel)
        self.whole = self.whole and self._instants.serves(kernel)
        choice, after, before, beside = self._instants.rows(kernel, ways)
        if not len(choice):
            return _OfKernel(before, after, choice, choice, [], ends, [], choice, [], [])
        standing = folds.standing(kernel)._replace(levels=tuple(folds.levels_after(before)))
        levels = folds.levels_after(after)
        expired, dropped = due(ends, choice)
        done = folds.many.settle(standing, levels, expired, dropped, causes=bool(self.followed))
        refused = done.refused
        if not folds.sped_up:
            refused = any_of((refused, *done.sped, *folds.many.sped_up(standing)))
        columns = _Columns(len(choice), np.flatnonzero(~_truths(refused, len(choice))))
        choice, after, before, beside = (row[columns.kept] for row in (choice, after, before, beside))
        state = columns.taken(done.standing.columns())
        broken = columns.taken([done.broken.get(number, NO) for number in range(len(folds.machine.watches))])
        told = columns.taken(self._told(done, standing.levels, levels))
        noted = [] if self.noticing is None else self.noticing.columns(standing, done, expired)
        shown = columns.taken([row for _, row in noted])
        mine = sum(1 << place for place, end in enumerate(ends) if end.timing in self.followed)
        gone, beside = choice & mine, beside & mine
        does, first = numbered([*state, *broken, *told, *shown], len(choice), gone)
        leads, kernels_first = numbered(state, len(choice))
        kernels = [folds.kernel_from([row[one] for row in state]) for one in kernels_first.tolist()]
        # Of what does the same and comes to the same, one stands for all; and what does nothing is no step.
        home = here.home[before]
        stays = np.array([there == kernel for there in kernels], dtype=bool)[leads] & (here.home[after] == home)
        nothing = stays & (gone == 0)
        for row in (*broken, *told, *shown):
            nothing &= ~row
        keep = np.flatnonzero(~nothing)
        if len(keep):
            number = len(folds.levels)
            key = ((does[keep] * number + home[keep]) * number + after[keep] << len(ends)) + beside[keep]
            keep = keep[np.sort(np.unique(key, return_index=True)[1])]
        breaks = [tuple(n for n, row in enumerate(broken) if row[one]) for one in first.tolist()]
        comes = [tuple(what for (what, _), row in zip(noted, shown, strict=True) if row[one]) for one in first.tolist()]
        sets = {mask: _ids(ends, mask) for mask in set(beside[keep].tolist())}
        besides = [sets[mask] for mask in beside[keep].tolist()]
        given, self._numbered = self._numbered, self._numbered + len(first)
        return _OfKernel(
            before[keep],
            after[keep],
            choice[keep],
            does[keep],
            besides,
            ends,
            kernels,
            leads[first],
            breaks,
            comes,
            given,
        )

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


@define
class _Columns:
    """Takes the truths of so many instants out of words, those of the instants ``kept``."""

    number: int
    kept: Numbers

    def taken(self, words: Sequence[Bits]) -> list[Truths]:
        """Give for each column a truth for each instant."""
        return [_truths(column, self.number)[self.kept] for column in words]


def _truths(column: Bits, number: int) -> Truths:
    if np.ndim(column) == 0:
        return np.full(number, column != NO)
    return unpacked(column, number)


def _ids(ends: Sequence[End], mask: int) -> Ends:
    return frozenset((end.timing, end.region) for place, end in enumerate(ends) if mask >> place & 1)

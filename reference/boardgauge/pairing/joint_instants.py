"""What may happen to two machines at one moment: which things have to be looked at together on either of them.

Law of this module: things are left apart only if one of them, first and alone, and then all the others, at the same
moment, come to the same as all together, on both machines. Where a pair of states has more choices of things than are
asked for, that is told.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations
from typing import NamedTuple

import numpy as np
from attrs import define

from boardgauge.machine.config import Config
from boardgauge.machine.settle import Engine
from boardgauge.pairing.pair import Pair
from boardgauge.proving import together
from boardgauge.proving.at_one_moment import Moments, moments_of_all
from boardgauge.proving.folding import Kernel, Numbers, kernel_of
from boardgauge.proving.instants import Table
from boardgauge.proving.together import End, Happens, Together
from boardgauge.proving.words import Truths

MOST_TOGETHER = 1 << 18
"""So many choices of things that may happen to a pair of states are asked for what they do together."""


class Thing(NamedTuple):
    """One thing that may happen: as each machine counts it, what it is of, and whether it is an end."""

    own: tuple[Happens, Happens]
    kinds: frozenset[object]
    is_end: bool


class Group(NamedTuple):
    """Things that have to be looked at together, and the ends that, due at the same moment, would be part of them."""

    things: tuple[int, ...]
    beside: frozenset[int]


@define
class _Side:
    """One of the machines."""

    together: Together
    instants: Moments | None


class JointInstants:
    """Answers for a pair of machines. With ``at_once`` false it is asked group by group, whatever the machines."""

    def __init__(self, pair: Pair, at_once: bool = True) -> None:
        self.whole = True
        """Whether all that may happen at one moment was looked at so far."""
        self._sides = tuple(
            _Side(Together(engine, []), _instants(engine) if at_once else None) for engine in (pair.first, pair.second)
        )
        self._firsts: dict[tuple[int, Kernel, int], Table] = {}

    def groups(self, configs: tuple[Config, Config], things: Sequence[Thing]) -> list[Group]:
        """Give what may happen to two configurations: things alone, and together where that is not the same."""
        rows = self._rows(things)
        if rows is not None and all(
            side.instants is not None and side.instants.serves(kernel_of(config))
            for side, config in zip(self._sides, configs, strict=True)
        ):
            return self._at_once(configs, things, rows)
        return self._one_by_one(configs, things)

    # -- all at once -------------------------------------------------------------------------------------------------

    def _rows(self, things: Sequence[Thing]) -> Numbers | None:
        """Give every choice of things that may be together, as bits of things; None if they are too many."""
        rows = np.zeros(1, dtype=np.int64)
        barred = [
            sum(1 << n for n, other in enumerate(things[:m]) if other.kinds & one.kinds) for m, one in enumerate(things)
        ]
        for number, others in enumerate(barred):
            rows = np.concatenate((rows, rows[rows & others == 0] | 1 << number))
            if len(rows) > MOST_TOGETHER:
                return None
        return rows[1:]

    def _at_once(self, configs: tuple[Config, Config], things: Sequence[Thing], rows: Numbers) -> list[Group]:
        may = [np.ones(len(rows), dtype=bool) for _ in things]
        for number, (side, config) in enumerate(zip(self._sides, configs, strict=True)):
            assert side.instants is not None
            self._ask(side.instants, config, [thing.own[number] for thing in things], rows, may)
        number_of = _ones(rows)
        first = np.zeros(len(rows), dtype=np.int64)
        for number, good in enumerate(may):
            first |= (good & (rows >> number & 1).astype(bool)).astype(np.int64) << number
        look = (number_of == 1) | (first == 0)
        ends = sum(1 << number for number, thing in enumerate(things) if thing.is_end)
        beside = self._beside(rows, number_of, first, ends, len(things))
        found = []
        for row in rows[look].tolist():
            group = tuple(number for number in range(len(things)) if row >> number & 1)
            kinds = frozenset[object]().union(*(things[number].kinds for number in group))
            due = beside[group[0]] if len(group) == 1 else ends & ~row
            left = (n for n in range(len(things)) if due >> n & 1 and not things[n].kinds & kinds)
            found.append(Group(group, frozenset(left)))
        return found

    @staticmethod
    def _beside(rows: Numbers, number_of: Numbers, first: Numbers, ends: int, things: int) -> list[int]:
        """Give for each thing alone the bits of the ends before which it may not come, at the same moment."""
        hurts = [0] * things
        two = number_of == 2
        for row, mine in zip(rows[two].tolist(), first[two].tolist(), strict=True):
            one, other = (number for number in range(things) if row >> number & 1)
            for number, end in ((one, other), (other, one)):
                if ends >> end & 1 and not mine >> number & 1:
                    hurts[number] |= 1 << end
        beside = list(hurts)
        left = (number_of > 2) & (first != 0)
        for number, mine in enumerate(hurts):
            left &= ~((first >> number & 1).astype(bool) & (rows & ~(1 << number) & mine == 0))
        for row, mine in zip(rows[left].tolist(), first[left].tolist(), strict=True):
            # Whichever of them comes first, an end that it may not come before is left to come after it.
            number = (mine & -mine).bit_length() - 1
            beside[number] &= ~row
        return beside

    def _ask(
        self, instants: Moments, config: Config, things: Sequence[Happens], rows: Numbers, may: list[Truths]
    ) -> None:
        """Ask one machine which things of each choice may come first."""
        kernel, folds = kernel_of(config), instants.folds
        ends = folds.ends(kernel)
        here = folds.number[folds.plain(config.levels)] // instants.hasty
        choice = np.zeros(len(rows), dtype=np.intp)
        after = np.full(len(rows), here, dtype=np.intp)
        numbers: list[int | None] = []
        for number, what in enumerate(things):
            mine = (rows >> number & 1).astype(bool)
            if what.over:
                place = next(p for p, end in enumerate(ends) if end[:2] == what.over[0][:2])
                choice[mine] |= 1 << place
                numbers.append(len(instants.ways) + place)
                continue
            input_ = instants.input_of(index for index, _ in what.levels)
            numbers.append(input_)
            if input_ is not None:
                values = dict(what.levels)
                indices, all_values = instants.ways[input_]
                value = all_values.index(tuple(values.get(i, config.levels[i]) for i in indices))
                after[mine] = instants.to[instants.atom(input_, value), after[mine]]
        first = self._first(instants, kernel, here)[choice, after]
        for number, thing in enumerate(numbers):
            if thing is None:
                continue
            some = np.flatnonzero((rows >> number & 1).astype(bool) & may[number])
            if thing < len(instants.ways):
                # A level may stay as it is on this machine.
                some = some[instants.values[thing, after[some]] != instants.values[thing, here]]
            may[number][some] = first[some] >> thing & 1 == 1

    def _first(self, instants: Moments, kernel: Kernel, here: int) -> Table:
        """Give the bits of the things that may come first, for each choice of ends and each way of the inputs after."""
        key = id(instants), kernel, here
        if key not in self._firsts:
            self._firsts[key] = instants.first(kernel, np.array([here]))[0]
        return self._firsts[key]

    # -- one by one --------------------------------------------------------------------------------------------------

    def _one_by_one(self, configs: tuple[Config, Config], things: Sequence[Thing]) -> list[Group]:
        firsts: dict[tuple[int, ...], list[int]] = {}
        for group in self._choices(things):
            firsts[group] = [n for n in group if self._may(configs, things, group, n)]
        ends = {number for number, thing in enumerate(things) if thing.is_end}
        rows = np.array([sum(1 << n for n in group) for group in firsts], dtype=np.int64)
        first = np.array([sum(1 << n for n in mine) for mine in firsts.values()], dtype=np.int64)
        sizes = np.array([len(group) for group in firsts], dtype=np.int64)
        beside = self._beside(rows, sizes, first, sum(1 << n for n in ends), len(things))
        found = []
        for group, mine in firsts.items():
            if len(group) == 1 or not mine:
                kinds = frozenset[object]().union(*(things[number].kinds for number in group))
                due = {n for n in ends if beside[group[0]] >> n & 1} if len(group) == 1 else ends - set(group)
                found.append(Group(group, frozenset(n for n in due if not things[n].kinds & kinds)))
        return found

    def _choices(self, things: Sequence[Thing]) -> list[tuple[int, ...]]:
        found: list[tuple[int, ...]] = []
        for size in range(1, len(things) + 1):
            for group in combinations(range(len(things)), size):
                if any(things[a].kinds & things[b].kinds for a, b in combinations(group, 2)):
                    continue
                if size > 2 and len(found) >= together.MOST_TOGETHER:
                    self.whole = False
                    return found
                found.append(group)
        return found

    def _may(self, configs: tuple[Config, Config], things: Sequence[Thing], group: tuple[int, ...], one: int) -> bool:
        for number, (side, config) in enumerate(zip(self._sides, configs, strict=True)):
            mine = things[one].own[number]
            others = [what for n in group if n != one and (what := things[n].own[number]) != Happens()]
            if mine != Happens() and not side.together.may_come_first(config, mine, others):
                return False
        return True


def _instants(engine: Engine) -> Moments | None:
    return moments_of_all(engine)


def _ones(rows: Numbers) -> Numbers:
    found = np.zeros(len(rows), dtype=np.int64)
    for number in range(int(rows.max(initial=0)).bit_length()):
        found += rows >> number & 1
    return found


def thing(first: Happens, second: Happens, kinds: Sequence[object]) -> Thing:
    """Give one thing that may happen; things of one kind never happen at one moment."""
    return Thing((first, second), frozenset(kinds), bool(first.over or second.over))


def end_kinds(first: Sequence[End], second: Sequence[End]) -> list[object]:
    """Give what ends are of: each timing of either machine, and each count."""
    return [(side, end[:2]) for side, ends in enumerate((first, second)) for end in ends]

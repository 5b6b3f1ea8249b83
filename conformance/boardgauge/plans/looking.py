"""Look through the pairs of states that a good board and a faulty one can be in, until where they show differently.

Law of this module: no length is followed. Where both stand alike the map of the good board is used, and only the steps
on which the fault acts are worked out anew; from there on pairs are looked through, nearest (in steps) first.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from itertools import product
from typing import Protocol

from attrs import define, field

from boardgauge.machine.config import Config
from boardgauge.machine.explore import Step
from boardgauge.machine.input_ways import Ways
from boardgauge.machine.logic import facts_of
from boardgauge.machine.picture import CannotSettle
from boardgauge.machine.quick import QuickEngine
from boardgauge.pairing.pair import Pair
from boardgauge.plans.acting import Acting
from boardgauge.plans.endings import NOTHING, Endings, Over, begun_anew
from boardgauge.plans.hand import OFF_FOR, Hand
from boardgauge.plans.seen import NOWHERE, Both, Onto, Parted, Plain, Seen, seen_of
from boardgauge.plans.terrain import Alike, Terrain, stepped

_MOST_POWER_UPS = 64
_ENOUGH = 30
"""So many pairs that show differently are enough to aim at."""
_AT_A_TIME = 40
"""So many pairs are looked through between two places of the map."""


class Two(Protocol):
    """A good board and a faulty one, as looking needs them."""

    good: QuickEngine
    faulty: QuickEngine
    hand: Hand
    own: str
    pulse: str | None
    most: int
    terrain: Terrain | None
    pair: Pair
    plain: tuple[Plain, Plain]
    ways: Ways
    alike: Alike | None
    acting: Acting | None


@define(eq=False)
class Looking:
    """Looks through the pairs of states of two boards, once."""

    two: Two
    complete: bool = True
    _numbers: dict[Both, int] = field(factory=dict)
    _before: list[list[tuple[int, int]]] = field(factory=list)
    """Of each pair those from which a step leads to it; a place of the map in which both stand alike as ``~place``, and
    once the fault has acted unseen as many numbers further on as there are places."""
    _back_at: dict[int, list[tuple[int, int]]] = field(factory=dict)
    """Of each place of the map the pairs from which both come to stand alike in it."""
    _unseen: dict[int, list[tuple[int, int]]] = field(factory=dict)
    """Of each place those from which a step leads to it in which the fault acts, and yet both stand alike then."""
    _parted: Parted = field(factory=Parted)
    _differ: list[int] = field(factory=list)
    _queue: deque[Both] = field(factory=deque)
    _shows: tuple[dict[Config, object], dict[Config, object]] = field(factory=lambda: ({}, {}))
    _settling: list[int] = field(init=False)
    _places: list[list[int]] = field(init=False)
    _endings: Endings = field(init=False)
    _own: list[int] = field(factory=list)
    _otherwise: list[int] = field(factory=list)
    """Timings that may be over on one board alone: at all, and where no fault has acted yet."""
    _anew: set[int] = field(factory=set)
    """Timings that begin anew on the faulty board alone as an input goes there and back again."""

    def __attrs_post_init__(self) -> None:
        two = self.two
        levels = two.pair.levels
        self._settling = [two.hand.settling(levels[indices[0]].input) for indices, _ in two.ways]
        number = {(row.input, row.comparison): row.index for row in levels}
        self._places = [
            [number[level.input, level.comparison] for level in engine.machine.levels]
            for engine in (two.good, two.faulty)
        ]
        self._endings = Endings(two.good.machine, two.faulty.machine, two.own)

    def look(self) -> Seen:
        """Look through all pairs, or as many as are let."""
        two = self.two
        if two.terrain is not None and two.alike is not None:
            self._look_over(two.terrain, two.alike)
        else:
            off = (two.plain[0].of(two.good.off()), two.plain[1].of(two.faulty.off()))
            self._reach(off, None, 0)
            self._go_on(two.most)
        return self._seen()

    def _look_over(self, terrain: Terrain, alike: Alike) -> None:
        """Look over the map for steps on which the fault acts, and go on from there."""
        self.complete = terrain.complete
        self._own = self._endings.apart
        self._otherwise = self._endings.otherwise if self.two.acting is not None else self._own
        for number, config in enumerate(terrain.places):
            faulty = alike(config)
            if faulty is not None:
                faulty = self.two.plain[1].of(faulty)
                self._act(terrain, number, (config, faulty))
            self._go_on(_AT_A_TIME)
            if len(self._differ) >= _ENOUGH or len(self._numbers) >= self.two.most:
                self.complete = self.complete and number + 1 == len(terrain.places) and not self._queue
                break
        else:
            self._go_on(self.two.most)
        if self._unseen:
            self._go_on_unseen(terrain)

    def _act(self, terrain: Terrain, number: int, both: Both) -> None:
        """Work out on which steps from a place of the map the boards come to stand otherwise."""
        two = self.two
        for step, target, cost, instant in terrain.steps(number):
            acts = two.acting is None or not (two.acting.keeps_alike if instant < 0 else not two.acting.acts(instant))
            after = self._alike_at(target) if not acts else None
            if after is None:
                try:
                    after = two.plain[1].of(stepped(two.faulty, both[1], step))
                except CannotSettle:
                    self.complete = False
                    continue
                self._reach((terrain.places[target], after), ~number, cost, target)
            self._parted.note(number, target, (terrain.places[target], after), after == self._alike_at(target))
            ends = (terrain.places[target], both[1]), (both[0], after)
            for timing in self._otherwise:
                if step.expired == (timing,) or self._drops(step, timing):
                    # The one is over on the good board alone, or on the faulty one alone.
                    for end in ends:
                        self._reach(end, ~number, cost)
            if acts and two.acting is not None and after == self._alike_at(target):
                self._unseen.setdefault(target, []).append((number, cost))
        if two.pulse is not None and both[0].powered:
            for cost, after_both, anew in self._flickers(both):
                self._reach(after_both, ~number, cost)
                if anew and after_both[1] == both[1]:
                    self._unseen.setdefault(number, []).append((number, cost))
                    self._anew |= anew

    def _go_on_unseen(self, terrain: Terrain) -> None:
        """Go on from where a fault acted and yet both stand alike: more or less may be left of what hangs on it on one
        board, so it is over there at another moment, now or later."""
        for place, good in enumerate(terrain.places):
            faulty = self._alike_at(place)
            if faulty is None:
                continue
            for step, end, time, _ in terrain.steps(place):
                if any(step.expired == (timing,) or self._drops(step, timing) for timing in (*self._own, *self._anew)):
                    try:
                        after = self.two.plain[1].of(stepped(self.two.faulty, faulty, step))
                    except CannotSettle:
                        continue
                    for both in ((terrain.places[end], faulty), (good, after)):
                        self._reach(both, ~(place + len(terrain.places)), time)
        self._go_on(self.two.most)

    def _alike_at(self, place: int) -> Config | None:
        """Give what the faulty board is in where both stand alike in a place of the map."""
        assert self.two.terrain is not None
        assert self.two.alike is not None
        its = self.two.alike(self.two.terrain.places[place])
        return None if its is None else self.two.plain[1].of(its)

    def _drops(self, step: Step, timing: int) -> bool:
        return any(timing in self.two.good.machine.regions[region].timings for region in step.dropped)

    def _go_on(self, most: int) -> None:
        for _ in range(most):
            if not self._queue:
                return
            both = self._queue.popleft()
            number = self._numbers[both]
            for cost, after in self._onward(both):
                self._reach(after, number, cost)

    def _seen(self) -> Seen:
        """Give for each pair, and each place of the map, the least time to where they show differently."""
        terrain = self.two.terrain if self.two.alike is not None else None
        back = () if terrain is None else terrain.back
        parted = self._parted.of(self._queue) if len(self._numbers) < self.two.most else set()
        onto = Onto(self._before, back, self._back_at, self._unseen, parted)
        return seen_of(list(self._numbers), self._differ, onto, self.complete)

    def _reach(self, both: Both, source: int | None, cost: int, place: int = NOWHERE) -> None:
        """Note that a step leads to a pair; ``place`` is where of the map it leads to if both stand alike then."""
        differ = self._show(0, both[0]) != self._show(1, both[1])
        at = None if differ else self._stands_alike(both, place)
        if at is not None:
            if source is not None and source >= 0:
                self._back_at.setdefault(at, []).append((source, cost))
            return
        number = self._numbers.get(both)
        if number is None:
            if len(self._numbers) >= self.two.most:
                self.complete = False
                return
            number = self._numbers[both] = len(self._before)
            self._before.append([])
            if differ:
                # From here on there is nothing more to look for.
                self._differ.append(number)
            else:
                self._queue.append(both)
        if source is not None:
            self._before[number].append((source, cost))

    def _stands_alike(self, both: Both, place: int) -> int | None:
        """Give the place of the map in which both boards stand alike, None if they do not."""
        terrain, alike = self.two.terrain, self.two.alike
        if terrain is None or alike is None:
            return None
        its = alike(both[0])
        if its is None or self.two.plain[1].of(its) != both[1]:
            return None
        return place if place >= 0 else terrain.number.get(both[0])

    def _show(self, side: int, config: Config) -> object:
        shows = self._shows[side]
        if config not in shows:
            shows[config] = self.two.pair.shows(self.two.faulty if side else self.two.good, config)
        return shows[config]

    def _onward(self, both: Both) -> Iterator[tuple[int, Both]]:
        good, faulty = both
        if not good.powered:
            yield from self._switched_on(both)
            return
        levels = self._levels(both)
        for (indices, all_values), cost in zip(self.two.ways, self._settling, strict=True):
            now = tuple(levels[index] for index in indices)
            for values in all_values:
                if values != now:
                    changed = list(levels)
                    for index, value in zip(indices, values, strict=True):
                        changed[index] = value
                    yield from self._after(both, tuple(changed), NOTHING, NOTHING, cost)
        if self.two.pulse is not None:
            yield from ((cost, after) for cost, after, _ in self._flickers(both))
        for one, other, cost in self._endings.of(*both):
            yield from self._after(both, levels, one, other, cost)
        plain = self.two.plain
        off = (plain[0].of(self.two.good.lose_power(good)), plain[1].of(self.two.faulty.lose_power(faulty)))
        yield 0, off

    def _levels(self, both: Both) -> tuple[bool, ...]:
        levels = [False] * len(self.two.pair.levels)
        for config, places in zip(both, self._places, strict=True):
            for index, level in zip(places, config.levels, strict=True):
                levels[index] = level
        return tuple(levels)

    def _switched_on(self, both: Both) -> Iterator[tuple[int, Both]]:
        rest = self.two.pair.at_rest()
        cost = OFF_FOR + self.two.hand.switched_on()
        for number, chosen in enumerate(product(*(values for _, values in self.two.ways))):
            if number >= _MOST_POWER_UPS:
                self.complete = False
                return
            levels = list(rest)
            for (indices, _), values in zip(self.two.ways, chosen, strict=True):
                for index, value in zip(indices, values, strict=True):
                    levels[index] = value
            yield from self._after(both, tuple(levels), NOTHING, NOTHING, cost, power_up=True)

    def _after(
        self, both: Both, levels: tuple[bool, ...], one: Over, other: Over, cost: int, *, power_up: bool = False
    ) -> Iterator[tuple[int, Both]]:
        parts = self.two.pair.parts(levels)
        good, faulty = self.two.good, self.two.faulty
        try:
            # What the good board does is asked again for the next fault.
            first = good.settle(both[0], parts[0], *one, power_up).config
            second = faulty.work_out(both[1], parts[1], facts_of(other[0], power_up), other[1]).config
        except CannotSettle:
            self.complete = False
            return
        yield cost, (self.two.plain[0].of(first), self.two.plain[1].of(second))

    def _flickers(self, both: Both) -> Iterator[tuple[int, Both, set[int]]]:
        """Give the pairs after an input went there and back again, and only the faulty board took it in, and what then
        begins anew on it."""
        faulty, parts = self.two.faulty, self.two.pair.parts
        levels = self._levels(both)
        for (indices, all_values), cost in zip(self.two.ways, self._settling, strict=True):
            if self.two.pair.levels[indices[0]].input != self.two.pulse:
                continue
            for values in all_values:
                there = list(levels)
                for index, value in zip(indices, values, strict=True):
                    there[index] = value
                try:
                    gone = faulty.work_out(both[1], parts(tuple(there))[1], 0, ())
                    back = faulty.work_out(gone.config, parts(levels)[1], 0, ())
                except CannotSettle:
                    continue
                yield cost, (both[0], self.two.plain[1].of(back.config)), begun_anew(faulty.machine, gone, back)

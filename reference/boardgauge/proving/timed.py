"""Explore a machine with its times: every configuration it can come to, and how long what runs in it may have run.

Law of this module: inputs may do anything at any time, every timing lasts anything inside its range. All that a board
can do is found; where ``Space.exact`` is true, nothing else is, but that what happens at one moment may also be taken
one after the other (as it would be a microsecond later). Up to three things are taken together, where that is not the
same. Where a bound was hit the result says so.

Pictures are what is explored: what the board has taken in and decided. Filters and lags are ahead of it and behind it.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator, Sequence
from itertools import product

import numpy as np
from attrs import define, field

from boardgauge.machine.config import Config, Outcome
from boardgauge.machine.input_ways import Ways, levels_watched, ways_together
from boardgauge.machine.picture import CannotSettle
from boardgauge.machine.settle import Engine
from boardgauge.proving.bounds import (
    Zones,
    at_nought,
    closed,
    coarser,
    inside_any,
    instants,
    rearranged,
    without_covered,
    without_empty,
)
from boardgauge.proving.clockwork import Clockwork, Node, Sources
from boardgauge.proving.space import Came, Found, Place, Seen, Space, Step, Stop
from boardgauge.proving.together import Happens, Together, both, clocks_of, ends_of, settled

MOST_ZONES = 400_000
"""So many zones are kept before exploring stops, unless the caller says otherwise."""

JOINED_BEFORE_WIDENED = 4
"""After so many joinings, what still grows in a joined zone is let go to its limit."""

_MOST_POWER_UPS = 4096


def explore_timed(
    engine: Engine,
    found: Found | None = None,
    seen: Seen | None = None,
    limit: int = MOST_ZONES,
    progress: Callable[[int, int], None] | None = None,
    of_a_place: int | None = None,
    sped_up: bool = False,
    timed: frozenset[int] | None = None,
) -> Space:
    """Explore a machine with its times.

    ``found`` may stop it; ``seen`` is told of every instant; ``limit`` is the most zones kept;
    ``progress`` is told now and then how many zones were gone on from, and how many there are. More than
    ``of_a_place`` zones of one node are joined into the least that holds them all: quicker, and no longer exact.
    Without ``sped_up`` no speed-up ever holds. ``timed`` are the timings whose length is followed, all if None; the
    others may be over at any time: more is found then than the board can do, and sooner.
    """
    return _Explorer(engine, found, seen, limit, progress, of_a_place, sped_up, timed).explore()


@define
class _Explorer:
    engine: Engine
    found: Found | None
    seen: Seen | None
    limit: int
    progress: Callable[[int, int], None] | None
    of_a_place: int | None
    sped_up: bool
    timed: frozenset[int] | None
    space: Space = field(factory=Space)
    clockwork: Clockwork = field(init=False)
    _numbers: dict[Node, int] = field(factory=dict)
    _queue: deque[int] = field(factory=deque)
    _queued: set[int] = field(factory=set)
    together: Together = field(init=False)
    _power_ups: list[tuple[tuple[int, bool], ...]] = field(init=False)
    _always: tuple[bool, ...] = field(init=False)

    def __attrs_post_init__(self) -> None:
        machine = self.engine.machine
        self.clockwork = Clockwork(self.engine, self.timed)
        self._always, first = levels_watched(machine)
        self.together = Together(self.engine, ways_together(machine, self._always))
        both = tuple(a or b for a, b in zip(self._always, first, strict=True))
        self._power_ups = list(self._all_power_ups(ways_together(machine, both)))

    def _all_power_ups(self, ways: Ways) -> Iterator[tuple[tuple[int, bool], ...]]:
        number = 1
        for _, values in ways:
            number *= len(values)
        if number > _MOST_POWER_UPS:
            self.space.complete = False
        for count, chosen in enumerate(product(*(values for _, values in ways))):
            if count >= _MOST_POWER_UPS:
                return
            yield tuple(
                (index, value)
                for (indices, _), taken in zip(ways, chosen, strict=True)
                for index, value in zip(indices, taken, strict=True)
            )

    def explore(self) -> Space:
        for positions in self._positions():
            self._add(self.clockwork.off(self.engine.off(positions)), Sources(), at_nought(), [None])
        gone_on = 0
        while self._queue and self.space.stop is None:
            number = self._queue.popleft()
            self._queued.discard(number)
            gone_on += self._go_on(number)
            if self.progress is not None:
                self.progress(gone_on, self.space.zones)
            if self.space.zones > self.limit:
                self.space.complete = False
                break
        joined = any(place.joined for place in self.space.places)
        self.space.exact = not self.clockwork.inexact and not joined and self.timed is None
        return self.space

    def _positions(self) -> Iterator[dict[str, str]]:
        """Give every way in which a person may have set the board."""
        named = [
            [(row.id, position.name) for position in row.positions if position.name is not None]
            for row in self.engine.machine.board.settings.values()
            if self.timed is None or any(self.engine.machine.timings[t].setting == row.id for t in self.timed)
        ]
        for chosen in product(*(names for names in named if names)):
            yield dict(chosen)

    # -- going on from a place ---------------------------------------------------------------------------------------

    def _go_on(self, number: int) -> int:
        place = self.space.places[number]
        zones, numbers = place.fresh, place.numbers
        place.fresh, place.numbers = zones[:0], []
        if place.steps is None:
            place.steps = self._steps(place.node)
        # What happens without any clock being over finds the clocks in the same zones.
        moments: dict[tuple[tuple[int, ...], tuple[int, ...]], tuple[Zones, list[int]]] = {}
        for step in place.steps:
            key = (step.gone, step.most)
            if key not in moments:
                moments[key] = self._moments(place.node, step, zones)
            then, rows = moments[key]
            if rows:
                self._take(place, step, then, [Came(number, numbers[row], step.what) for row in rows])
            if self.space.stop is not None:
                break
        if place.node.config.powered:
            self._lose_power(number, numbers, zones)
        return len(zones)

    def _steps(self, node: Node) -> list[Step]:
        if not node.config.powered:
            what = [Happens(levels, power=True) for levels in self._power_ups]
        else:
            what = self.together.happenings(node)
        known, ends = set(what), list(ends_of(node))
        steps = []
        for happens in what:
            most = []
            for clock, end in zip(node.clocks, ends, strict=True):
                # Were this one due now, it would be part of the instant; where that is the same, it may come next.
                with_it = end not in happens.over and both(happens, Happens(over=(end,))) in known
                most.append(clock.most - 1 if with_it else clock.most)
            steps.append(Step(happens, clocks_of(node, happens), tuple(most)))
        return steps

    def _moments(self, node: Node, step: Step, zones: Zones) -> tuple[Zones, list[int]]:
        if not node.config.powered:
            return zones, list(range(len(zones)))
        over = [clock.least if c in step.gone else None for c, clock in enumerate(node.clocks)]
        then = instants(zones, over, step.most)
        rows = np.flatnonzero(without_empty(then))
        return then[rows], rows.tolist()

    # -- one instant -------------------------------------------------------------------------------------------------

    def _take(self, place: Place, step: Step, then: Zones, came: list[Came]) -> None:
        node, what = place.node, step.what
        if step.outcome is None:
            try:
                step.outcome = settled(self.engine, node.config, what)
            except CannotSettle as refusal:
                self.space.refusals.setdefault(str(refusal), Stop(came[0], None, str(refusal)))
                return
        outcome = step.outcome
        if not self.sped_up and self._speeds_up(outcome.config):
            return
        if self.seen is not None:
            self.seen(node, outcome, came[0])
        if self.found is not None and self.found(node, outcome):
            self.space.stop = Stop(came[0], outcome)
            return
        if step.after is not None:
            self._add(*step.after, then, came)
            return
        rounded = self._rounded(node, outcome)
        for group in _alike(self._bounds_told(rounded, then), len(then)):
            bounds = _hull_bounds(then[group])
            after, sources = self.clockwork.after(node, outcome, step.gone, bounds)
            after = after._replace(config=self._plain(after.config))
            if not rounded:
                step.after = (after, sources)
            self._add(after, sources, then[group], [came[place] for place in group])

    def _speeds_up(self, config: Config) -> bool:
        return any(self.engine.sped_up(config, row.index) for row in self.engine.machine.speed_ups)

    def _rounded(self, node: Node, outcome: Outcome) -> list[int]:
        """Give the clocks whose bounds the next node hangs on, rounded outwards."""
        rates = self.clockwork.rates(outcome.config)
        found = []
        for number, clock in enumerate(node.clocks):
            stands_still = self.clockwork.adds_up(clock.timing) and not outcome.config.running >> clock.timing & 1
            if stands_still or rates[clock.timing] != clock.rate:
                found.append(number)
        return found

    def _bounds_told(self, rounded: list[int], zones: Zones) -> np.ndarray | None:
        """Give the bounds by which the zones part."""
        if not rounded or self.of_a_place is not None:
            return None
        bounds = [zones[:, [n + 1], 0] for n in rounded] + [-zones[:, 0, [n + 1]] for n in rounded]
        return np.concatenate(bounds, axis=1)

    def _lose_power(self, number: int, numbers: list[int], zones: Zones) -> None:
        node = self.space.places[number].node
        most = [clock.most for clock in node.clocks]
        then = instants(zones, [None] * len(most), most)
        rows = np.flatnonzero(without_empty(then))
        if len(rows):
            after = self.clockwork.without_power(node, _hull_bounds(then[rows]))
            came = Came(number, numbers[int(rows[0])], Happens(power=False))
            self._add(after._replace(config=self._plain(after.config)), Sources(), at_nought(), [came])

    def _plain(self, config: Config) -> Config:
        """Leave out the levels that nothing reads any more."""
        rows = zip(self.engine.machine.levels, config.levels, self._always, strict=True)
        levels = tuple(value if read else level.at_rest for level, value, read in rows)
        if self.timed is not None and not any(self.engine.machine.timings[t].setting for t in self.timed):
            first = self.engine.off()
            return config._replace(levels=levels, settings=first.settings, chosen=first.chosen)
        return config._replace(levels=levels)

    # -- keeping -----------------------------------------------------------------------------------------------------

    def _add(self, node: Node, sources: Sources, zones: Zones, came: Sequence[Came | None]) -> None:
        zones = rearranged(zones, sources.of, sources.starts)
        zones = coarser(zones, [c.least for c in node.clocks], [c.most for c in node.clocks])
        keep = without_covered(zones)
        number = self._numbers.get(node)
        if number is None:
            number = self._numbers[node] = len(self.space.places)
            self.space.places.append(Place(node, zones[:0], zones[:0]))
        for one in came:
            if one is not None:
                self.space.edges.add((number, one.node, one.what.power is False))
        place = self.space.places[number]
        keep = keep[~inside_any(zones[keep], place.held)]
        if not len(keep):
            return
        fresh, new = zones[keep], [came[index] for index in keep]
        if self.of_a_place is not None and len(place.held) + len(fresh) > self.of_a_place:
            fresh, new = self._joined(place, fresh), new[:1]
            place.held = place.held[:0]
        place.held = np.concatenate((place.held, fresh))
        place.fresh = np.concatenate((place.fresh, fresh))
        place.numbers += range(len(place.came), len(place.came) + len(new))
        place.came += new
        self.space.zones += len(new)
        if number not in self._queued:
            self._queued.add(number)
            self._queue.append(number)

    def _joined(self, place: Place, zones: Zones) -> Zones:
        """Give one zone that holds all of a place; after a few times, one that grows no more where it grew."""
        place.joined += 1
        all_zones = np.concatenate((place.held, zones))
        hull = all_zones.max(axis=0, keepdims=True)
        if place.joined > JOINED_BEFORE_WIDENED and len(place.held):
            most = np.array([0, *(c.most for c in place.node.clocks)], dtype=np.int64)
            grew = hull[0] > place.held.max(axis=0)
            hull[0] = np.where(grew, np.broadcast_to(most[:, None], grew.shape), hull[0])
            hull[:, np.arange(len(most)), np.arange(len(most))] = 0
        return closed(hull)


def _hull_bounds(zones: Zones) -> tuple[tuple[int, int], ...]:
    """Give the least and the greatest of each clock over some zones."""
    low, high = (-zones[:, 0, 1:]).min(axis=0), zones[:, 1:, 0].max(axis=0)
    return tuple(zip(low.tolist(), high.tolist(), strict=True))


def _alike(told: np.ndarray | None, number: int) -> Iterator[np.ndarray]:
    """Give the places of zones whose told bounds are equal, group by group."""
    if told is None:
        yield np.arange(number)
        return
    _, which = np.unique(told, axis=0, return_inverse=True)
    which = which.reshape(-1)
    for group in range(int(which.max()) + 1):
        yield np.flatnonzero(which == group)

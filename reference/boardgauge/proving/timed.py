"""Explore a machine with its times: every configuration it can come to, and how long what runs in it may have run.

Law of this module: inputs may do anything at any time, every timing lasts anything inside its range. All that a board
can do is found; where ``Space.exact`` is true, nothing else is, but that what happens at one moment may also be taken
one after the other (as it would be a microsecond later). However much happens at one moment is taken together, where it
does not come to the same one after the other. Where a bound was hit the result says so.

Pictures are what is explored: what the board has taken in and decided. Filters and lags are ahead of it and behind it.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
from attrs import define, field

from boardgauge.machine.config import Config, Outcome
from boardgauge.machine.input_ways import levels_watched
from boardgauge.machine.picture import CannotSettle
from boardgauge.machine.settle import Engine
from boardgauge.proving.beginnings import positions_of
from boardgauge.proving.bounds import Zones, at_nought, coarser, instants, rearranged, without_empty
from boardgauge.proving.clockwork import PARTS, Clockwork, Node, Sources
from boardgauge.proving.folding import Folds
from boardgauge.proving.keeping import alike, bounds_of, hull_bounds
from boardgauge.proving.noticing import Noticing
from boardgauge.proving.space import Came, Found, Place, Seen, Space, Step, Stop
from boardgauge.proving.steps import Steps
from boardgauge.proving.together import Happens

MOST_ZONES = 400_000
"""So many zones are kept before exploring stops, unless the caller says otherwise."""
MOST_STEPS = 200_000
"""So many steps are gone before exploring stops, unless the caller says otherwise: it is they that take the time."""
JOINED_AT_LAST = 16
"""So many zones of a place are kept apart before all are."""


def explore_timed(
    engine: Engine,
    found: Found | None = None,
    seen: Seen | None = None,
    limit: int = MOST_ZONES,
    progress: Callable[[int, int], None] | None = None,
    of_a_place: int | None = None,
    sped_up: bool = False,
    timed: frozenset[int] | None = None,
    new_first: bool = False,
    most_steps: int = MOST_STEPS,
    folds: Folds | None = None,
    coarse: bool = False,
    noticing: Noticing | None = None,
) -> Space:
    """Explore a machine with its times.

    ``found`` may stop it; ``seen`` is told of every instant; ``limit`` is the most zones kept, ``most_steps`` the
    most steps gone; ``progress`` is told now and then how many zones were gone on from, and how many there are. More
    than ``of_a_place`` zones of one node are joined into the least that holds them all: quicker, and no longer exact.
    Without ``sped_up`` no speed-up ever holds. ``timed`` are the timings whose length is followed, all if None; the
    others may be over at any time: more is found then than the board can do, and sooner. With ``new_first`` the places
    of rules that were never met together are gone on from before the rest, and ways are no longer the shortest. With
    ``folds``, those of this engine, places are folded: quicker by far, and ways are no longer the shortest either. A
    ``coarse`` look lets every setting be in any position whenever a timing begins, and of what is not followed exactly
    it remembers nothing: quicker again, and more is found than the board can do. What ``noticing`` looks for is told
    to it in place of ``seen``, but for what switching on brings about. Of a folded instant ``found`` and ``seen`` are
    told for certain only where it leads to, what it breaks, and what it does to the timings that are followed.
    """
    return _Explorer(
        engine, found, seen, limit, progress, of_a_place, sped_up, timed, new_first, most_steps, folds, coarse, noticing
    ).explore()


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
    new_first: bool = False
    most_steps: int = MOST_STEPS
    folds: Folds | None = None
    coarse: bool = False
    noticing: Noticing | None = None
    space: Space = field(factory=Space)
    clockwork: Clockwork = field(init=False)
    _numbers: dict[Node, int] = field(factory=dict)
    _queue: deque[int] = field(factory=deque)
    _queued: set[int] = field(factory=set)
    _met: set[tuple[tuple[int, ...], int]] = field(factory=set)
    _always: tuple[bool, ...] = field(init=False)
    _off: Config = field(init=False)
    _followed: frozenset[int] = field(init=False)
    _steps: Steps = field(init=False)
    _levels_read: dict[tuple[bool, ...], tuple[bool, ...]] = field(factory=dict)
    _led: dict[Any, tuple[Node, Sources]] = field(factory=dict)
    """Where folded steps that do one thing lead to, whatever the levels, and which clocks theirs come from."""

    def __attrs_post_init__(self) -> None:
        machine = self.engine.machine
        self._followed = frozenset(range(len(machine.timings)) if self.timed is None else self.timed)
        self.space.folds = self.folds
        self.clockwork = Clockwork(self.engine, self.timed, self.coarse, 1 if self.coarse else PARTS)
        self._always, self._off = levels_watched(machine)[0], self.engine.off()
        self._steps = Steps(self.engine, self._followed, self.folds, self.noticing)

    def explore(self) -> Space:
        # A coarse look lets every setting be in any position anyway.
        for positions in positions_of(self.engine.machine, () if self.coarse else self._followed):
            self._add(self.clockwork.off(self.engine.off(positions)), Sources(), at_nought(), [None])
        gone_on = 0
        while self._queue and self.space.stop is None:
            number = self._queue.popleft()
            self._queued.discard(number)
            gone_on += self._go_on(number)
            if self.progress is not None:
                self.progress(gone_on, self.space.zones)
            if self.space.zones > self.limit or self.space.steps > self.most_steps:
                # What was the last to be gone on from does not make it incomplete.
                self.space.complete = not self._queue
                break
        self.space.whole = self._steps.whole
        self.space.complete = self.space.complete and self.space.whole
        joined = any(place.joined for place in self.space.places)
        self.space.rounded = self.clockwork.inexact or (self.coarse and self._hangs_on_settings())
        self.space.exact = not (self.space.rounded or joined or self.timed is not None or self.folds is not None)
        return self.space

    # -- going on from a place ---------------------------------------------------------------------------------------

    def _go_on(self, number: int) -> int:
        place = self.space.places[number]
        zones, numbers = place.taken()
        if place.steps is None:
            place.steps = self._steps.of(place.node)
        # What happens without any clock being over finds the clocks in the same zones.
        moments: dict[tuple[tuple[int, ...], tuple[int, ...]], tuple[Zones, list[int]]] = {}
        self.space.steps += len(place.steps)
        for step in place.steps:
            key = (step.gone, step.most)
            if key not in moments:
                moments[key] = self._moments(place.node, step, zones)
            then, rows = moments[key]
            if rows:
                came = [Came(number, numbers[row], step.what, step.before) for row in rows]
                self._take(place, step, then, came)
            if self.space.stop is not None:
                break
        if place.node.config.powered:
            self._lose_power(number, numbers, zones)
        return len(zones)

    def _moments(self, node: Node, step: Step, zones: Zones) -> tuple[Zones, list[int]]:
        if not node.config.powered:
            return zones, list(range(len(zones)))
        over = [clock.least if c in step.gone else None for c, clock in enumerate(node.clocks)]
        then = instants(zones, over, step.most)
        rows = np.flatnonzero(without_empty(then))
        return then[rows], rows.tolist()

    # -- one instant -------------------------------------------------------------------------------------------------

    def _take(self, place: Place, step: Step, then: Zones, came: list[Came]) -> None:
        node = place.node
        if step.outcome is None:
            try:
                step.outcome = self._steps.outcome(node, step)
            except CannotSettle as refusal:
                self.space.refusals.setdefault(str(refusal), Stop(came[0], None, str(refusal)))
                return
        outcome = step.outcome
        if not self.sped_up and step.before is None and self._speeds_up(outcome.config):
            return
        if self.noticing is not None and step.before is not None:
            self.noticing.note(step.noted, came[0])
        elif self.seen is not None:
            self.seen(node, outcome, came[0])
        if self.found is not None and self.found(node, outcome):
            self.space.stop = Stop(came[0], outcome)
            return
        if step.after is not None:
            self._add(*step.after, then, came)
            return
        known = self._led.get(key := self._does(node, step, outcome))
        if known is not None:
            after, sources = known
            config = after.config._replace(levels=self._read(outcome.config.levels))
            step.after = after._replace(config=config), sources
            self._add(*step.after, then, came)
            return
        rounded = self._rounded(node, outcome)
        for group in alike(self._bounds_told(rounded, then), len(then)):
            bounds = hull_bounds(then[group])
            after, sources = self.clockwork.after(node, outcome, step.gone, bounds)
            # A folded step leads home.
            config = self._plain(after.config) if step.before is not None else self._home(after.config)
            after = after._replace(config=config)
            if not rounded:
                step.after = (after, sources)
                if key is not None:
                    self._led[key] = step.after
            self._add(after, sources, then[group], [came[place] for place in group])

    def _does(self, node: Node, step: Step, outcome: Outcome) -> Any:
        """Give what the next node hangs on, but for the levels: the same for very many folded steps."""
        if step.before is None:
            return None
        config = outcome.config
        rates = tuple(self.clockwork.rates(config))
        return step.does, node.clocks, node.sums, step.gone, rates, config.settings, config.chosen

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
        return bounds_of(zones, rounded)

    def _lose_power(self, number: int, numbers: list[int], zones: Zones) -> None:
        node = self.space.places[number].node
        most = [clock.most for clock in node.clocks]
        then = instants(zones, [None] * len(most), most)
        rows = np.flatnonzero(without_empty(then))
        if len(rows):
            after = self.clockwork.without_power(node, hull_bounds(then[rows]))
            came = Came(number, numbers[int(rows[0])], Happens(power=False))
            self._add(after._replace(config=self._plain(after.config)), Sources(), at_nought(), [came])

    def _plain(self, config: Config) -> Config:
        """Leave out the levels that nothing reads any more."""
        levels = self._read(config.levels)
        if self.coarse or not self._hangs_on_settings():
            return config._replace(levels=levels, settings=self._off.settings, chosen=self._off.chosen)
        return config._replace(levels=levels)

    def _read(self, levels: tuple[bool, ...]) -> tuple[bool, ...]:
        """Give levels without those that nothing reads any more."""
        found = self._levels_read.get(levels)
        if found is None:
            rows = zip(self.engine.machine.levels, levels, self._always, strict=True)
            found = tuple(value if read else level.at_rest for level, value, read in rows)
            self._levels_read[levels] = found
        return found

    def _hangs_on_settings(self) -> bool:
        return any(self.engine.machine.timings[t].setting for t in self._followed)

    def _home(self, config: Config) -> Config:
        plain = self._plain(config)
        return plain if self.folds is None else self.folds.home(plain)

    # -- keeping -----------------------------------------------------------------------------------------------------

    def _add(self, node: Node, sources: Sources, zones: Zones, came: Sequence[Came | None]) -> None:
        if not node.clocks and node in self._numbers:
            # Without a clock all of its zones are one.
            return
        zones = rearranged(zones, sources.of, sources.starts)
        most = [c.most for c in node.clocks]
        zones = coarser(zones, [c.least for c in node.clocks], most)
        number = self._numbers.get(node)
        if number is None:
            number = self._numbers[node] = len(self.space.places)
            self.space.places.append(Place(len(node.clocks), node=node))
        place = self.space.places[number]
        new = place.take_in(zones, came, most, self.of_a_place)
        if not new:
            return
        self.space.zones += new
        if number in self._queued:
            return
        self._queued.add(number)
        met = (node.config.places, node.config.running)
        if self.new_first and met not in self._met:
            self._met.add(met)
            self._queue.appendleft(number)
        else:
            self._queue.append(number)

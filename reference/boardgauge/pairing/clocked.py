"""Take two machines through everything side by side, with the lengths of some timings followed.

Law of this module: the moments of both are kept in one zone, so what began together is known to have run equally long.
The second board's timings are over whenever their ranges let them be. What the first has running alone, without a
partner that runs alike, may be over whenever it likes. Either every way that it may go is taken; or it *waits*: until
its partner is over, or until something shows on the second that it can show too by letting a time be over that has run
long enough, and at the latest until its range ends. Either way the first can follow the second wherever no difference
is found. That there always is a moment for what it does is seen to; where there may be none the answer is left open.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Sequence
from itertools import combinations
from typing import NamedTuple

import numpy as np
from attrs import define, field

from boardgauge.machine.picture import CannotSettle
from boardgauge.pairing.clocks import SIDES, Nodes, PairOfClockworks
from boardgauge.pairing.joint_way import Blamed, JointWay
from boardgauge.pairing.jointly import FIRST, SECOND, Joint, Jointly, NeitherSettles, Occurs, Outcomes, together
from boardgauge.pairing.outcome import TOO_MUCH, Lockstep, Progress
from boardgauge.proving.bounds import (
    Zones,
    at_nought,
    coarser,
    instants,
    rearranged,
    where_at_least,
    where_at_most,
    without_empty,
)
from boardgauge.proving.clockwork import Clock
from boardgauge.proving.keeping import Kept, alike, bounds_of
from boardgauge.proving.together import End


class _Came(NamedTuple):
    place: int
    zone: int
    occurs: Occurs


@define
class _Place(Kept[_Came | None]):
    nodes: Nodes = field(kw_only=True)
    steps: list[_Step] | None = None


_Bound = tuple[int, Clock, End, int]
"""A clock that keeps to its limits: whose it is, its end, and its number in the zone."""


@define
class _Step:
    """What may happen to a pair, and between what the numbers in the zone then lie."""

    occurs: Occurs
    least: tuple[int | None, ...]
    most: tuple[int, ...]
    answers: list[tuple[Occurs, list[tuple[int, int]]]] | None = None
    """What the first may add to it, in the order in which it is tried, and how long what is added has run at least."""


def explore_clocked(
    jointly: Jointly,
    timed: Blamed,
    limit: int,
    joined: int | None,
    waits: bool = False,
    progress: Progress | None = None,
) -> Lockstep:
    """Take both through everything with the timings ``timed`` followed (first's, second's); the others may be over at
    any time. More than ``joined`` zones of a pair are joined into one that holds them all; none if None. ``waits``:
    what the first has running alone waits, where its length is followed; the answer then counts one way only."""
    return _Explorer(jointly, timed, limit, joined, waits, progress).explore()


@define
class _Explorer:
    jointly: Jointly
    timed: Blamed
    limit: int
    joined: int | None
    waits: bool
    progress: Progress | None
    _clocks: PairOfClockworks = field(init=False)
    _places: list[_Place] = field(factory=list)
    _where: dict[Nodes, int] = field(factory=dict)
    _queue: deque[int] = field(factory=deque)
    _queued: set[int] = field(factory=set)
    _zones: int = 0
    _done: int = 0

    def __attrs_post_init__(self) -> None:
        self._clocks = PairOfClockworks(self.jointly, self.timed)

    def explore(self) -> Lockstep:
        self._add(self._clocks.start(), at_nought(), [None])
        while self._queue:
            number = self._queue.popleft()
            self._queued.discard(number)
            try:
                found = self._go_on(number)
            except CannotSettle as refusal:
                return Lockstep("open", self._zones, ("coming to rest",), why=str(refusal))
            if found is not None:
                return found
            if self._zones > self.limit:
                why = f"not all was explored, only {self._zones} zones of pairs of states"
                return Lockstep("open", self._zones, why=why)
            if self.progress is not None:
                self.progress(self._done, self._zones)
        if not self.jointly.whole:
            return Lockstep("open", self._zones, why=TOO_MUCH)
        return Lockstep("held", self._zones, by=self.jointly.named(self.timed))

    # -- going on from a place ---------------------------------------------------------------------------------------

    def _go_on(self, number: int) -> Lockstep | None:
        place = self._places[number]
        zones, numbers = place.taken()
        self._done += len(zones)
        if place.steps is None:
            place.steps = self._steps(place.nodes)
        for step in place.steps:
            then = instants(zones, step.least, step.most)
            rows = np.flatnonzero(without_empty(then))
            if not len(rows):
                continue
            came = [_Came(number, numbers[row], step.occurs) for row in rows.tolist()]
            found = self._take(place.nodes, step, then[rows], came)
            if found is not None:
                return found
        return None

    def _steps(self, nodes: Nodes) -> list[_Step]:
        joint, clocks = nodes.joint, nodes.clocks()
        dimensions = max(nodes.numbers, default=-1) + 1
        ends = tuple([end for s, _, end, _ in clocks if s == side] + self._not_followed(joint, side) for side in SIDES)
        happens = self.jointly.moments(joint, (ends[FIRST], ends[SECOND]))
        # Whatever the first may do alone has its own limits; what runs alike is over when the second's is.
        bound = [row for row in clocks if row[0] == SECOND or not self.jointly.runs_alike(joint, FIRST, row[1].timing)]
        waiting = {end for side, clock, end, _ in bound if self._waits(side, clock)}
        steps = []
        for occurs, beside in happens:
            least: list[int | None] = [None] * dimensions
            # What the first waited for to its last moment is its answer, and not one more thing that happens.
            given = occurs._replace(first=tuple(end for end in occurs.first if end not in waiting))
            # That is over by itself only if the second may still let time pass.
            spare = 1 if given == Occurs() else 0
            most = self._most(bound, dimensions, spare)
            for side, clock, end, number in bound:
                if end in occurs.over(side):
                    soonest = clock.most if self._waits(side, clock) else clock.least
                    least[number] = max(soonest, least[number] or 0)
                elif self.jointly.end(joint, side, end) in beside:
                    # Were this one due now, it would be part of the instant; where that is the same, it may come next.
                    most[number] = min(most[number], clock.most - 1)
            steps.append(_Step(occurs, tuple(least), tuple(most)))
        return steps

    @staticmethod
    def _most(bound: Sequence[_Bound], dimensions: int, spare: int) -> list[int]:
        most = [_NEVER] * dimensions
        for side, clock, _, number in bound:
            most[number] = min(most[number], clock.most - spare if side == SECOND else clock.most)
        return most

    def _not_followed(self, joint: Joint, side: int) -> list[End]:
        return [end for end in self.jointly.running(joint)[side] if end.timing not in self.timed[side]]

    # -- one instant -------------------------------------------------------------------------------------------------

    def _take(self, nodes: Nodes, step: _Step, then: Zones, came: list[_Came]) -> Lockstep | None:
        if step.answers is None:
            step.answers = list(self._answers(nodes, step.occurs))
        for occurs, least in step.answers:
            try:
                joint, outcomes = self.jointly.after(nodes.joint, occurs)
            except NeitherSettles:
                # The second does not come to rest, whatever the first adds to it.
                return None
            if self.jointly.pair.differ(joint.first, joint.second):
                continue
            part, rows = then, np.arange(len(then))
            for number, long in least:
                part = where_at_least(part, number, long)
            if least:
                rows = np.flatnonzero(without_empty(part))
            found = self._go(nodes, joint, outcomes, occurs, part[rows], [came[row] for row in rows.tolist()])
            if found is not None or not least:
                return found
            # What is left has one of them not run long enough.
            rest = [where_at_most(then, number, long - 1) for number, long in least]
            then, came = np.concatenate(rest), came * len(rest)
            keep = np.flatnonzero(without_empty(then))
            then, came = then[keep], [came[row] for row in keep.tolist()]
            if not len(then):
                return None
        joint, _ = self.jointly.after(nodes.joint, step.occurs)
        differ = self.jointly.pair.differ(joint.first, joint.second)
        return Lockstep("open", self._zones, differ, (), self._way(came[0]))

    def _answers(self, nodes: Nodes, occurs: Occurs) -> Iterator[tuple[Occurs, list[tuple[int, int]]]]:
        """Give what the first may add to something: its partner's end, nothing, or the end of one or two that wait."""
        waiting = {}
        if self.waits and occurs.power is None:
            for side, clock, end, number in nodes.clocks():
                alone = side == FIRST and not self.jointly.runs_alike(nodes.joint, FIRST, end.timing)
                if alone and self._waits(side, clock) and end not in occurs.first:
                    waiting[end] = (number, clock.least)
        over = {end.timing for end in occurs.second}
        mates = [end for end in waiting if self.jointly.partners.get(end.timing) in over and end.which == 0]
        sets: list[tuple[End, ...]] = [tuple(mates)] if mates else []
        sets += [(), *((end,) for end in waiting), *combinations(waiting, 2)]
        for some in sets:
            yield together(occurs, Occurs(first=some)) if some else occurs, [waiting[end] for end in some]

    def _waits(self, side: int, clock: Clock) -> bool:
        """Tell whether a timing waits, if it runs alone: not if it is followed with rounding, or is any of several."""
        choices = self._clocks.works[side].machine.timings[clock.timing].choices
        return self.waits and side == FIRST and clock.used == (0, 0) and len(choices) == 1

    def _go(
        self,
        nodes: Nodes,
        joint: Joint,
        outcomes: Outcomes | None,
        occurs: Occurs,
        then: Zones,
        came: list[_Came],
    ) -> Lockstep | None:
        if not len(then):
            return None
        came = [row._replace(occurs=occurs) for row in came]
        if outcomes is None:
            self._add(self._clocks.without_power(nodes, joint, then), at_nought(), came[:1])
            return None
        rounded = self._clocks.rounded(nodes, outcomes)
        told = bounds_of(then, rounded) if rounded and self.joined is None else None
        for group in alike(told, len(then)):
            after, sources, alone = self._clocks.after(nodes, joint, outcomes, occurs, then[group])
            zones = rearranged(then[group], sources.of, sources.starts)
            if any((zones[:, number + 1, 0] > most).any() for number, most in alone):
                return Lockstep("open", self._zones, why="a time may be over before what begins it is taken in")
            self._add(after, zones, [came[row] for row in group.tolist()])
        return None

    # -- keeping -----------------------------------------------------------------------------------------------------

    def _add(self, nodes: Nodes, zones: Zones, came: Sequence[_Came | None]) -> None:
        dimensions = zones.shape[1] - 1
        least, most = [0] * dimensions, [0] * dimensions
        for _, clock, _, number in nodes.clocks():
            least[number], most[number] = max(least[number], clock.least), max(most[number], clock.most)
        zones = coarser(zones, least, most)
        where = self._where.get(nodes)
        if where is None:
            where = self._where[nodes] = len(self._places)
            self._places.append(_Place(dimensions, nodes=nodes))
        new = self._places[where].take_in(zones, came, most, self.joined)
        self._zones += new
        if new and where not in self._queued:
            self._queued.add(where)
            self._queue.append(where)

    def _way(self, came: _Came | None) -> JointWay:
        happened = []
        while came is not None:
            happened.append(came.occurs)
            came = self._places[came.place].came[came.zone]
        return JointWay(self.jointly, tuple(reversed(happened)))


_NEVER = 1 << 55

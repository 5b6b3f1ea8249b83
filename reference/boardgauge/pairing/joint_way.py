"""A way that two machines went side by side: whether their timings allow it, and when what happens on it may happen.

Law of this module: the moments of both hang together by differences alone, as those of one machine do; a way is ruled
out only by a circle of lengths that contradict one another.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product

from attrs import define, evolve, field

from boardgauge.machine.chance import Timings
from boardgauge.machine.scenario import Scenario
from boardgauge.pairing.jointly import FIRST, SECOND, Jointly, Occurs
from boardgauge.proving.clockwork import Node
from boardgauge.proving.moments import Limit, Way, least_moments
from boardgauge.proving.together import Happens
from boardgauge.proving.witness import GAPS, scenario_at

TIMINGS: tuple[Timings | None, ...] = ("nominal", "earliest", "latest", None)
Blamed = tuple[frozenset[int], frozenset[int]]


@define
class JointWay:
    """What happens to both, from before they are switched on for the first time."""

    jointly: Jointly
    happened: tuple[Occurs, ...]
    _ways: tuple[Way, Way] = field(init=False)
    _follows: bool = field(init=False)

    def __attrs_post_init__(self) -> None:
        pair, start = self.jointly.pair, self.jointly.start()
        one, other = (
            Way(engine, Node(config), tuple(self.jointly.own(side, occurs) for occurs in self.happened))
            for side, engine, config in ((FIRST, pair.first, start.first), (SECOND, pair.second, start.second))
        )
        self._ways = (one, other)
        self._follows = one.follows() and other.follows()

    def culprits(self) -> Blamed:
        """Give the timings of either board whose lengths together rule the way out; none where they do not."""
        if not self._follows:
            return frozenset(), frozenset()
        found, blamed = least_moments(self._gaps(0), self._limits(None, True), 0)
        if found is not None:
            return frozenset(), frozenset()
        offset = self._offset()
        return frozenset(t for t in blamed if t < offset), frozenset(t - offset for t in blamed if t >= offset)

    def met(self) -> Blamed:
        """Give the timings of either board that run on the way."""
        one, other = (frozenset(span.clock.timing for span in way.spans) for way in self._ways)
        return one, other

    def scenarios(self, title: str) -> Iterator[Scenario]:
        """Give scenarios by which either board may go this way, its settings as they left the factory."""
        if not self._follows:
            return
        pair, start = self.jointly.pair, self.jointly.start()
        begin = Node(start.first._replace(levels=start.levels))
        happenings = [Happens(occurs.levels, (), occurs.power) for occurs in self.happened]
        for timings, gap in product(TIMINGS, GAPS):
            moments, _ = least_moments(self._gaps(gap), self._limits(timings), gap)
            if moments is None:
                continue
            lengths: list[dict[str, tuple[int, ...]]] = [{}]
            if timings is None:
                lengths = [way.durations(moments) for way in reversed(self._ways)]
            for durations in lengths:
                found = scenario_at(pair.both, pair.both, begin, happenings, moments, title, durations)
                if found is not None:
                    yield evolve(found, start={**found.start, **pair.held}, positions={})

    def _offset(self) -> int:
        return len(self.jointly.pair.first.machine.timings)

    def _gaps(self, gap: int) -> list[int]:
        return [max(rows) for rows in zip(*(way.gaps(gap) for way in self._ways), strict=True)]

    def _limits(self, timings: Timings | None, any_position: bool = False) -> list[Limit]:
        one, other = (way.limits(timings, any_position) for way in self._ways)
        return [*one, *(limit.counted_on(self._offset()) for limit in other)]

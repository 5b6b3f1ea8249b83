"""Two machines side by side with the clocks of either, in one zone.

Law of this module: what began at one moment has one number in the zone, whichever board's it is. Limits are only ever
too wide, as those of one machine are.
"""

from __future__ import annotations

from typing import NamedTuple

from boardgauge.pairing.joint_way import Blamed
from boardgauge.pairing.jointly import FIRST, SECOND, Joint, Jointly, Occurs, Outcomes
from boardgauge.proving.bounds import Zones
from boardgauge.proving.clockwork import Clock, Clockwork, Node, Sources, Span
from boardgauge.proving.keeping import hull_bounds
from boardgauge.proving.together import End, clocks_of, ends_of

SIDES = (FIRST, SECOND)


class Nodes(NamedTuple):
    """Both with their clocks, and which number in the zone each clock has: the first's clocks, then the second's.

    Clocks that began at one moment have one number.
    """

    joint: Joint
    first: Node
    second: Node
    numbers: tuple[int, ...]

    def sides(self) -> tuple[Node, Node]:
        return self.first, self.second

    def numbers_of(self, side: int) -> tuple[int, ...]:
        split = len(self.first.clocks)
        return self.numbers[split:] if side else self.numbers[:split]

    def clocks(self) -> list[tuple[int, Clock, End, int]]:
        """Give (board, clock, its end, its number in the zone) of every clock."""
        found = []
        for side, node in enumerate(self.sides()):
            rows = zip(node.clocks, ends_of(node), self.numbers_of(side), strict=True)
            found += [(side, clock, end, number) for clock, end, number in rows]
        return found


class PairOfClockworks:
    """Knows the clocks of both machines; ``timed`` are the timings that have one (the first's, the second's)."""

    def __init__(self, jointly: Jointly, timed: Blamed) -> None:
        self.jointly = jointly
        pair = jointly.pair
        one, other = (
            Clockwork(engine, some, any_position=True)
            for engine, some in zip((pair.first, pair.second), timed, strict=True)
        )
        self.works = (one, other)

    def start(self) -> Nodes:
        """Give both without power, before they are switched on for the first time."""
        start = self.jointly.start()
        one, other = (work.off(start.config(side)) for side, work in enumerate(self.works))
        return Nodes(start, one, other, ())

    def rounded(self, nodes: Nodes, outcomes: Outcomes) -> list[int]:
        """Give the numbers whose bounds what comes next hangs on, rounded outwards."""
        found = set()
        for side, clock, _, number in nodes.clocks():
            work, config = self.works[side], outcomes[side].config
            stands_still = work.adds_up(clock.timing) and not config.running >> clock.timing & 1
            if stands_still or work.rates(config)[clock.timing] != clock.rate:
                found.add(number)
        return sorted(found)

    def after(
        self, nodes: Nodes, joint: Joint, outcomes: Outcomes, occurs: Occurs, zones: Zones
    ) -> tuple[Nodes, Sources, list[tuple[int, int]]]:
        """Give both after it, where the numbers in the zone come from, and the limits of what the first has alone."""
        bounds = hull_bounds(zones)
        # Each number of the zone after it by where it comes from: an old one, the instant (0), or a cause.
        places: dict[object, int] = {}
        of: list[int] = []
        starts: list[Span] = []
        started: dict[object, int] = {}
        numbers: list[int] = []
        sides: list[Node] = []
        for side, node in enumerate(nodes.sides()):
            old = nodes.numbers_of(side)
            gone = clocks_of(node, self.jointly.own(side, occurs))
            own = tuple(bounds[number] for number in old)
            after, sources = self.works[side].after(node, outcomes[side], gone, own)
            sides.append(after._replace(config=joint.config(side)))
            for source in sources.of:
                key: object = old[source - 1] + 1 if source > 0 else 0
                if source < 0:
                    key = self.jointly.pair.cause(side, sources.causes[-source - 1])
                    span = sources.starts[-source - 1]
                    if key in started:
                        had = starts[started[key]]
                        starts[started[key]] = max(span[0], had[0]), max(span[1], had[1])
                    else:
                        started[key] = len(starts)
                        starts.append(span)
                if key not in places:
                    places[key] = len(of)
                    of.append(key if isinstance(key, int) else -1 - started[key])
                numbers.append(places[key])
        new = Nodes(joint, sides[FIRST], sides[SECOND], tuple(numbers))
        alone = [
            (number, clock.most)
            for side, clock, _, number in new.clocks()
            if side == FIRST and not self.jointly.runs_alike(joint, FIRST, clock.timing)
        ]
        return new, Sources(tuple(of), tuple(starts)), alone

    def without_power(self, nodes: Nodes, joint: Joint, then: Zones) -> Nodes:
        bounds = hull_bounds(then)
        one, other = (
            self.works[side]
            .without_power(node, tuple(bounds[number] for number in nodes.numbers_of(side)))
            ._replace(config=joint.config(side))
            for side, node in enumerate(nodes.sides())
        )
        return Nodes(joint, one, other, ())

"""How far it is to what a good board has not shown yet of what its machine can show.

Law of this module: a hint and no more. The way is looked up on the map of the good board, with no length followed.
"""

from __future__ import annotations

import heapq

from attrs import define, field

from boardgauge.pairing.stepping import Standing
from boardgauge.plans.goals import Goals, Sight
from boardgauge.plans.seen import Plain
from boardgauge.plans.side import Instant
from boardgauge.plans.terrain import Terrain


@define(eq=False)
class Unshown:
    """Where on the map of one good board there is something to be shown that was not seen."""

    terrain: Terrain
    goals: Goals
    _shows: list[tuple[int, int, frozenset[Sight]]] = field(factory=list)
    """The steps that show something wanted: from which place, how long they take, and what they show."""
    _plain: Plain = field(init=False)
    _known: tuple[object, dict[int, int]] = field(default=(None, {}))

    def __attrs_post_init__(self) -> None:
        terrain = self.terrain
        self._plain = Plain(terrain.engine, terrain.read)
        for place, before in enumerate(terrain.places):
            for step, target, cost in terrain.onward[place]:
                if step.power is False:
                    continue
                shows = self.goals.wanted_of(Instant.of_step(before, step, terrain.places[target]))
                if shows:
                    self._shows.append((place, cost, shows))

    def ahead(self, standing: Standing, *, sped_up: bool) -> int | None:
        """Give about how long it takes from here to something new, None where no way was found.

        ``sped_up``: nothing that runs out shows itself at its own rate.
        """
        place = self.terrain.number.get(self._plain.of(standing.config))
        times = self._times(sped_up)
        if place is None or place not in times:
            return None
        return self.terrain.sooner(place, standing, times[place], lambda step, target: times.get(target))

    def _times(self, sped_up: bool) -> dict[int, int]:
        key = (sped_up, len(self.goals.seen))
        if self._known[0] != key:
            seen = self.goals.seen
            heap = [
                (cost, place)
                for place, cost, shows in self._shows
                if any(sight not in seen and not (sped_up and sight[0] == "ending") for sight in shows)
            ]
            heapq.heapify(heap)
            found: dict[int, int] = {}
            while heap:
                time, place = heapq.heappop(heap)
                if place not in found:
                    found[place] = time
                    for source, cost in self.terrain.back[place]:
                        if source not in found:
                            heapq.heappush(heap, (time + cost, source))
            self._known = (key, found)
        return self._known[1]

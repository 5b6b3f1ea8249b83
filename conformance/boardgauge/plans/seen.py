"""What looking through the states of a good board and a faulty one came to.

Law of this module: a hint and no more, for no length was followed.
"""

from __future__ import annotations

import heapq
from array import array
from collections.abc import Iterable, Iterator, Mapping, Sequence, Set

from attrs import define, field, frozen

from boardgauge.machine.config import Config
from boardgauge.machine.quick import QuickEngine

NOWHERE = -1
Both = tuple[Config, Config]
"""What a good board and a faulty one are in at one moment."""


@frozen(eq=False)
class Seen:
    """What looking came to: about how long it is until both show differently.

    ``alike``: from each place of the map on which both stand alike (-1: no way was found), ``acted``: from each where
    they do but for how much is left of what runs; ``ahead``: from pairs of other states.
    ``complete``: everything was looked at. ``far``: what is guessed where it was not.
    """

    alike: array[int]
    acted: array[int]
    ahead: Mapping[Both, int]
    complete: bool
    far: int = 0

    @property
    def tells(self) -> bool:
        """Tell whether anything that shows differs anywhere."""
        return bool(self.ahead)


class Plain:
    """Gives configurations of one board without what no rule reads."""

    def __init__(self, engine: QuickEngine, read: tuple[bool, ...]) -> None:
        off = engine.off()
        self._settings, self._chosen = off.settings, engine.settings.nothing_chosen
        self._unread = [
            (i, level) for i, (level, is_read) in enumerate(zip(off.levels, read, strict=True)) if not is_read
        ]
        self._known: dict[Config, Config] = {}

    def of(self, config: Config) -> Config:
        """Give a configuration so."""
        found = self._known.get(config)
        if found is None:
            levels = list(config.levels)
            for index, at_rest in self._unread:
                levels[index] = at_rest
            found = config._replace(levels=tuple(levels), settings=self._settings, chosen=self._chosen)
            self._known[config] = found
        return found


Steps = Sequence[tuple[int, int]]
"""From where steps lead somewhere, each with about how long it takes."""


@define(eq=False)
class Parted:
    """Between which places of the map a step leads after which both boards do not stand alike, and no other step."""

    _alike: set[tuple[int, int]] = field(factory=set)
    _apart: dict[tuple[int, int], list[Both]] = field(factory=dict)

    def note(self, source: int, target: int, after: Both, alike: bool) -> None:
        """Note a step between two places, what both are in after it, and whether they stand alike then."""
        if alike:
            self._alike.add((source, target))
        else:
            self._apart.setdefault((source, target), []).append(after)

    def of(self, waiting: Iterable[Both]) -> set[tuple[int, int]]:
        """Give these places (from, to), but for those from where it is not known how it goes on: it is ``waiting``."""
        unknown = set(waiting)
        return {way for way, after in self._apart.items() if way not in self._alike and unknown.isdisjoint(after)}


@frozen(eq=False)
class Onto:
    """From where steps lead to pairs of states and to places of the map.

    A pair has its number; a place in which both stand alike is ``~place``, and once the fault has acted unseen as many
    numbers further on as there are places. ``pairs``: to each pair; ``back``: to each place on the map; ``alike``: to
    places from pairs; ``unseen``: to places by a step in which the fault acts, from places in which it has not yet.
    ``parted``: places (from, to) between which only such steps lead as both do not stand alike after.
    """

    pairs: Sequence[Steps]
    back: Sequence[Steps]
    alike: Mapping[int, Steps]
    unseen: Mapping[int, Steps]
    parted: Set[tuple[int, int]]

    def steps(self, number: int) -> Iterator[tuple[int, int]]:
        """Give from where steps lead to a pair or a place."""
        if number >= 0:
            yield from self.pairs[number]
            return
        many = len(self.back)
        after = many if ~number >= many else 0
        place = ~number - after
        for source, cost in self.back[place]:
            if (source, place) not in self.parted:
                yield ~(source + after), cost
        if after:
            yield from ((~source, cost) for source, cost in self.unseen.get(place, ()))
        else:
            yield from self.alike.get(place, ())


def seen_of(pairs: Sequence[Both], differ: Iterable[int], onto: Onto, complete: bool) -> Seen:
    """Give for each pair, and each place of the map, the least time to the pairs that show differently."""
    found: dict[int, int] = {}
    heap = [(0, number) for number in differ]
    while heap:
        time, number = heapq.heappop(heap)
        if number in found:
            continue
        found[number] = time
        for source, cost in onto.steps(number):
            if source not in found:
                heapq.heappush(heap, (time + cost, source))
    many = len(onto.back)
    return Seen(
        array("q", [found.get(~place, NOWHERE) for place in range(many)]),
        array("q", [found.get(~place, NOWHERE) for place in range(many, 2 * many)]),
        {pairs[number]: time for number, time in found.items() if number >= 0},
        complete,
        max(found.values(), default=0),
    )

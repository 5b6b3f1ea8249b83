"""A plain tour of a machine: again and again the nearest way to something that was not seen yet.

Law of this module: greedy, so not the least tour there is; it goes on until nothing that is wanted can be reached.
Ways of one length are taken in the order in which they are given.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Hashable, Iterable, Set
from itertools import count
from typing import Generic, NamedTuple, TypeVar

Place = TypeVar("Place")
Act = TypeVar("Act")


class Way(NamedTuple, Generic[Place, Act]):
    """One act: what it costs, where it leads, and what it shows."""

    cost: int
    act: Act
    to: Place
    shows: Set[Hashable]


def walk(
    start: Place,
    ways: Callable[[Place], Iterable[Way[Place, Act]]],
    wanted: Set[Hashable],
    *,
    same: Callable[[Place], Hashable] = lambda place: place,  # type: ignore[assignment, return-value]
    most: int = 100_000,
) -> list[Way[Place, Act]]:
    """Walk from a place until all that is wanted was seen, or none of it is found within ``most`` acts tried.

    ``same`` tells places apart.
    """
    left, here, gone = set(wanted), start, list[Way[Place, Act]]()
    while left:
        found = _nearest(here, ways, left, same, most)
        if found is None:
            break
        gone += found
        here = found[-1].to
        for way in found:
            left -= way.shows
    return gone


def _nearest(
    start: Place,
    ways: Callable[[Place], Iterable[Way[Place, Act]]],
    left: Set[Hashable],
    same: Callable[[Place], Hashable],
    most: int,
) -> list[Way[Place, Act]] | None:
    order = count()
    heap: list[tuple[int, int, Place, list[Way[Place, Act]]]] = [(0, next(order), start, [])]
    been: set[Hashable] = set()
    tried = 0
    while heap and tried < most:
        cost, _, place, gone = heapq.heappop(heap)
        if gone and not left.isdisjoint(gone[-1].shows):
            return gone
        # A way is kept by the place it leads to only once nothing new was seen on it.
        if same(place) in been:
            continue
        been.add(same(place))
        for way in ways(place):
            tried += 1
            heapq.heappush(heap, (cost + way.cost, next(order), way.to, [*gone, way]))
    return None

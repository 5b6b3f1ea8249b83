"""The zones kept of one place, and how each was come to.

Law of this module: a zone is kept unless one there holds all of it. Where zones are joined, what is kept holds all that
it stands for, and may hold more.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Generic, TypeVar

import numpy as np
import numpy.typing as npt
from attrs import define, field

from boardgauge.proving.bounds import Zones, closed, inside_any, without_covered

JOINED_BEFORE_WIDENED = 4
"""After so many joinings, what still grows in a joined zone grows to the next power of two."""
JOINED_BEFORE_LET_GO = 40
"""After so many, what still grows is let go to its limit."""

C = TypeVar("C")
"""How a zone was come to."""


@define
class Kept(Generic[C]):
    """Zones of ``dimensions`` clocks. ``came`` has for each zone there ever was how it was come to; ``fresh`` are those
    not gone on from, each with its number, and ``held`` those that stand for all there ever were."""

    dimensions: int
    numbers: list[int] = field(factory=list)
    came: list[C] = field(factory=list)
    joined: int = 0
    held: Zones = field(init=False)
    fresh: Zones = field(init=False)

    def __attrs_post_init__(self) -> None:
        self.held = self.fresh = np.zeros((0, self.dimensions + 1, self.dimensions + 1), dtype=np.int64)

    def taken(self) -> tuple[Zones, list[int]]:
        """Give the zones not gone on from, with their numbers; from now on they count as gone on from."""
        found = self.fresh, self.numbers
        self.fresh, self.numbers = self.fresh[:0], []
        return found

    def take_in(self, zones: Zones, came: Sequence[C], most: Sequence[int], of_a_place: int | None) -> int:
        """Keep zones that are not held yet; give how many there are of them.

        More than ``of_a_place`` are joined into the least zone that holds them all; what then still grows, to ``most``.
        """
        keep = without_covered(zones)
        keep = keep[~inside_any(zones[keep], self.held)]
        if not len(keep):
            return 0
        fresh, new = zones[keep], [came[index] for index in keep]
        if of_a_place is not None and len(self.held) + len(fresh) > of_a_place:
            fresh, new = self._joined(fresh, most), new[:1]
            self.held = self.held[:0]
        self.held = np.concatenate((self.held, fresh))
        self.fresh = np.concatenate((self.fresh, fresh))
        self.numbers += range(len(self.came), len(self.came) + len(new))
        self.came += new
        return len(new)

    def _joined(self, zones: Zones, most: Sequence[int]) -> Zones:
        """Give one zone that holds all; after a few times, one that grows no more where it grew."""
        self.joined += 1
        hull = np.concatenate((self.held, zones)).max(axis=0, keepdims=True)
        if self.joined > JOINED_BEFORE_WIDENED and len(self.held):
            limits = np.broadcast_to(np.array([0, *most], dtype=np.int64)[:, None], hull[0].shape)
            grew = hull[0] > self.held.max(axis=0)
            further = limits if self.joined > JOINED_BEFORE_LET_GO else np.minimum(_rounded_up(hull[0]), limits)
            hull[0] = np.where(grew, np.maximum(hull[0], further), hull[0])
            hull[:, np.arange(len(limits)), np.arange(len(limits))] = 0
        return closed(hull)


def _rounded_up(bounds: npt.NDArray[np.int64]) -> npt.NDArray[np.int64]:
    """Give the next power of two for each bound that is no less; of one below nought, that of what it falls short."""
    ones = np.where(bounds > 0, bounds - 1, -bounds)
    for shift in (1, 2, 4, 8, 16, 32):
        ones |= ones >> shift
    return np.where(bounds > 0, ones + 1, -(ones - (ones >> 1)))


def hull_bounds(zones: Zones) -> tuple[tuple[int, int], ...]:
    """Give the least and the greatest of each clock over some zones."""
    low, high = (-zones[:, 0, 1:]).min(axis=0), zones[:, 1:, 0].max(axis=0)
    return tuple(zip(low.tolist(), high.tolist(), strict=True))


def bounds_of(zones: Zones, clocks: Sequence[int]) -> npt.NDArray[np.int64]:
    """Give the bounds of some clocks (counted from 0) as a row for each zone."""
    bounds = [zones[:, [n + 1], 0] for n in clocks] + [-zones[:, 0, [n + 1]] for n in clocks]
    return np.concatenate(bounds, axis=1)


def alike(told: npt.NDArray[np.int64] | None, number: int) -> Iterator[npt.NDArray[np.intp]]:
    """Give the places of zones whose told bounds are equal, group by group; all in one if nothing is told."""
    if told is None:
        yield np.arange(number)
        return
    _, which = np.unique(told, axis=0, return_inverse=True)
    which = which.reshape(-1)
    for group in range(int(which.max()) + 1):
        yield np.flatnonzero(which == group)

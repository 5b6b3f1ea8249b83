"""Many zones at once: bounds on the differences of clocks, as arrays.

Law of this module: a zone of n clocks is a square of n + 1 rows; the entry in row i, column j is the most that clock i
may be ahead of clock j, in microseconds, clock 0 standing at nought. Every square is closed: no entry can be lowered by
a detour. (Difference bounds after Bengtsson and Yi, Timed Automata: Semantics, Algorithms and Tools, 2004.) Times are
whole microseconds, so all bounds are "at most".
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

Zones = npt.NDArray[np.int64]
"""Shape (number of zones, clocks + 1, clocks + 1)."""

Rows = npt.NDArray[np.bool_]

FAR = 1 << 60
_PAIRS = 20_000_000
"""With more entries than these to compare, zones are not held one against the other."""


def at_nought() -> Zones:
    """Give one zone without clocks."""
    return np.zeros((1, 1, 1), dtype=np.int64)


def closed(zones: Zones) -> Zones:
    """Give the zones with every entry as low as the others make it; a zone without a point has a negative diagonal."""
    zones = zones.copy()
    for k in range(zones.shape[1]):
        np.minimum(zones, zones[:, :, k, None] + zones[:, None, k, :], out=zones)
    return zones


def without_empty(zones: Zones) -> Rows:
    """Tell of each zone whether it has a point; the zones are closed."""
    return np.asarray((np.diagonal(zones, axis1=1, axis2=2) >= 0).all(axis=1))


def instants(zones: Zones, over: Sequence[int | None], most: Sequence[int]) -> Zones:
    """Give the zones at an instant now or later.

    ``over`` has for each clock the least at which what it times may be over, None where it is not over in this
    instant; ``most`` the greatest value it may have. Zones that have no such instant come out empty.
    """
    later = zones.copy()
    uppers = np.asarray(most, dtype=np.int64)
    if len(uppers):
        differences = later[:, 1:, 1:]
        up = (differences + uppers).min(axis=2)
        down = later[:, 0, 1:]
        for clock, least in enumerate(over):
            if least is not None:
                down = np.minimum(down, differences[:, clock, :] - least)
        later[:, 1:, 0] = up
        later[:, 0, 1:] = down
        np.minimum(differences, up[:, :, None] + down[:, None, :], out=later[:, 1:, 1:])
    return later


def where_at_least(zones: Zones, clock: int, least: int) -> Zones:
    """Give what of the zones has a clock (counted from 0) at so much or more; some may come out empty."""
    part = zones.copy()
    np.minimum(part[:, 0, clock + 1], -least, out=part[:, 0, clock + 1])
    return closed(part)


def where_at_most(zones: Zones, clock: int, most: int) -> Zones:
    """Give what of the zones has a clock (counted from 0) at so much or less; some may come out empty."""
    part = zones.copy()
    np.minimum(part[:, clock + 1, 0], most, out=part[:, clock + 1, 0])
    return closed(part)


def rearranged(zones: Zones, sources: Sequence[int], starts: Sequence[tuple[int, int]] = ()) -> Zones:
    """Give the zones with other clocks.

    Each is an old one, counted from 1; or 0, that stands at nought; or one of the ``starts``, counted from -1 down,
    that lies so much before the present or so much after it.
    """
    old = zones.shape[1]
    if starts:
        index = np.array([*range(old), *(0 for _ in starts)], dtype=np.intp)
        zones = zones[:, index[:, None], index[None, :]]
        for place, (before, after) in enumerate(starts, old):
            zones[:, place, :] += before
            zones[:, :, place] += after
            zones[:, place, place] = 0
    index = np.array([0, *(s if s >= 0 else old - 1 - s for s in sources)], dtype=np.intp)
    return np.ascontiguousarray(zones[:, index[:, None], index[None, :]])


def coarser(zones: Zones, over: Sequence[int], most: Sequence[int]) -> Zones:
    """Give the zones without what no later instant can tell apart, closed again.

    ``over`` and ``most`` are, for each clock, the greatest values it will be held against from below and from above
    (extrapolation by lower and upper bounds: Behrmann, Bouyer, Larsen and Pelanek, 2006).
    """
    if zones.shape[1] == 1:
        return zones
    wide = zones.copy()
    least, greatest = np.asarray(over, dtype=np.int64), np.asarray(most, dtype=np.int64)
    past = (-zones[:, 0, 1:] > least)[:, :, None] | (zones[:, 1:, :] > least[:, None])
    np.copyto(wide[:, 1:, :], np.broadcast_to(greatest[:, None], past.shape), where=past)
    number = np.arange(zones.shape[1])
    wide[:, number, number] = 0
    return closed(wide)


def inside_any(zones: Zones, others: Zones) -> Rows:
    """Tell of each zone whether one of the others holds all of it."""
    if len(zones) == 1 and len(others):
        # Nearly always: one zone against a few.
        whole: Rows = np.asarray((zones <= others).all(axis=(1, 2)))
        return np.array([whole.any()])
    found = np.zeros(len(zones), dtype=bool)
    if not len(others):
        return found
    size = zones.shape[1] ** 2
    flat, held = zones.reshape(len(zones), size), others.reshape(len(others), size)
    # In pieces, so that no comparison takes much memory.
    piece = max(1, 2_000_000 // (size * len(others)))
    for first in range(0, len(zones), piece):
        rows = flat[first : first + piece]
        inside: Rows = np.asarray((rows[:, None, :] <= held[None, :, :]).all(axis=2))
        found[first : first + piece] = inside.any(axis=1)
    return found


def without_covered(zones: Zones) -> npt.NDArray[np.intp]:
    """Give the places of the zones that no other of them holds (of equal ones the first)."""
    keep = np.arange(len(zones))
    if len(zones) < 2:
        return keep
    size = zones.shape[1] ** 2
    if len(keep) ** 2 * size > _PAIRS:
        _, first = np.unique(zones.reshape(len(zones), size), axis=0, return_index=True)
        keep = np.sort(first)
        if len(keep) ** 2 * size > _PAIRS:
            return keep
    flat = zones[keep].reshape(len(keep), size)
    inside: Rows = np.asarray((flat[:, None, :] <= flat[None, :, :]).all(axis=2))
    covered = inside & (~inside.T | np.tri(len(keep), k=-1, dtype=bool))
    return np.asarray(keep[~covered.any(axis=1)])

"""Law: what is kept of a place holds every zone that it was given, however many were joined, and it ends."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from boardgauge.proving.bounds import Zones, closed, inside_any
from boardgauge.proving.keeping import JOINED_BEFORE_LET_GO, JOINED_BEFORE_WIDENED, Kept

MOST = (1 << 20, 1 << 20)


@st.composite
def zones(draw: st.DrawFn) -> Zones:
    """Draw one closed zone of two clocks that has a point."""
    point = [0, *draw(st.lists(st.integers(0, 1 << 18), min_size=2, max_size=2))]
    slack = draw(st.lists(st.integers(0, 1 << 10), min_size=9, max_size=9))
    rows = [[point[i] - point[j] + (slack[3 * i + j] if i != j else 0) for j in range(3)] for i in range(3)]
    rows[0] = [min(0, bound) for bound in rows[0]]
    return closed(np.array([rows], dtype=np.int64))


def kept(given_: list[Zones], of_a_place: int | None) -> Kept[int]:
    place: Kept[int] = Kept(2)
    for number, zone in enumerate(given_):
        place.take_in(zone, [number], MOST, of_a_place)
    return place


@given(st.lists(zones(), min_size=1, max_size=JOINED_BEFORE_LET_GO + 10), st.sampled_from((None, 1, 3)))
def test_what_is_kept_holds_all_that_was_given(given_: list[Zones], of_a_place: int | None) -> None:
    """Each zone is inside one that is held."""
    place = kept(given_, of_a_place)
    assert inside_any(np.concatenate(given_), place.held).all()
    assert (closed(place.held) == place.held).all()
    assert of_a_place is None or len(place.held) <= of_a_place


def growing(number: int) -> list[Zones]:
    """Give zones of which each lets the first clock be a little further ahead of the second."""
    rows = [[[0, 0, 0], [n, 0, n], [0, 0, 0]] for n in range(number)]
    return [np.array([row], dtype=np.int64) for row in rows]


def test_what_grows_and_grows_soon_grows_by_twice_and_then_to_its_limit() -> None:
    """So a small difference stays small, and joining comes to an end all the same."""
    few = JOINED_BEFORE_WIDENED + 1
    assert int(kept(growing(few), 1).held[0, 1, 2]) == few - 1
    more = few + 8
    assert more - 1 <= int(kept(growing(more), 1).held[0, 1, 2]) < 2 * more
    assert int(kept(growing(1000), 1).held[0, 1, 2]) < 2 * 1000
    further = [np.array([[[0, 0, 0], [1 << n // 2, 0, 1 << n // 2], [0, 0, 0]]], dtype=np.int64) for n in range(100)]
    place: Kept[int] = Kept(2)
    joined = 0
    for number, zone in enumerate(further):
        joined += place.take_in(zone, [number], [1 << 60, 1 << 60], 1)
    assert int(place.held[0, 1, 2]) == 1 << 60
    assert joined < 100


def test_what_stands_for_others_is_the_least_that_does() -> None:
    """Before anything is widened two zones are joined into the bounds of both."""
    one = closed(np.array([[[0, -1, -4], [2, 0, -2], [6, 4, 0]]], dtype=np.int64))
    other = closed(np.array([[[0, -3, -4], [5, 0, 0], [9, 5, 0]]], dtype=np.int64))
    assert (kept([one, other], 1).held[0] == closed(np.maximum(one, other))[0]).all()

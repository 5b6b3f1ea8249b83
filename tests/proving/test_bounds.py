"""Law: bounds on differences say exactly which whole numbers the clocks may be, and nothing of them is lost."""

from __future__ import annotations

from itertools import product

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from boardgauge.proving.bounds import (
    FAR,
    Zones,
    at_nought,
    closed,
    coarser,
    inside_any,
    instants,
    rearranged,
    without_covered,
    without_empty,
)

MOST = 4
CLOCKS = 2


def points(zone: np.ndarray, most: int = 12) -> set[tuple[int, ...]]:
    """Give the points of a zone with no clock above ``most``, one by one."""
    number = len(zone) - 1
    found = set()
    for point in product(range(most + 1), repeat=number):
        values = (0, *point)
        if all(values[i] - values[j] <= zone[i, j] for i in range(number + 1) for j in range(number + 1)):
            found.add(point)
    return found


@st.composite
def zones(draw: st.DrawFn) -> Zones:
    """Draw one closed zone of two clocks that has a point."""
    point = [0, *draw(st.lists(st.integers(0, MOST), min_size=CLOCKS, max_size=CLOCKS))]
    slack = draw(st.lists(st.integers(0, MOST), min_size=9, max_size=9))
    rows = [[point[i] - point[j] + (slack[3 * i + j] if i != j else 0) for j in range(3)] for i in range(3)]
    for clock in (1, 2):
        rows[0][clock] = min(rows[0][clock], 0)
    return closed(np.array([rows], dtype=np.int64))


class TestPublished:
    """Bengtsson and Yi, Timed Automata: Semantics, Algorithms and Tools (2004), the example of a closed matrix."""

    def test_the_example_closes_to_what_is_printed(self) -> None:
        """x < 20, y <= 20, y - x <= 10, x - y <= -10, z > 5 closes to x <= 10, 10 <= y <= 20, y - x = 10 and on."""
        zone = np.full((1, 4, 4), FAR, dtype=np.int64)
        zone[0, range(4), range(4)] = 0
        zone[0, 0, 1:] = 0
        zone[0, 1, 0], zone[0, 2, 0], zone[0, 2, 1], zone[0, 1, 2], zone[0, 0, 3] = 20, 20, 10, -10, -5
        done = closed(zone)[0]
        assert done[1, 0] == 10
        assert (done[2, 0], -done[0, 2]) == (20, 10)
        assert (done[2, 1], -done[1, 2]) == (10, 10)
        assert done[1, 3] == 5
        assert done[2, 3] == 15


@given(zones())
def test_closing_loses_no_point(zone: Zones) -> None:
    """A closed zone has the points it had, and closing it again changes nothing."""
    assert without_empty(zone).all()
    assert (closed(zone) == zone).all()


@given(zones(), st.integers(0, MOST), st.integers(0, 2 * MOST), st.integers(0, 2 * MOST))
def test_an_instant_is_every_point_some_time_later(zone: Zones, least: int, first: int, second: int) -> None:
    """The zone at an instant holds exactly the points moved on by one time that keep to the limits."""
    then = instants(zone, [least, None], [first, second])
    wanted = {
        (x + d, y + d) for x, y in points(zone[0]) for d in range(13) if least <= x + d <= first and y + d <= second
    }
    assert bool(without_empty(then)[0]) == bool(wanted)
    if wanted:
        assert points(then[0]) == wanted
        assert (closed(then) == then).all()


@given(zones())
def test_a_clock_set_to_nought_stands_beside_the_others(zone: Zones) -> None:
    """Clocks dropped, kept and set to nought: the points are those with the columns put so."""
    assert points(rearranged(zone, [2, 0])[0]) == {(y, 0) for _, y in points(zone[0])}


@given(zones(), zones())
def test_inside_is_to_hold_every_point(one: Zones, other: Zones) -> None:
    """A zone is inside another where all of its points are in it."""
    assert bool(inside_any(one, other)[0]) == (points(one[0]) <= points(other[0]))


@given(st.lists(zones(), min_size=1, max_size=5))
def test_leaving_out_what_is_covered_loses_no_point(many: list[Zones]) -> None:
    """What is left of some zones has their points, and none of it is inside another."""
    together = np.concatenate(many)
    kept = together[without_covered(together)]
    assert set().union(*(points(zone) for zone in kept)) == set().union(*(points(zone) for zone in together))
    for index in range(len(kept)):
        others = np.delete(kept, index, axis=0)
        assert not inside_any(kept[index : index + 1], others)[0]


@given(zones(), st.integers(0, MOST), st.integers(0, MOST), st.integers(0, MOST), st.integers(0, MOST))
def test_coarser_zones_come_to_the_same_instants(zone: Zones, a: int, b: int, more: int, also: int) -> None:
    """What is put into a coarser zone has no instant that the zone itself has not, and nothing is taken out."""
    least, most = (a, b), (a + more, b + also)
    inside = instants(zone, [None, None], most)
    if not without_empty(inside).all():
        return
    start = instants(zone, [None, None], most)
    wide = coarser(start, least, most)
    assert points(start[0]) <= points(wide[0])
    for over in ([a, None], [None, b], [a, b]):
        assert without_empty(instants(start, over, most))[0] == without_empty(instants(wide, over, most))[0]


def test_no_clock_is_one_point() -> None:
    """A zone without clocks is there, and stays."""
    assert without_empty(instants(at_nought(), [], [])).all()


@given(zones(), st.integers(0, 2), st.integers(0, 2))
def test_clocks_with_one_start_stand_level_wherever_it_lies(zone: Zones, before: int, after: int) -> None:
    """Two clocks of one start are equal, from as much before the present as it may lie to as much after it."""
    new = rearranged(zone, [1, -1, -1], [(before, after)])[0]
    wanted = {(x, s, s) for x, _ in points(zone[0]) for s in range(before + 1)}
    assert points(new) == wanted
    assert -new[0, 2] == -after
    assert (closed(new[None]) == new).all()

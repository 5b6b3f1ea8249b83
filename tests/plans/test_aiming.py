"""How planning goes about what lies far off: short ways first, and no longer than it takes."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence

import pytest
from attrs import evolve

from boardgauge.faults import fault_of
from boardgauge.language import Board, read_board_text
from boardgauge.language.quantities import MIN, H
from boardgauge.plans.aiming import Way
from boardgauge.plans.growing import Grower, Grown
from boardgauge.plans.joint import Joint
from boardgauge.plans.planning import Planner
from boardgauge.plans.wish import wish_for
from plans.planned import library

COUNTER = """
language = 1
[board]
id = "counter"
title = "Three knocks within six hours (invented)"
tolerance = "± 8 %"
responds_within = "0.2 s"
filter = "30 ms to 100 ms"

[inputs.knock]
kind = "signal"

[rules.knocks]
kind = "count"
counts = "knock begins"
limit = 3
within = "6 h"

[outputs.warns]
on = "knocks reached"
"""


def counter() -> Board:
    """Give a board that counts within a window of hours."""
    return read_board_text(COUNTER, "counter.toml")


def planner_for(board: Board, *ids: str) -> Planner:
    """Give a planner for some faults of a board, and for nothing else."""
    planner = Planner(evolve(wish_for(board), faults=tuple(fault_of(board, id_) for id_ in ids)))
    planner.goals.seen |= planner.goals._wanted
    return planner


def test_what_takes_three_trips_is_found_in_the_time_of_two_rests() -> None:
    """A third trip locks the fan out, five minutes of cooling down after each of the two before it."""
    planner = planner_for(library("extract-fan"), "given_up.trips.never")
    planner.grow()
    assert planner.shown() == {"given_up.trips.never"}
    assert 10 * MIN < planner.time() < 13 * MIN


def test_a_window_that_is_too_short_is_told_at_all_lengths() -> None:
    """What is waited for is over on the faulty board however long it takes, and then the wait is over too: an event
    is forgotten after 4.2 h instead of 6 h."""
    planner = planner_for(counter(), "knocks.within.short")
    planner.grow()
    planner.finish()
    assert planner.found() == {"knocks.within.short"}
    assert 4 * H < planner.time() < 5 * H


def test_what_takes_long_comes_after_all_that_does_not() -> None:
    """Of two faults the one that is told at once is told first, though a wait of hours was at hand."""
    planner = planner_for(counter(), "warns.stuck-off", "knocks.endless")
    planner.grow()
    (grown,) = [row.grown for row in planner.seated]
    assert set(grown.parted) == {"warns.stuck-off", "knocks.endless"}
    assert grown.parted["warns.stuck-off"] < grown.parted["knocks.endless"]
    first = grown.deeds[: grown.parted["warns.stuck-off"] + 1]
    assert sum(deed.time for deed in first) < 1 * MIN < 6 * H < grown.time


def test_of_ways_that_take_long_the_one_that_shows_most_is_gone() -> None:
    """A way is worth what it shows of everything that is left, not of what it was looked for alone."""
    planner = planner_for(counter(), "knocks.endless", "knocks.within.long")
    together = planner.sides.together(planner.faults, {})
    grower = Grower(together, planner.hand, planner.goals, planner.forbidding.allows, guides=planner._guides)
    grown: Grown = grower.begin({}, planner.beginnings.values(), planner.faults)
    joint = grown.done[-1].joint
    (way, *_) = grower._toward_one(joint, 1_000 * H, lambda: False)
    assert len(way.parted) == 1
    # The other one takes as long, and shows on the same way.
    assert grower._worth(joint, way) == 2 / way.time


class Offered(Grower):
    """A grower to which ways are offered, so long and worth so much, in this order; it keeps how long they might be."""

    def __init__(self, grower: Grower, offered: Sequence[tuple[int, float]]) -> None:
        together, hand, goals, allowed = grower.together, grower.hand, grower.goals, grower.allowed
        super().__init__(together, hand, goals, allowed)  # type: ignore[call-arg]  # what attrs makes of the fields
        self.offered, self.nears, self.compared = offered, list[int](), list[int]()

    def _best(self, joint: Joint, effort: int) -> Mapping[int, Way]:
        return {}

    def _toward_one(self, joint: Joint, near: int, enough: Callable[[], bool]) -> Iterator[Way]:
        self.nears.append(near)
        yield from (Way(joint, time=time) for time, _ in self.offered if time <= near)

    def _worth(self, joint: Joint, way: Way) -> float:
        self.compared.append(way.time)
        return dict(self.offered)[way.time]


@pytest.mark.parametrize(
    ("offered", "taken"),
    [
        # No longer than ten minutes: the first, and nothing is compared.
        ([(10 * H, 9), (11 * MIN, 9), (10 * MIN, 1), (9 * MIN, 5)], 10 * MIN),
        # No longer than an hour and a half: the one that shows most, wherever it stands among four.
        ([(10 * H, 9), (11 * MIN, 1), (90 * MIN, 3), (80 * MIN, 2)], 90 * MIN),
        ([(10 * H, 9), (11 * MIN, 4), (90 * MIN, 3), (80 * MIN, 5)], 80 * MIN),
        # However long; the fifth is not looked at.
        ([(91 * MIN, 1), (10 * H, 2), (9 * H, 4), (8 * H, 3), (7 * H, 9)], 9 * H),
        ([], None),
    ],
)
def test_the_way_to_go_on_is_a_short_one_or_the_best_of_several(
    offered: Sequence[tuple[int, float]], taken: int | None
) -> None:
    """Ways are longer only where none is left that is not."""
    planner = planner_for(counter(), "warns.stuck-off")
    together = planner.sides.together(planner.faults, {})
    plain = Grower(together, planner.hand, planner.goals, planner.forbidding.allows)
    joint = plain.begin({}, planner.beginnings.values(), planner.faults).done[-1].joint
    grower = Offered(plain, offered)
    way = grower._next(joint, lambda: False)
    assert (way.time if way is not None else None) == taken
    assert grower.nears == sorted(grower.nears)
    assert len(grower.compared) in (0, 3, 4)
    assert len(grower.nears) == 3 or taken is not None

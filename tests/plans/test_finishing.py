"""How a plan is finished: what is kept of its sittings, what the judge is asked, and how it is looked for again."""

from __future__ import annotations

import pytest
from attrs import evolve

from boardgauge.faults import fault_of
from boardgauge.language.quantities import S
from boardgauge.plans.finishing import _repairs
from boardgauge.plans.goals import Sight
from boardgauge.plans.growing import Grower
from boardgauge.plans.hand import Deed
from boardgauge.plans.killing import LENGTHS, Lengths
from boardgauge.plans.making import make_plan
from boardgauge.plans.planning import Planner
from boardgauge.plans.seated import Seated
from boardgauge.plans.wish import wish_for
from plans.planned import heater, library

NOTHING: Sight = ("line", 0, 0, 0)
"""What no sitting shows, so that nothing is cut out of one that is to show it."""


def planner_for(*ids: str) -> Planner:
    """Give a planner for some faults of the heater."""
    return Planner(evolve(wish_for(heater()), faults=tuple(fault_of(heater(), id_) for id_ in ids)))


def seat(planner: Planner, deeds: list[Deed], *, ids: set[str], sights: set[Sight]) -> Seated:
    """Seat a sitting of deeds, with the faults that are looked at in it, and give it."""
    together = planner.sides.together(ids, {})
    grower = Grower(together, planner.hand, planner.goals, planner.forbidding.allows)
    grown = grower.begin({}, planner.beginnings.values(), ids)
    for deed in deeds:
        grower._take(grown, [deed], [together.do(grown.done[-1].joint, deed)])
    planner.seat(grown, sights)
    return planner.seated[-1]


OPENED = [Deed(wait=2 * S), Deed({"limit": False}, settle=2 * S), Deed(wait=2 * S)]
"""The limit switch opens, and the alarm comes on."""


def test_what_only_shows_is_kept_and_so_is_what_only_finds() -> None:
    """A sitting is worth its time if it finds a fault, and if it is the first to show something."""
    planner = planner_for("alarm.stuck-off")
    shows = seat(planner, [Deed(wait=2 * S)], ids=set(), sights={NOTHING})
    finds = seat(planner, OPENED, ids={"alarm.stuck-off"}, sights=set())
    assert (shows.finds, finds.sights) == ({}, set())
    planner.finish()
    assert [row.sights for row in planner.seated] == [{NOTHING}, set()]
    assert planner.found() == {"alarm.stuck-off"}


def test_a_sitting_of_which_another_one_finds_all_is_left_away() -> None:
    planner = planner_for("alarm.stuck-off")
    for _ in range(2):
        seat(planner, OPENED, ids={"alarm.stuck-off"}, sights=set())
    planner.finish()
    assert [set(row.finds) for row in planner.seated] == [{"alarm.stuck-off"}]


def test_a_fault_that_nobody_aimed_at_is_found_where_the_judge_sees_it() -> None:
    """Planning did not look at it in this sitting, nor anywhere else."""
    planner = planner_for("alarm.stuck-off")
    seat(planner, OPENED, ids=set(), sights={NOTHING})
    assert not planner.shown()
    planner.finish()
    assert planner.found() == {"alarm.stuck-off"}


def test_where_planning_was_broken_off_nobody_is_asked_of_more() -> None:
    planner = planner_for("alarm.stuck-off")
    seat(planner, OPENED, ids=set(), sights={NOTHING})
    planner.stopped = True
    planner.finish()
    assert not planner.found()


def test_what_is_told_at_some_lengths_is_looked_for_at_those_that_it_lacks() -> None:
    """With the settings where they were found, and every time as long as it may be, or as short."""
    planner = planner_for("alarm.stuck-off")
    seated = seat(planner, OPENED, ids={"alarm.stuck-off"}, sights=set())
    seated.settled, seated.grown.positions = True, {"time": "long"}
    for lacks, length in (("latest", "latest"), ("earliest", "earliest"), ("random", "latest")):
        seated.finds["alarm.stuck-off"] = {row for row in LENGTHS if row.timings != lacks}
        assert _repairs(planner, {"alarm.stuck-off"}) == {((("time", "long"),), length): {"alarm.stuck-off"}}
    seated.finds["alarm.stuck-off"] = {Lengths("nominal")}
    assert _repairs(planner, {"alarm.stuck-off"}) == {((("time", "long"),), "latest"): {"alarm.stuck-off"}}


def test_boards_stand_side_by_side_with_times_of_one_length() -> None:
    """The rest of 20 s, ± 5 %."""
    planner = planner_for("rest.begins.1.missed", "alarm.stuck-off")
    for length, rests in (("nominal", 20 * S), ("earliest", 19 * S), ("latest", 21 * S)):
        together = planner.sides.together({"alarm.stuck-off"}, {}, length)  # type: ignore[arg-type]
        joint = together.begin(planner.beginnings.values(), ["alarm.stuck-off"])
        joint = together.do(joint, Deed(), first=True).joint
        faulty = together.sides["alarm.stuck-off"]
        assert together.good.stepper.next_end(joint.good) == rests
        assert faulty.stepper.next_end(joint.faulty["alarm.stuck-off"].standing) == rests


@pytest.mark.parametrize("id_", ["defrost.drip.long", "main.no-filter"])
def test_what_shows_for_too_short_is_looked_for_again_otherwise(id_: str) -> None:
    """Too long by a part of its time a drip tells itself only where nothing speeds it up; and a flicker that an output
    may be too slow to show is told by what it does for longer."""
    board = library("cold-room-timed")
    made = make_plan(evolve(wish_for(board), faults=(fault_of(board, id_),)))
    assert made.found == 1

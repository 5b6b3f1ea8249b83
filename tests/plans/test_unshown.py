"""What a machine has not shown yet, and how far it is to it on the map of the good board."""

from __future__ import annotations

from attrs import evolve

from boardgauge.plans.growing import Grower
from boardgauge.plans.planning import Planner
from boardgauge.plans.wish import wish_for
from plans.planned import board_of, library


def test_nothing_is_ahead_once_all_was_shown() -> None:
    """From before the supply comes on a way leads to something new, and none once everything was seen."""
    planner = Planner(evolve(wish_for(board_of("heater")), faults=()))
    off = planner.sides.good.off()
    assert (planner.unshown.ahead(off, sped_up=False) or 0) > 0
    planner.goals.seen |= {sight for _, _, shows in planner.unshown._shows for sight in shows}
    assert planner.unshown.ahead(off, sped_up=False) is None


def test_what_runs_out_under_a_link_does_not_count() -> None:
    """Where only the end of a time at its own rate is left, nothing is ahead with what speeds it up fitted."""
    planner = Planner(evolve(wish_for(board_of("heater")), faults=()))
    shows = {sight for _, _, shows in planner.unshown._shows for sight in shows}
    planner.goals.seen |= {sight for sight in shows if sight[0] != "ending"}
    off = planner.sides.good.off()
    assert planner.unshown.ahead(off, sped_up=True) is None
    # 20 s of rest, after the supply was off for 5 s.
    assert (planner.unshown.ahead(off, sped_up=False) or 0) >= 20_000_000


def test_a_move_far_off_is_toured_where_the_map_says_how() -> None:
    """A defrost takes a call, a cold coil, and half an hour of running: by trying all there is none is found."""
    planner = Planner(evolve(wish_for(library("tarnbeck")), faults=()))
    (fast, *_) = planner.beginnings.links()
    together = planner.sides.together((), {})
    shown = {}
    for unshown in (None, planner.unshown):
        planner.goals.seen.clear()
        allowed = planner.forbidding.allows
        grower = Grower(together, planner.hand, planner.goals, allowed, 400, fast, unshown=unshown)
        grown = grower.begin({}, planner.beginnings.values(), ())
        grower.grow(grown, 1 << 60, lambda grown=grown: len(grown.deeds) > 45)  # type: ignore[misc]
        moves = {planner.goals.told(aim) for aim in planner.goals.aims_of(planner.goals.seen)}
        shown[unshown is not None] = "defrost: off to on" in moves
    assert shown == {False: False, True: True}

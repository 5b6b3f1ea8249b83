"""A plan has its time, to be made in and at the bench: what did not fit into it is left out with a word."""

from __future__ import annotations

import pytest

from boardgauge.plans.making import make_plan
from boardgauge.plans.planning import Planner
from boardgauge.plans.wish import wish_for
from plans.planned import board_of, goals, heater, part_of, plan_of


def test_a_plan_keeps_to_its_bench_time_and_says_what_it_leaves_out() -> None:
    """With little time the most is found for it; with more time no less is found."""
    short, longer, whole = part_of(9_000_000), part_of(30_000_000), plan_of("heater")
    assert short.plan.expected_time < longer.plan.expected_time <= whole.plan.expected_time
    assert 0 < short.found <= longer.found <= whole.found
    assert any(row.reason.startswith("no bench time") for row in short.plan.leaves_out)


def test_planning_that_is_broken_off_says_so() -> None:
    """A plan made in no time finds nothing, and says of everything that planning was broken off."""
    plan = make_plan(wish_for(heater()), enough=lambda: True).plan
    assert not goals(plan, "fault")
    assert any("broken off" in row.reason for row in plan.leaves_out if row.kind == "fault")


def test_looking_where_faults_show_ends_with_the_time_for_it() -> None:
    """Once it is enough no further fault is looked into, however many there are, and what was found stays."""
    asked = 0
    began: list[int] = []

    def told(words: str) -> None:
        if words.startswith("looking where faults show"):
            began.append(asked)

    def enough() -> bool:
        nonlocal asked
        asked += 1
        return len(began) >= 3

    planner = Planner(wish_for(heater()), enough, told)
    planner.grow()
    assert len(began) == 3
    assert planner.stopped
    assert planner.shown()


@pytest.mark.parametrize("seconds", [1, 4, 7, 10, 15, 22, 29])
def test_no_plan_takes_longer_than_it_may(seconds: int) -> None:
    """What a sitting takes before and after counts as bench time too."""
    made = part_of(seconds * 1_000_000)
    assert made.plan.expected_time <= seconds * 1_000_000
    assert made.found or seconds < 7


def test_a_plan_that_was_broken_off_is_cut_short_all_the_same() -> None:
    """Whoever lets no more be looked for gets what was found by then, without what nothing of it hangs on."""
    over = [False]
    planner = Planner(wish_for(board_of("heater")), lambda: over[0])
    planner.grow()
    found, before = planner.shown(), planner.time()
    over[0] = True
    planner.finish()
    assert planner.stopped
    assert planner.time() < before
    assert planner.found() >= found - {"rest.begins.2.by-begins"}

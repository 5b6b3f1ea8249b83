"""Where faults act, and the map of the good board.

Law: a board whose fault does not act does just what the good one does, so nobody need take it through that by itself.
"""

from __future__ import annotations

from random import Random

import pytest
from attrs import evolve
from hypothesis import example, given, settings
from hypothesis import strategies as st

from boardgauge.language.model import Board
from boardgauge.machine.compile import compile_board
from boardgauge.pairing.stepping import Left
from boardgauge.plans.growing import Grower
from boardgauge.plans.guiding import Guide
from boardgauge.plans.hand import Deed, Hand
from boardgauge.plans.sides import Sides
from boardgauge.plans.wish import wish_for
from plans.planned import board_of, library, plan_of

BOARDS = {
    "heater": board_of("heater"),
    "iec-ctu": board_of("iec-ctu"),
    "sump-pumps": library("sump-pumps"),
    "heat-pump-defrost": library("heat-pump-defrost"),
    "extract-fan": library("extract-fan"),
}


def sides_of(board: Board) -> Sides:
    """Give the boards of a bench."""
    return Sides(wish_for(board), Hand(compile_board(board)))


SIDES = {name: sides_of(board) for name, board in BOARDS.items()}


@pytest.mark.parametrize("name", BOARDS)
@settings(max_examples=8, deadline=None)
@example(seed=338)
@given(seed=st.integers(0, 1 << 30))
def test_who_acts_nowhere_goes_the_ways_of_the_good_board(name: str, seed: int) -> None:
    """Taken through it by themselves or not, all faulty boards come to the same, whatever is done."""
    sides, random = SIDES[name], Random(seed)
    ids = random.sample(sorted(sides.faults), min(25, len(sides.faults)))
    quick = sides.together(ids, {})
    whole = evolve(quick, acting={})
    grower = Grower(quick, sides.hand, None, lambda values: True)  # type: ignore[arg-type]
    start = {row.id: row.rests_on for row in BOARDS[name].inputs.values()}
    start |= {key: random.choice(values) for key, values in sides.hand.values.items()}
    one = other = quick.begin(start, ids)
    deed, first = Deed(settle=sides.hand.switched_on()), True
    for _ in range(14):
        mine, its = quick.do(one, deed, first=first), whole.do(other, deed, first=first)
        assert mine.parted == its.parted
        assert dict(mine.joint.faulty) == dict(its.joint.faulty)
        left = {id_: row for id_, row in mine.joint.faulty.items() if id_ not in mine.parted}
        one, other, first = evolve(mine.joint, faulty=left), evolve(its.joint, faulty=left), False
        deed = random.choice(list(grower.deeds(one)))
    assert quick.steps < whole.steps


def test_a_fault_acts_only_where_its_part_has_a_say() -> None:
    """The heater's rest cut short by nothing acts in no instant before the rest has begun, and in some afterwards."""
    sides = SIDES["heater"]
    twin = sides.together(["rest.lasts.short"], {}).acting["rest.lasts.short"]
    rest = next(row.index for row in sides.good.engine.machine.timings if row.owner == "rest")
    terrain = sides.terrain
    numbers = {row[3] for place in range(len(terrain.places)) for row in terrain.steps(place) if row[3] >= 0}
    acts = {number: twin.acts(number) for number in numbers}
    runs = {number: bool(sides.instants.happened[number].after.running >> rest & 1) for number in numbers}
    assert acts == runs
    assert set(runs.values()) == {True, False}


def test_a_guide_with_a_map_points_nowhere_else_than_one_without() -> None:
    """With the map of the good board only what is pointed to without it is, and what a plan finds is."""
    sides = SIDES["heater"]
    found = {goal for row in plan_of("heater").plan.covers if row.kind == "fault" for goal in row.goals}
    off = sides.good.off().config
    for id_ in sides.faults:
        guide = sides.guide(id_)
        bare = Guide(guide.good, guide.faulty, guide.hand, guide.wired, guide.own, guide.pulse)
        assert guide.tells <= bare.tells, id_
        assert guide.tells or id_ not in found, id_
        assert (guide.ahead(off, guide.faulty.off()) is not None) is guide.tells, id_
    # What never begins while it runs is never begun again, wherever it might end.
    assert not sides.guide("rest.not-restarted").tells


def test_the_map_is_of_all_a_board_can_come_to() -> None:
    """Every place but the first is reached from another, and what leads there leads back."""
    terrain = SIDES["heater"].terrain
    assert terrain.complete
    forth = {(source, target) for source, rows in enumerate(terrain.onward) for _, target, _ in rows}
    assert forth == {(source, target) for target, rows in enumerate(terrain.back) for source, _ in rows}
    assert {target for _, target in forth} >= set(range(1, len(terrain.places)))


def test_a_fault_that_acts_at_one_end_is_seen_at_no_other() -> None:
    """A step that goes on wrongly shows where that step is over, however many times of the same rule run before it."""
    sides = sides_of(library("hearthgate"))
    guide = sides.guide("burner.prove_failed.then.prove_draft")
    ahead = guide.ahead(sides.good.off().config, guide.faulty.off())
    # 45 s until the draft is not proved, 3 min until that is over.
    assert ahead is not None
    assert ahead > 225_000_000


def test_what_runs_on_with_more_left_is_over_at_another_moment() -> None:
    """A run time that a loss of power left as it was shows when it is full, though both stand alike till then."""
    sides = SIDES["heat-pump-defrost"]
    guide = sides.guide("frost_run.kept-without-power")
    off = sides.good.off()
    begun = sides.good.go(off, {}, 1_000_000, power_up=True).standing
    kept = begun._replace(left=(Left(0, -1, 1_000_000, 0),))
    again, later = guide.from_here(begun, begun), guide.from_here(begun, kept)
    assert again is not None
    assert later is not None
    assert 0 < later < again


@pytest.mark.parametrize(("id_", "first"), [("counted.one-more", 3), ("counted.one-less", 2)])
def test_a_count_to_another_limit_acts_from_the_lower_of_the_two(id_: str, first: int) -> None:
    """Until then it counts as the good one does; once there, it is full on one board alone."""
    sides = SIDES["iec-ctu"]
    twin = sides.together([id_], {}).acting[id_]
    places = sides.terrain.places
    assert {config.places[0] for config in places} == {0, 1, 2, 3}
    assert all(twin.stands(config) is (config.places[0] >= first) for config in places)
    assert sides.guide(id_).tells


def test_how_far_it_is_goes_by_what_runs_already() -> None:
    """Of a time that has come some way only the rest is ahead; one that stands at its beginning is ahead whole."""
    sides = SIDES["heater"]
    guide = sides.guide("heat.stuck-off")
    good = sides.good
    values = {"call": True, "limit": True, "quick": False}
    begun = good.go(good.off(), values, 1_000_000, power_up=True).standing
    ahead = [guide.from_here(row, row) for row in (begun, good.go(begun, values, 12_000_000).standing)]
    # 20 s of rest.
    assert ahead == [19_000_000, 7_000_000]

"""Where a fault shows, as planning thinks.

Law: a guide points nowhere that boards which show differently do not stand already, and to every place from which some
way leads there; nothing differs where it says that nothing tells.
"""

from __future__ import annotations

import pytest
from attrs import evolve
from hypothesis import given, settings
from hypothesis import strategies as st

from boardgauge.faults import fault_of, faults_of
from boardgauge.language import read_board_text
from boardgauge.machine.compile import compile_board
from boardgauge.machine.picture import CannotSettle
from boardgauge.plans.growing import Grower
from boardgauge.plans.guiding import Guide
from boardgauge.plans.hand import Deed, Hand
from boardgauge.plans.joint import Joint
from boardgauge.plans.making import make_plan
from boardgauge.plans.planning import Planner
from boardgauge.plans.sides import Sides
from boardgauge.plans.wish import wish_for
from plans.planned import board_of, library, plan_of

NAMES = ["heater", "iec-ton", "iec-ctu", "iec-sr"]


def sides_of(name: str) -> Sides:
    """Give the boards of a bench."""
    board = board_of(name)
    return Sides(wish_for(board), Hand(compile_board(board)))


@pytest.mark.parametrize("name", NAMES)
def test_what_a_plan_finds_is_pointed_to(name: str) -> None:
    """From before the supply comes on a guide knows a way to every fault that a plan finds by what shows for long."""
    sides = sides_of(name)
    found = {goal for row in plan_of(name).plan.covers if row.kind == "fault" for goal in row.goals}
    off = sides.good.off().config
    for id_ in found:
        guide = sides.guide(id_)
        late = sides.faults[id_].group == "output late"
        assert late or (guide.ahead(off, guide.faulty.off()) or 0) > 0, id_


@pytest.mark.parametrize("name", NAMES)
@settings(max_examples=30, deadline=None)
@given(data=st.data())
def test_a_guide_knows_where_boards_stand(name: str, data: st.DataObject) -> None:
    """Whatever is done: where what shows differs nothing is ahead, and it has to be ahead before."""
    sides = sides_of(name)
    fault = data.draw(st.sampled_from([row for row in faults_of(board_of(name)) if row.group != "output chatters"]))
    guide, hand = sides.guide(fault.id), sides.hand
    together = sides.together([fault.id], {})
    joint: Joint = together.begin({row.id: row.rests_on for row in board_of(name).inputs.values()}, [fault.id])
    first = True
    for _ in range(data.draw(st.integers(1, 6))):
        deeds = [*hand.sets(joint.values)]
        deed = deeds[data.draw(st.integers(0, len(deeds) - 1))]
        try:
            done = together.do(joint, deed, first=first)
        except CannotSettle:
            return
        if fault.id not in done.joint.faulty:
            return
        joint, first = done.joint, False
        good, faulty = joint.good.config, joint.faulty[fault.id].standing.config
        differ = guide.pair.differ(good, faulty)
        assert (guide.ahead(good, faulty) == 0) is bool(differ)
        if differ:
            return


def test_what_was_looked_through_elsewhere_is_the_same() -> None:
    """A guide that is given what another one saw says the same."""
    one, other = sides_of("heater"), sides_of("heater")
    mine, its = one.guide("rest.lasts.short"), other.guide("rest.lasts.short")
    its.seen = mine.look()
    off = mine.good.off()
    assert its.ahead(off, off) == mine.ahead(off, off)
    assert its.tells


def test_a_flicker_is_pointed_to() -> None:
    """Only a board that takes in flickers differs from one that does not where there are any."""
    sides = sides_of("heater")
    guide = sides.guide("call.no-filter")
    blind = Guide(guide.good, guide.faulty, sides.hand, guide.wired, guide.own, None)
    assert guide.tells
    assert not blind.tells


def test_what_nobody_sees_is_not_pointed_to() -> None:
    """To who sees the heating alone, a dead alarm shows nowhere."""
    sides = sides_of("heater")
    guide = sides.guide("alarm.stuck-off")
    blind = Guide(guide.good, guide.faulty, sides.hand, frozenset({"heat"}), guide.own)
    assert guide.tells
    assert not blind.tells


def test_looking_has_a_bound_and_says_so() -> None:
    """Where not all was looked through that is told."""
    guide = sides_of("heater").guide("rest.not-restarted")
    part = Guide(guide.good, guide.faulty, guide.hand, guide.wired, guide.own, most=5)
    assert guide.look().complete
    assert not part.look().complete


@pytest.mark.parametrize("id_", ["frost_run.not-kept", "frost_run.kept-without-power", "interval.as-2", "aux.late-on"])
def test_a_fault_far_off_is_found_when_it_is_aimed_at(id_: str) -> None:
    """What shows only after three quarters of an hour, and after it was broken off and gone on with, is found alone."""
    board = library("heat-pump-defrost")
    planner = Planner(evolve(wish_for(board), faults=(fault_of(board, id_),)))
    planner.goals.seen |= planner.goals._wanted
    planner.grow()
    assert planner.shown() == {id_}


def test_how_far_a_time_has_come_is_told_in_quarters() -> None:
    """States in which a time has nearly run out are others than those in which it has just begun."""
    side = sides_of("heater").good
    begun = side.go(side.off(), {}, 1_000_000, power_up=True).standing
    assert [side.stages(side.go(begun, {}, seconds * 1_000_000).standing) for seconds in (0, 3, 5, 9, 14, 18)] == [
        (4,),
        (4,),
        (3,),
        (2,),
        (1,),
        (1,),
    ]


def test_a_sensor_flickers_to_every_value() -> None:
    """A flicker that shows may have to go past a limit that is not the nearest."""
    hand = Hand(compile_board(library("heat-pump-defrost")))
    now = {"running": True, "coil": hand.values["coil"][0]}
    pulses = list(hand.pulses("coil", now))
    assert [deed.values["coil"] for deed in pulses] == list(hand.values["coil"][1:])
    assert all(deed.pulse == 70_000 for deed in pulses)
    assert [deed.values for deed in hand.pulses("running", now)] == [{"running": False}]


def test_a_flicker_of_a_sensor_leaves_nothing_behind() -> None:
    """From between two limits a flicker through one of them is never undone, so every board takes it in: that is none.
    Through both and back it is one, and a board that does not filter it is told by it."""
    planner = Planner(wish_for(library("extract-fan")))
    planner = Planner(evolve(planner.wish, faults=(planner.faults["damp.no-filter"],)))
    together = planner.sides.together(planner.faults, {})
    grower = Grower(together, planner.hand, planner.goals, planner.forbidding.allows)
    joint = grower.begin({}, planner.beginnings.values(), planner.faults).done[-1].joint
    rested = together.do(joint, Deed(wait=13_000_000)).joint
    between = together.do(rested, Deed({"damp": 68}, settle=5_000_000)).joint
    flickers = [[deed.values["damp"] for deed in grower.deeds(row) if deed.pulse] for row in (rested, between)]
    every = list(planner.hand.values["damp"])
    assert flickers == [every[1:], [value for value in every if value < 72 and value != 68]]
    deed = Deed({"damp": 97}, pulse=140_000, settle=5_000_000)
    assert together.do(rested, deed).parted == {"damp.no-filter"}
    kept = together.do(between, deed)
    assert not kept.parted
    assert [shown[0] for _, shown in kept.rows] == [(True,)]


OVERRUN = """
language = 1
[board]
id = "overrun"
title = "A fan that runs on (invented)"
tolerance = "± 8 %"
responds_within = "0.2 s"
filter = "30 ms to 100 ms"
[inputs.light]
kind = "signal"
[rules.occupied]
kind = "mode"
begins = "light for 45 s"
ends = "not light"
[rules.overrun]
kind = "delay"
begins = "occupied ends"
lasts = "2 min"
if_begun_again = "starts over"
[outputs.fan]
on = "occupied or overrun"
"""


def test_where_a_fault_acts_nothing_goes_on_as_if_it_had_not() -> None:
    """The overrun that begins too soon has to be over before it lacks: no way leads past that."""
    board = read_board_text(OVERRUN, "overrun.toml")
    planner = Planner(evolve(wish_for(board), faults=(fault_of(board, "overrun.begins.by-begins"),)))
    together = planner.sides.together(planner.faults, {})
    guide = planner.sides.guide("overrun.begins.by-begins")
    joint = together.begin({"light": False}, planner.faults)
    joint = together.do(joint, Deed(settle=1_000_000), first=True).joint
    lit = together.do(joint, Deed({"light": True}, settle=1_000_000)).joint
    faulty = lit.faulty["overrun.begins.by-begins"].standing
    assert (guide.from_here(lit.good, faulty) or 0) >= (44 + 120) * 1_000_000
    planner.grow()
    planner.finish()
    assert planner.found() == {"overrun.begins.by-begins"}


LATCHED = """
language = 1
[board]
id = "latched"
title = "A lockout that a switch has to cause for two seconds on end (invented)"
tolerance = "± 4 %"
responds_within = "0.3 s"
filter = "40 ms to 150 ms"
[inputs.limit]
kind = "switch"
contact = "normally closed"
[rules.tripped]
kind = "lockout"
trips = "limit open for 2 s"
clears = "only by power loss"
[outputs.alarm]
on = "tripped"
lag = "0.1 s"
"""


def test_a_flicker_after_which_a_time_begins_anew_is_pointed_to() -> None:
    """Both stand alike after it, and yet one trips later than the other; a plan finds it whatever the lengths."""
    board = read_board_text(LATCHED, "latched.toml")
    fault = fault_of(board, "limit.no-filter")
    sides = Sides(evolve(wish_for(board), faults=(fault,)), Hand(compile_board(board)))
    guide = sides.guide(fault.id)
    assert guide.tells
    assert guide.look().complete
    assert max(guide.look().acted) >= 0
    made = make_plan(evolve(wish_for(board), faults=(fault,)))
    assert made.found == 1

"""Nothing is planned that would break a requirement of the spec, or what a rig says is never driven."""

from __future__ import annotations

from attrs import evolve

from boardgauge.faults import fault_of
from boardgauge.language import read_board_text
from boardgauge.language.expression_reader import read_condition
from boardgauge.machine.compile import compile_board
from boardgauge.plans import Set
from boardgauge.plans.forbidding import Forbidding
from boardgauge.plans.making import make_plan
from boardgauge.plans.wish import wish_for
from plans.planned import HEATER, goals, heater

FORBIDS = """
[requirements.one_at_a_time]
never = "call and quick fitted"
"""


def test_what_the_spec_forbids_to_drive_is_not_driven() -> None:
    """Inputs that would break a requirement by themselves are never brought there together."""
    board = read_board_text(HEATER + FORBIDS, "heater.toml")
    forbidding = Forbidding(compile_board(board))
    assert not forbidding.allows({"call": True, "quick": True, "limit": True})
    assert forbidding.allows({"call": True, "quick": False, "limit": True})
    faults = tuple(fault_of(board, id_) for id_ in ("heat.stuck-off", "pins.without-effect", "rest.lasts.short"))
    plan = make_plan(evolve(wish_for(board), faults=faults)).plan
    assert "heat.stuck-off" in goals(plan, "fault")
    for sitting in plan.sittings:
        now = {"call": False, "quick": False, **sitting.start}
        for step in sitting.steps:
            if isinstance(step, Set):
                now.update(step.inputs)
                assert not (now["call"] and now["quick"])


def test_what_the_rig_never_drives_is_not_driven() -> None:
    """What a rig forbids besides the spec holds at no moment of a plan."""
    board = heater()
    wish = wish_for(board)
    never = (read_condition("quick fitted"), read_condition("call and limit open"))
    plan = make_plan(evolve(wish, faults=(fault_of(board, "heat.stuck-off"),), never=never)).plan
    assert "heat.stuck-off" in goals(plan, "fault")
    for sitting in plan.sittings:
        now = {"call": False, "quick": False, "limit": True, **sitting.start}
        for step in [Set(), *sitting.steps]:
            if isinstance(step, Set):
                now.update(step.inputs)
                assert not now["quick"]
                assert not (now["call"] and not now["limit"])

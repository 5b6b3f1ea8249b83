"""Plans of boards.

Law: a fault that a plan says it finds is found by the judge whatever lengths the spec allows; a good board conforms
under the plan, whatever lengths it has; and what the plan does not reach, it says.
"""

from __future__ import annotations

from fractions import Fraction

import pytest
from attrs import evolve
from hypothesis import given, settings
from hypothesis import strategies as st

from boardgauge.boards import board_path
from boardgauge.faults import Fault, engine_of, fault_of, faults_of
from boardgauge.judging.first import FirstJudge
from boardgauge.language import read_board_text
from boardgauge.language.model import InputKind
from boardgauge.machine.compile import compile_board
from boardgauge.machine.settle import Engine
from boardgauge.plans import Measure, Plan, Set, Sitting, WaitFor, carry_out, read_plan_text, trace_of, write_plan
from boardgauge.plans.carrying import TAIL
from boardgauge.plans.hand import sensor_values
from boardgauge.plans.killing import Killing, Lengths
from boardgauge.plans.making import made_of, make_plan
from boardgauge.plans.planning import Planner
from boardgauge.plans.untold import TOO_QUICK, too_quick
from boardgauge.plans.wish import wish_for
from plans.planned import board_of, goals, heater, library, plan_of

NAMES = ["heater", "iec-ton", "iec-ctu", "iec-sr", "iec-r-trig"]


def left_out(plan: Plan, kind: str) -> set[str]:
    """Give the goals of a kind that a plan leaves out."""
    return {goal for row in plan.leaves_out if row.kind == kind for goal in row.goals}


@pytest.mark.parametrize("name", NAMES)
def test_every_fault_is_found_or_left_out_with_a_reason(name: str) -> None:
    """No fault is passed over, none is on both lists, and every reason says something."""
    plan = plan_of(name).plan
    found, left = goals(plan, "fault"), left_out(plan, "fault")
    assert found | left == {fault.id for fault in faults_of(board_of(name))}
    assert not found & left
    assert all(row.reason for row in plan.leaves_out)


@pytest.mark.parametrize("name", NAMES)
@settings(max_examples=15)
@given(seed=st.integers(0, 10_000))
def test_a_good_board_conforms_whatever_its_lengths(name: str, seed: int) -> None:
    """No good board is accused by a plan, all terminals wired or only the first output, and its windows hold."""
    board, plan = board_of(name), plan_of(name).plan
    judge = FirstJudge.of(board)
    for sitting in plan.sittings:
        carried = carry_out(sitting, judge.engine, "random", seed)
        for wired in (plan.wired, ("power", *board.inputs, next(iter(board.outputs)))):
            assert judge.judge(trace_of(carried, board, wired)).verdict == "conforms"
        for step in sitting.steps:
            if isinstance(step, Measure):
                measured = carried.measured(step)
                assert measured is None or step.shortest <= measured <= step.longest


@pytest.mark.parametrize("name", NAMES)
@settings(max_examples=15)
@given(seed=st.integers(0, 10_000), data=st.data())
def test_a_fault_said_to_be_found_is_found(name: str, seed: int, data: st.DataObject) -> None:
    """The judge says deviates, be the faulty board's other times early, late or nominal."""
    board, plan = board_of(name), plan_of(name).plan
    fault = fault_of(board, data.draw(st.sampled_from(sorted(goals(plan, "fault")))))
    timings = data.draw(st.sampled_from(["nominal", "earliest", "latest"]))
    judge = FirstJudge.of(board)
    carried = [carry_out(sitting, engine_of(fault), timings, seed) for sitting in plan.sittings]
    verdicts = [judge.judge(trace_of(row, board, plan.wired)).verdict for row in carried]
    assert "deviates" in verdicts


@pytest.mark.parametrize("name", NAMES)
def test_a_plan_says_when_each_thing_comes(name: str) -> None:
    """On a nominal board every wait ends inside its window, before its limit."""
    board, plan = board_of(name), plan_of(name).plan
    engine = Engine(compile_board(board))
    for sitting in plan.sittings:
        carried = carry_out(sitting, engine)
        ends = {step.id: time.ended for step, time in zip(sitting.steps, carried.times, strict=True) if step.id}
        for step, time in zip(sitting.steps, carried.times, strict=True):
            if isinstance(step, WaitFor):
                since = ends[step.since] if step.since else time.begun
                assert time.came
                assert step.earliest <= time.ended - since <= step.latest
                assert time.ended - time.begun < step.at_most


@pytest.mark.parametrize("name", NAMES)
def test_a_plan_leaves_nothing_live_or_fitted(name: str) -> None:
    """Each sitting ends with the supply off and every link as it found it; and every switching-on has its caution."""
    board, plan = board_of(name), plan_of(name).plan
    for sitting in plan.sittings:
        power, links = False, {row.id: False for row in board.inputs.values() if row.kind is InputKind.LINK}
        links.update({name: bool(value) for name, value in sitting.start.items() if name in links})
        for step in sitting.steps:
            if isinstance(step, Set):
                power = step.power if step.power is not None else power
                links.update({name: bool(value) for name, value in step.inputs.items() if name in links})
                assert step.caution or not step.power
        assert not power
        assert not any(links.values())


def test_the_heater_is_planned_whole() -> None:
    """Of a small board every fault is found or proved to make no difference, and every goal is shown."""
    plan = plan_of("heater").plan
    open_ = [
        goal for row in plan.leaves_out if row.kind == "fault" and row.reason[:6] != "proved" for goal in row.goals
    ]
    # A flicker of the speed-up link gains less than the tolerance.
    assert open_ == ["quick.no-filter"]
    # A board that starts its rest as it starts to heat contradicts itself, and never heats.
    assert "rest.begins.2.by-begins" in goals(plan, "fault")
    assert "rest: runs out at its own rate" in goals(plan, "limit")
    assert {"rest.lasts: no shorter than allowed", "rest.lasts: no longer than allowed"} <= goals(plan, "limit")
    assert "heat: call in call and not rest and not tripped" in goals(plan, "part of a condition")
    assert "tripped: clear to tripped" in goals(plan, "move")


def test_a_pulse_of_a_few_milliseconds_tells_faults_too() -> None:
    """What shows for one scan alone is found; what acts only within it, quicker than a hand, is said to."""
    plan = plan_of("iec-r-trig").plan
    assert {"q.stuck-off", "q.late-on", "clk.stuck-off", "scan.lasts.short", "scan.lasts.long"} <= goals(plan, "fault")
    left = {goal: row.reason for row in plan.leaves_out if row.kind == "fault" for goal in row.goals}
    assert left == dict.fromkeys(("q.chatters", "scan.not-restarted", "scan.kept-without-power"), TOO_QUICK)


@pytest.mark.parametrize(("lasts", "quick"), [("499 ms", True), ("500 ms", False)])
def test_what_is_over_before_the_next_thing_is_done_is_too_quick(lasts: str, quick: bool) -> None:
    """A hand does nothing within half a second of the last thing; only faults that act while a delay runs count."""
    spec = board_path("iec-r-trig").read_text().replace('lasts = "20 ms"', f'lasts = "{lasts}"')
    board = read_board_text(spec, "pulse.toml")
    assert too_quick(board, fault_of(board, "scan.kept-without-power")) is quick
    assert too_quick(board, fault_of(board, "q.chatters")) is quick
    assert not too_quick(board, fault_of(board, "q.stuck-off"))


def test_a_bench_that_does_not_see_the_alarm_does_not_tell_of_it() -> None:
    """What only the alarm shows is proved not to be told by what is wired."""
    board = heater()
    faults = tuple(fault_of(board, id_) for id_ in ("alarm.stuck-off", "heat.stuck-off"))
    plan = make_plan(evolve(wish_for(board), faults=faults, outputs=("heat",), lamps=())).plan
    assert goals(plan, "fault") == {"heat.stuck-off"}
    assert [row.reason[:30] for row in plan.leaves_out if row.kind == "fault"] == ["not told by the wired signals:"]


def test_what_is_looked_for_again_is_judged_whole(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where a fault stays untold at some lengths, however often it is looked for again, each sitting that is left was
    judged at all lengths and is worth its time, and the fault is told at some lengths only."""
    finds = Killing.finds

    def stubborn(self: Killing, sitting: Sitting, fault: Fault, lengths: Lengths, tail: int = TAIL) -> bool:
        untold = fault.id == "q.late-off" and lengths.timings == "latest"
        return not untold and finds(self, sitting, fault, lengths, tail)

    monkeypatch.setattr(Killing, "finds", stubborn)
    planner = Planner(wish_for(library("iec-ton")))
    planner.grow()
    planner.finish()
    assert all(row.settled for row in planner.seated)
    assert all(row.finds.keys() & planner.found() or row.sights for row in planner.seated)
    reasons = {
        goal: row.reason for row in made_of(planner).plan.leaves_out if row.kind == "fault" for goal in row.goals
    }
    assert reasons == {"q.late-off": "told at some of the lengths that the spec allows, not at all of them"}


def test_the_same_wish_gives_the_same_plan() -> None:
    """Nothing in planning goes by chance."""
    assert make_plan(wish_for(library("iec-ton"))).plan == plan_of("iec-ton").plan


def test_a_plan_that_was_made_is_read_again() -> None:
    """What the planner makes can be written and read."""
    board, plan = heater(), plan_of("heater").plan
    assert read_plan_text(write_plan(plan, board), "plan.toml", board) == plan


def test_a_sensor_is_set_clear_of_its_limits() -> None:
    """Every value lies further from each limit than the sensor may be off, on both sides of each of them."""
    machine = compile_board(library("extract-fan"))
    values = sensor_values(machine, "damp")
    for limit in (72, 64):
        assert all(abs(Fraction(value) - limit) > 3 for value in values)
        assert any(3 < value - limit <= 4 for value in values)
        assert any(3 < limit - value <= 4 for value in values)


def test_a_plan_begins_with_settings_at_their_shortest_times() -> None:
    """A setting that a person chooses stands at first where its time is shortest."""
    board = library("heat-pump-defrost")
    planner = Planner(evolve(wish_for(board), faults=(fault_of(board, "aux.stuck-off"),)))
    assert planner.beginnings.quickest() == {"interval": "30"}
    assert Planner(wish_for(heater())).beginnings.quickest() == {}
    planner.goals.seen |= planner.goals._wanted
    planner.grow()
    assert [row.sitting.settings for row in planner.seated] == [{"interval": "30"}]

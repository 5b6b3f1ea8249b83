"""A firmware on the bench of a test: what it is told it does, and what a failing test says is what the judge says.

Simulated boards, good and faulty, stand in for firmware here: to the bench a rig is a rig.
"""

from __future__ import annotations

import pytest

from boardgauge.boards import board_path
from boardgauge.faults import fault_of
from boardgauge.firmware import CannotPlay, FirmwareBench, FirmwareDeviates, NotShown
from boardgauge.language import read_board
from boardgauge.machine.scenario_reader import read_scenario_text
from boardgauge.plans import Set, Sitting, Wait, WaitFor
from boardgauge.rigs.board_rig import BoardRig

S = 1_000_000
BOARD = read_board(board_path("tarnbeck"))


def bench_of(fault: str = "") -> FirmwareBench:
    acts = fault_of(BOARD, fault).board if fault else BOARD
    return FirmwareBench(BOARD, BoardRig(BOARD, acts, "nominal"))


def restart(bench: FirmwareBench) -> None:
    """Run, stop, and ask for a restart after ten seconds."""
    bench.begin(j0="fitted")
    bench.power()
    bench.wait("40 s")
    bench.set(y="on")
    assert bench.wait_for("cc", at_most="1 s")
    bench.wait("1 min")
    bench.set(y=False)
    bench.wait(10 * S)
    bench.set({"y": True})
    bench.wait("1 min")


def test_a_good_board_passes_and_what_it_showed_is_known() -> None:
    bench = bench_of()
    restart(bench)
    judgement = bench.check(shows=["restart_delay", "power_up_delay"])
    assert judgement.verdict == "conforms"
    assert bench.checked


def test_a_deviation_fails_with_the_judges_explanation() -> None:
    """Signal, rule, clause, what was seen, the window, the margin, and all that was done until then."""
    bench = bench_of("restart_delay.lasts.short")
    restart(bench)
    with pytest.raises(FirmwareDeviates) as caught:
        bench.check()
    text = str(caught.value)
    for words in (
        "simulated deviates from the spec tarnbeck",
        "cc: restart_delay, clause 2.4",
        "seen      compressor contactor went on at",
        "s too early",
        "counted   restart delay, running since",
        "tarnbeck.toml:118:8",
        "what was done until then:\n  0.000 s  j0 fitted\n  0.100 s  supply on\n  40.100 s  y on",
    ):
        assert words in text, text


def test_what_was_not_exercised_is_not_taken_for_shown() -> None:
    bench = bench_of()
    restart(bench)
    with pytest.raises(NotShown, match="nothing is proved of: lp_lockout"):
        bench.check(shows=["lp_lockout"])


def test_a_new_beginning_is_a_new_board() -> None:
    """What was done to the board before does not follow the next one."""
    bench = bench_of("restart_delay.lasts.short")
    restart(bench)
    bench.begin()
    bench.power()
    bench.wait("1 min")
    assert bench.check().verdict == "conforms"
    assert bench.now < 2 * 60 * S


@pytest.mark.parametrize(
    ("done", "told"),
    [
        (lambda b: b.set(yy=True), "has no input 'yy'; did you mean 'y'"),
        (lambda b: b.set(y="closed"), "y is a call: on or off, not 'closed'"),
        (lambda b: b.wait_for("ccc"), "has no output or lamp 'ccc'; did you mean 'cc'"),
        (lambda b: b.level("nothing"), "has no signal 'nothing'"),
        (lambda b: b.check(shows=["restart"]), "has no rule 'restart'"),
        (lambda b: b.begin({"turns": "long"}), "has no setting 'turns'"),
    ],
)
def test_a_name_or_word_that_is_none_is_told(done: object, told: str) -> None:
    bench = bench_of()
    bench.begin()
    with pytest.raises(ValueError, match=told):
        done(bench)  # type: ignore[operator]


SCENARIO = """
language = 1
board = "tarnbeck"
title = "A start"
steps = [
  { power = "on" },
  { set = { y = "on" } },
  { until = "UNTIL", at_most = "1 min" },
  { wait = "5 s" },
]
[start]
j0 = "fitted"
"""


@pytest.mark.parametrize("until", ["cc", "cc begins"])
def test_a_scenario_is_played_by_what_shows(until: str) -> None:
    bench = bench_of()
    bench.carry_out(read_scenario_text(SCENARIO.replace("UNTIL", until), "start.toml", BOARD))
    assert bench.level("cc") is True
    assert bench.check(shows=["power_up_delay"]).verdict == "conforms"


def test_a_scenario_that_waits_for_what_nobody_sees_is_refused_before_anything_is_done() -> None:
    bench = bench_of()
    scenario = read_scenario_text(SCENARIO.replace("UNTIL", "power_up_delay expires"), "start.toml", BOARD)
    with pytest.raises(CannotPlay, match=r"start.toml:\d+.*cannot be waited for at the terminals"):
        bench.play(scenario)
    assert bench.now == 0


def test_what_a_scenario_waits_for_in_vain_is_the_judges_to_explain() -> None:
    """A board that never starts deviates; where the spec does not ask for it, the wait itself is told."""
    scenario = read_scenario_text(SCENARIO.replace("UNTIL", "cc"), "start.toml", BOARD)
    with pytest.raises(FirmwareDeviates, match="power_up_delay"):
        bench_of("power_up_delay.endless").play(scenario)
    idle = read_scenario_text(SCENARIO.replace("UNTIL", "alm"), "start.toml", BOARD)
    with pytest.raises(NotShown, match="'alm' did not come"):
        bench_of().play(idle)


def test_a_sitting_of_a_plan_is_carried_out() -> None:
    steps = (
        Set(power=True),
        Set({"y": True}, id="called"),
        WaitFor("cc", True, 28 * S, 32 * S, 60 * S, since="called"),
        Wait(5 * S),
    )
    good, bad = bench_of(), bench_of("power_up_delay.lasts.short")
    for bench in (good, bad):
        bench.carry_out(Sitting("start", steps))
    assert good.check().verdict == "conforms"
    with pytest.raises(FirmwareDeviates, match="power_up_delay"):
        bad.check()

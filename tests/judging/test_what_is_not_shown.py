"""A recording that does not show an input, an output or a stretch is judged on the rest, and says what it rests on."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from attrs import evolve
from hypothesis import HealthCheck, given, reject, settings
from hypothesis import strategies as st

from boardgauge.judging.judge import Judge
from boardgauge.judging.judgement import Judgement
from boardgauge.language import read_board_text
from boardgauge.machine.picture import CannotSettle
from boardgauge.machine.run import Timeline
from boardgauge.machine.simulate import Simulator
from boardgauge.traces import Channel, Recording, condition, default_wiring
from boardgauge.traces.simulated import recording_of
from timelines import timelines

S = 1_000_000
SPEC = """
language = 1
[board]
id = "rested"
title = "A motor with a rest and a guard, invented"
tolerance = "± 5 %"
responds_within = "0.1 s"
[inputs]
call = { kind = "call" }
guard = { kind = "switch", contact = "normally closed" }
[rules.rest]
kind = "delay"
begins = "power_up or motor ends"
lasts = "10 s"
if_begun_again = "starts over"
[rules.trip]
kind = "lockout"
trips = "guard open for 1 s"
clears = "not call"
[outputs.motor]
on = "call and not rest and not trip"
[outputs.alarm]
on = "trip"
lag = "20 ms"
"""


@cache
def judge() -> Judge:
    return Judge.of(read_board_text(SPEC, "rested.toml"))


def judged(recording: Recording) -> Judgement:
    board = judge().engine.machine.board
    return judge().judge(condition(recording, default_wiring(board), board))


def recorded(timeline: Timeline, mode: str = "nominal", seed: int = 0) -> Recording:
    engine = judge().engine
    try:
        run = Simulator(engine.machine, mode, seed, engine=engine).run(timeline)  # type: ignore[arg-type]
    except CannotSettle:
        # The lockout would trip and clear in one instant: the spec says nothing of that, so no board can be simulated.
        reject()
    return recording_of(run, engine.machine.board)


def without(recording: Recording, *names: str) -> Recording:
    return evolve(recording, channels={n: c for n, c in recording.channels.items() if n not in names})


def blanked(recording: Recording, name: str, begin: int, end: int) -> Recording:
    """Give the recording with a channel not known from begin to end."""
    channel = recording.channels[name]
    inside = (channel.times > begin) & (channel.times <= end)
    after = channel.values[int(np.searchsorted(channel.times, end, side="right")) - 1]
    times = np.concatenate((channel.times[~inside], [begin, end]))
    values = np.concatenate((channel.values[~inside], [np.nan, after]))
    order = np.argsort(times, kind="stable")
    cleaned = Channel(name, times[order].astype(np.int64), values[order])
    return evolve(recording, channels={**recording.channels, name: cleaned})


TRIPPED = Timeline(
    {
        "power": ((0, False), (S, True)),
        "call": ((0, True),),
        "guard": ((0, True), (20 * S, False), (25 * S, True)),
    },
    40 * S,
)


def test_with_everything_wired_the_trip_conforms() -> None:
    assert judged(recorded(TRIPPED)).verdict == "conforms"


def test_a_stop_that_only_an_input_not_wired_explains_is_undecided() -> None:
    judgement = judged(without(recorded(TRIPPED), "guard"))
    assert judgement.verdict == "undecided"
    assert "guard" in judgement.doubts[0].reason
    assert judgement.unwired == ("guard",)


def test_what_no_input_explains_deviates_though_one_is_not_wired() -> None:
    """The motor may not start 5 s after power-up, whatever the guard does."""
    recording = recorded(TRIPPED)
    motor = Channel("motor", np.array([0, 6 * S], np.int64), np.array([0.0, 1.0]))
    judgement = judged(without(evolve(recording, channels={**recording.channels, "motor": motor}), "guard"))
    assert judgement.verdict == "deviates"
    assert judgement.deviations[0].rule == "rest"


def test_without_the_alarm_wired_the_motor_is_still_judged() -> None:
    assert judged(without(recorded(TRIPPED), "alarm")).verdict == "conforms"
    late = recorded(TRIPPED)
    motor = Channel("motor", np.array([0, 15 * S], np.int64), np.array([0.0, 1.0]))
    judgement = judged(without(evolve(late, channels={**late.channels, "motor": motor}), "alarm"))
    assert (judgement.verdict, judgement.deviations[0].signal) == ("deviates", "motor")


def test_an_input_not_wired_that_stayed_at_rest_leaves_no_doubt() -> None:
    quiet = Timeline({"power": ((0, False), (S, True)), "call": ((0, True),), "guard": ((0, True),)}, 30 * S)
    assert judged(without(recorded(quiet), "guard")).verdict == "conforms"


def test_an_input_that_may_have_turned_and_turned_back_unseen_may_have_stopped_a_timing() -> None:
    """The guard is open, unknown for 50 ms, and open again: it trips 1 s after the end of that at the latest."""
    guard = ((0, False), (10_002, True), (50_002, False))
    timeline = Timeline({"power": ((0, False), (1, True)), "call": ((0, False),), "guard": guard}, 1_200_000)
    assert judged(blanked(recorded(timeline), "guard", 2, 50_002)).verdict != "deviates"
    late = recorded(timeline)
    alarm = Channel("alarm", np.array([0, 1_150_000], np.int64), np.array([0.0, 1.0]))
    wrong = evolve(late, channels={**late.channels, "alarm": alarm})
    assert judged(blanked(wrong, "guard", 2, 50_002)).verdict == "deviates"


NAMES = st.sampled_from(["call", "guard", "motor", "alarm"])


@pytest.mark.parametrize("seed", [0])
@settings(max_examples=settings().max_examples // 3, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(data=st.data(), mode=st.sampled_from(["nominal", "earliest", "latest", "random"]))
def test_any_part_may_be_blanked_out_without_a_false_alarm(data: st.DataObject, mode: str, seed: int) -> None:
    recording = recorded(data.draw(timelines(judge().engine.machine.board, most=12)), mode, seed)
    for name in data.draw(st.lists(NAMES, min_size=1, max_size=2, unique=True)):
        begin = data.draw(st.integers(0, recording.end - 2))
        recording = blanked(recording, name, begin, data.draw(st.integers(begin + 1, recording.end - 1)))
    assert judged(recording).verdict != "deviates"


@settings(max_examples=settings().max_examples // 4, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    data=st.data(),
    mode=st.sampled_from(["nominal", "earliest", "latest", "random"]),
    names=st.lists(NAMES, min_size=1, max_size=3, unique=True),
)
def test_any_channel_may_be_missing_without_a_false_alarm(data: st.DataObject, mode: str, names: list[str]) -> None:
    recording = recorded(data.draw(timelines(judge().engine.machine.board, most=12)), mode)
    assert judged(without(recording, *names)).verdict != "deviates"

"""Laws of a supply that nobody knows for a while: it may have stayed, or gone and come, and no board is accused of
it; once it is known again, and the board has shown where it stands, what it does wrong is found.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path
from unittest.mock import patch

import numpy as np
import pytest
from attrs import evolve
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from boardgauge.drawings.run_chart import Asked
from boardgauge.judging import tracker
from boardgauge.judging.fitted import fitted_run
from boardgauge.judging.judge import Judge
from boardgauge.judging.judgement import Judgement
from boardgauge.judging.recording_chart import recording_chart
from boardgauge.judging.run import Run
from boardgauge.language import read_board, read_board_text
from boardgauge.machine.picture import CannotSettle
from boardgauge.machine.run import Timeline
from boardgauge.machine.simulate import Simulator
from boardgauge.traces import Channel, Recording, condition, default_wiring
from boardgauge.traces.simulated import recording_of
from motor_boards import FORGETS, KEEPS
from timelines import timelines

S = 1_000_000
BOARDS = Path(__file__).parents[2] / "spec" / "boardgauge" / "boards"
EXAMPLES = settings().max_examples
QUICK = settings(
    max_examples=max(1, EXAMPLES // 5),
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.filter_too_much],
)
MODES = st.sampled_from(["nominal", "earliest", "latest", "random", "random"])


@cache
def judge_of(name: str) -> Judge:
    texts = {"forgets": FORGETS, "keeps": KEEPS}
    return Judge.of(
        read_board_text(texts[name], f"{name}.toml") if name in texts else read_board(BOARDS / f"{name}.toml")
    )


def judged(name: str, recording: Recording) -> Judgement:
    board = judge_of(name).engine.machine.board
    return judge_of(name).judge(condition(recording, default_wiring(board), board))


def simulated(name: str, timeline: Timeline, mode: str = "nominal", seed: int = 0) -> Recording:
    engine = judge_of(name).engine
    try:
        run = Simulator(engine.machine, mode, seed, engine=engine).run(timeline)  # type: ignore[arg-type]
    except CannotSettle:
        assume(False)
    return recording_of(run, engine.machine.board)


def hidden(recording: Recording, *spells: tuple[int, int]) -> Recording:
    """Give the recording with the supply not known in these spells."""
    channel = recording.channels["power"]
    times = np.unique(np.concatenate((channel.times, np.array(spells, dtype=np.int64).ravel())))
    values = channel.values[np.searchsorted(channel.times, times, side="right") - 1]
    for begin, end in spells:
        values[(times >= begin) & (times < end)] = np.nan
    known = np.isnan(values)
    news = np.ones(len(times), dtype=bool)
    news[1:] = (values[1:] != values[:-1]) & ~(known[1:] & known[:-1])
    power = Channel("power", times[news], values[news])
    return evolve(recording, channels={**recording.channels, "power": power})


def spells_in(data: st.DataObject, recording: Recording) -> list[tuple[int, int]]:
    """Draw spells around some of the changes of the supply, and perhaps one anywhere."""
    changes = recording.channels["power"].times.tolist()
    near = st.builds(lambda t, by: t + by, st.sampled_from(changes), st.integers(-3 * S, 3 * S))
    ends = st.one_of(near, st.integers(0, recording.end - 1), st.sampled_from(changes))
    found = []
    for _ in range(data.draw(st.integers(1, 2))):
        begin, end = sorted((data.draw(ends), data.draw(ends)))
        begin = max(0, begin)
        found.append((begin, max(begin + 1, min(end, recording.end - 1))))
    return found


@pytest.mark.parametrize("name", ["forgets", "keeps", "tarnbeck"])
@QUICK
@given(data=st.data(), mode=MODES, seed=st.integers(0, 2**32))
def test_a_good_board_is_never_accused_of_what_an_unseen_supply_did(
    name: str, data: st.DataObject, mode: str, seed: int
) -> None:
    most = 8 if name == "tarnbeck" else 14
    board = judge_of(name).engine.machine.board
    recording = simulated(name, data.draw(timelines(board, longest=120 * S, most=most)), mode, seed)
    few = data.draw(st.sampled_from([tracker.MOST_UNSEEN, tracker.MOST_UNSEEN, 3]))
    with patch.object(tracker, "MOST_UNSEEN", few):
        judgement = judged(name, hidden(recording, *spells_in(data, recording)))
    assert judgement.verdict != "deviates", judgement.deviations


@pytest.mark.parametrize("name", ["forgets", "keeps"])
@QUICK
@given(data=st.data(), mode=MODES, seed=st.integers(0, 2**32))
def test_a_board_whose_unseen_supply_stayed_on_conforms(name: str, data: st.DataObject, mode: str, seed: int) -> None:
    """Nothing rests on the supply having gone: as it was all is as it should be, or lost sight of."""
    board = judge_of(name).engine.machine.board
    recording = simulated(name, data.draw(timelines(board, longest=120 * S, most=14)), mode, seed)
    channel = recording.channels["power"]
    assume(len(channel.times) == 2)
    begin = data.draw(st.integers(int(channel.times[1]) + 1, recording.end - 2))
    end = data.draw(st.integers(begin + 1, recording.end - 1))
    with patch.object(Run, "_lose_count", autospec=True, side_effect=Run._lose_count) as lost:
        judgement = judged(name, hidden(recording, (begin, end)))
    fitting = {"conforms", "undecided"} if lost.called else {"conforms"}
    assert judgement.verdict in fitting, (judgement.deviations, judgement.doubts)


@pytest.mark.parametrize("name", ["forgets", "keeps"])
@QUICK
@given(data=st.data(), mode=MODES, seed=st.integers(0, 2**32))
def test_not_to_know_the_supply_for_longer_accuses_nobody(name: str, data: st.DataObject, mode: str, seed: int) -> None:
    """Of a spoilt recording too: what may be allowed may be so when less is known."""
    board = judge_of(name).engine.machine.board
    recording = simulated(name, data.draw(timelines(board, longest=60 * S, most=8)), mode, seed)
    motor = recording.channels["motor"]
    at = data.draw(st.integers(1, recording.end - 2))
    place = int(np.searchsorted(motor.times, at, side="right"))
    assume(at not in motor.times and (place == len(motor.times) or motor.times[place] > at + 1))
    held = motor.values[place - 1]
    spoilt = Channel(
        "motor", np.insert(motor.times, place, [at, at + 1]), np.insert(motor.values, place, [1 - held, held])
    )
    recording = evolve(recording, channels={**recording.channels, "motor": spoilt})
    (begin, end), *_ = spells_in(data, recording)
    more = max(0, begin - data.draw(st.integers(0, S))), min(recording.end - 1, end + data.draw(st.integers(0, S)))
    if judged(name, hidden(recording, more)).verdict == "deviates":
        assert judged(name, hidden(recording, (begin, end))).verdict == "deviates"


BUSY = Timeline(
    {
        "power": ((0, False), (S, True)),
        "call": ((0, False), (14 * S, True), (50 * S, False), (70 * S, True), (90 * S, False)),
        "stop": ((0, True),),
    },
    100 * S,
)


@pytest.mark.parametrize("gone", [False, True])
@settings(QUICK, max_examples=max(1, EXAMPLES // 10))
@given(begin=st.integers(2 * S, 20 * S), lasts=st.integers(S, 20 * S), at=st.integers(1, 9 * S))
def test_what_it_does_wrong_when_all_is_known_again_is_found(gone: bool, begin: int, lasts: int, at: int) -> None:
    """The motor stops with its call at 50 s, as it must; that it starts again within its rest is told as ever."""
    power = ((0, False), (S, True), *(((begin + lasts // 3, False), (begin + lasts // 2, True)) if gone else ()))
    recording = simulated("forgets", Timeline({**BUSY.inputs, "power": power}, BUSY.end))
    assert judged("forgets", hidden(recording, (begin, begin + lasts))).verdict != "deviates"
    motor = recording.channels["motor"]
    place = int(np.searchsorted(motor.times, 50 * S + at, side="right"))
    off = int(motor.times[place - 1])
    assert motor.values[place - 1] == 0
    wrong = Channel(
        "motor", np.insert(motor.times, place, [off + at, off + at + 1]), np.insert(motor.values, place, [1, 0])
    )
    judgement = judged(
        "forgets", hidden(evolve(recording, channels={**recording.channels, "motor": wrong}), (begin, begin + lasts))
    )
    assert [(d.signal, d.time) for d in judgement.deviations[:1]] == [("motor", off + at)]


def test_a_rest_that_spans_an_unseen_supply_is_not_measured() -> None:
    """It may have begun again there: neither is it measured, nor counted."""

    def ended(judgement: Judgement) -> list[int]:
        return [t.ended for row in judgement.rules if row.rule == "rest" for t in row.timings]

    again = Timeline({**BUSY.inputs, "call": ((0, True), (50 * S, False), (55 * S, True), (90 * S, False))}, BUSY.end)
    recording = simulated("forgets", again)
    assert ended(judged("forgets", recording)) == [2]
    assert ended(judged("forgets", hidden(recording, (52 * S, 53 * S)))) == [1]


def test_the_doubt_names_the_supply() -> None:
    """The motor stops and starts again as only a board does whose supply was gone."""
    power = ((0, False), (S, True), (20 * S, False), (21 * S, True))
    recording = simulated("forgets", Timeline({**BUSY.inputs, "power": power}, BUSY.end))
    judgement = judged("forgets", hidden(recording, (19 * S, 22 * S)))
    assert judgement.verdict == "undecided"
    assert "the supply" in judgement.doubts[0].reason


def test_a_board_lost_sight_of_is_found_again(monkeypatch: pytest.MonkeyPatch) -> None:
    """With more possibilities than are followed nothing is said while the supply is not known; afterwards it is."""
    monkeypatch.setattr("boardgauge.judging.tracker.MOST_UNSEEN", 0)
    recording = simulated("forgets", BUSY)
    assert judged("forgets", hidden(recording, (5 * S, 30 * S))).verdict == "undecided"
    motor = recording.channels["motor"]
    wrong = Channel("motor", np.append(motor.times, 95 * S), np.append(motor.values, 1.0))
    judgement = judged(
        "forgets", hidden(evolve(recording, channels={**recording.channels, "motor": wrong}), (5 * S, 30 * S))
    )
    assert [(d.signal, d.time) for d in judgement.deviations[:1]] == [("motor", 95 * S)]


def test_a_run_is_drawn_no_further_than_the_supply_is_known() -> None:
    """What a timing did across a spell without a known supply nobody can draw; the chart says why it ends there."""
    board = judge_of("forgets").engine.machine.board
    recording = hidden(simulated("forgets", BUSY), (30 * S, 40 * S))
    trace = condition(recording, default_wiring(board), board)
    fitted = fitted_run(judge_of("forgets").engine, trace)
    assert fitted is not None
    assert (fitted.until, fitted.whole, fitted.unsupplied) == (30 * S, False, True)
    chart = recording_chart(judge_of("forgets").engine, trace, judge_of("forgets").judge(trace), Asked())
    assert chart is not None
    assert any("30.000 s, from where on the supply is not known" in text for _, text in chart.notes)

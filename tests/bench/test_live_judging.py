"""Judging while a run goes on, and what the rig's own uncertainty does to the verdict."""

from __future__ import annotations

import json
import time
from fractions import Fraction
from pathlib import Path

import pytest
from attrs import evolve
from hypothesis import given
from hypothesis import strategies as st

from bench_plans import JUDGE, TARNBECK, Quiet, plan_of, runner_in
from boardgauge.bench.live_judging import LiveJudge, judge_so_far
from boardgauge.bench.running import run_of
from boardgauge.bench.wiring_file import wiring_text
from boardgauge.faults import fault_of
from boardgauge.rigs.board_rig import BoardRig
from boardgauge.rigs.paced import Paced
from boardgauge.rigs.rig import RigFacts
from boardgauge.traces.wiring_reader import wiring_from

FAULTY = fault_of(TARNBECK, "fan.stuck-off").board


def recorded(folder: Path) -> tuple[Path, Path]:
    """Carry out the plan on a board with a fault; give the first recording and its wiring."""
    runner, place = runner_in(folder, BoardRig(TARNBECK, FAULTY, seed=2), plan_of())
    runner.run(*place)
    first = run_of(folder, plan_of(), JUDGE).segments[0]
    return first.recording, first.wiring


def test_the_process_that_judges_tells_each_deviation_once(tmp_path: Path) -> None:
    """It is asked when it is time, tells the same as the judge, and is asked again later."""
    recording, wiring = recorded(tmp_path / "run")
    now = [0.0]
    live = LiveJudge(TARNBECK, clock=lambda: now[0])
    try:
        live.begin(recording, wiring)
        assert live.look() == ()
        assert live._process is None, "nothing is started for what is over at once"
        now[0] = 2.5
        found = live.look()
        deadline = time.monotonic() + 60
        while not found:
            assert time.monotonic() < deadline
            time.sleep(0.02)
            found = live.look()
        judgement = judge_so_far(JUDGE, recording, wiring)
        assert judgement is not None
        assert found == judgement.deviations
        now[0] = 1_000.0
        live.look()
        assert live._waiting
        while live._waiting and time.monotonic() < deadline:
            time.sleep(0.02)
            assert live.look() == ()
            now[0] += 1
        # Ended from outside, it is not missed: the run goes on, and is judged at its end.
        live._process.kill()
        live._process.join()
        for _ in range(3):
            now[0] += 10_000
            assert live.look() == ()
    finally:
        live.close()


def test_a_run_in_real_time_is_judged_while_it_goes_on_and_ends_at_its_first_deviation(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The deviation is told, and the rig made safe, long before the plan would be at its end."""
    monkeypatch.setattr("boardgauge.bench.live_judging.FIRST_AFTER", 0.2)
    rig = Paced(BoardRig(TARNBECK, FAULTY, seed=2), Fraction(8), None)
    watcher = Quiet()
    runner, place = runner_in(tmp_path / "run", rig, plan_of(), watcher, stop=True)
    try:
        assert runner.run(*place) == "stopped at a deviation"
    finally:
        runner.judge.close()
    assert [d.rule for d in watcher.deviations] == ["fan_with_compressor"]
    run = run_of(tmp_path / "run", plan_of(), JUDGE)
    assert (run.verdict, run.coverage.done < run.coverage.steps) == ("deviates", True)
    assert rig.behind.levels == rig.facts.drives


def test_judged_on_the_spot_only_when_enough_was_added(tmp_path: Path) -> None:
    """A recording is judged anew when it is a quarter longer, so all judging costs no more than five times the last."""
    recording, wiring = recorded(tmp_path / "run")
    live = LiveJudge(TARNBECK)
    live.begin(recording, wiring)
    assert live.on_the_spot(100)
    assert live.on_the_spot(124) == ()
    assert live._judged_to == 100
    live.on_the_spot(125)
    assert live._judged_to == 125


def test_a_recording_cut_off_anywhere_is_judged_as_far_as_its_lines_are_whole(tmp_path: Path) -> None:
    """No beginning of the recording of a good board deviates, and a torn last line is no harm."""
    runner, place = runner_in(tmp_path / "run", BoardRig(TARNBECK, seed=3), plan_of())
    runner.run(*place)
    first = run_of(tmp_path / "run", plan_of(), JUDGE).segments[0]
    data = first.recording.read_bytes()
    cut = tmp_path / "cut.jsonl"
    for size in (0, 10, 300, 1_000, len(data) // 2, len(data) // 2 + 7, len(data) - 3):
        cut.write_bytes(data[:size])
        judgement = judge_so_far(JUDGE, cut, first.wiring)
        assert (judgement is None) == (b"\n" not in data[:size])
        assert judgement is None or not judgement.deviations


@pytest.mark.parametrize(
    ("latency", "verdicts"), [(0, {"deviates"}), (20_000, {"deviates"}), (400_000, {"undecided", "conforms"})]
)
def test_the_latency_of_the_rig_reaches_the_judge(tmp_path: Path, latency: int, verdicts: set[str]) -> None:
    """A start 0.2 s too late deviates on a rig that is exact or 20 ms off, and not on one that may be 0.4 s off."""
    plan = plan_of()
    runner, place = runner_in(tmp_path / "run", BoardRig(TARNBECK, timings="latest", seed=1), plan)
    runner.run(*place)
    first = run_of(tmp_path / "run", plan, JUDGE).segments[0]
    rows = [json.loads(line) for line in first.recording.read_text().splitlines()]
    began = next(row["t_s"] for row in rows if row["signal"] == "cc" and row["value"] == 1)
    # All that comes after the wait for the start is 0.2 s later than it was.
    late = "".join(
        json.dumps({**row, "t_s": round(row["t_s"] + 0.2 * (row["t_s"] >= began), 6)}) + "\n" for row in rows
    )
    recording, wiring = tmp_path / "late.jsonl", tmp_path / "late.toml"
    recording.write_text(late)
    facts = evolve(BoardRig(TARNBECK).facts, latency=latency)
    wiring.write_text(wiring_text("tarnbeck", facts, (*facts.drives, *facts.sees), {}))
    judgement = judge_so_far(JUDGE, recording, wiring)
    assert judgement is not None
    assert judgement.verdict in verdicts


@given(
    st.integers(0, 10**8),
    st.integers(0, 10**5),
    st.booleans(),
    st.one_of(st.none(), st.integers(1, 10**6)),
    st.dictionaries(st.sampled_from(("interval", "mode")), st.sampled_from(("3 min", "a b")), max_size=2),
)
def test_a_wiring_says_of_the_rig_what_the_rig_says(
    latency: int, millionths: int, sampled: bool, pulse: int | None, positions: dict[str, str]
) -> None:
    """Latency, clock error, samples, least pulse and settings are read back as they were."""
    error = Fraction(millionths, 10**6) / 3 if millionths % 3 == 0 else Fraction(millionths, 10**6)
    facts = RigFacts("b", "process", {"power": False}, ("cc",), latency, error, sampled, pulse)
    wiring = wiring_from(wiring_text("tarnbeck", facts, ("power", "cc"), positions))
    assert (wiring.skew, wiring.clock_error) == (latency, error)
    assert wiring.rows == ("samples" if sampled else "changes")
    assert wiring.least_pulse == (pulse if sampled else None)
    assert wiring.settings == positions
    assert [(wire.channel, wire.signal) for wire in wiring.wires] == [("power", "power"), ("cc", "cc")]

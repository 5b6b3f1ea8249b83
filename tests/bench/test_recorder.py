"""The recording of a segment: what was driven and seen, at its moments."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import pytest
from attrs import evolve
from hypothesis import given
from hypothesis import strategies as st

from bench_plans import TARNBECK, Behind, carried, plan_of
from boardgauge.bench.recorder import Recorder
from boardgauge.faults import fault_of
from boardgauge.rigs.board_rig import BoardRig
from boardgauge.rigs.rig import Change, Report, RigFacts
from boardgauge.traces.reading import read_recording

pytestmark = pytest.mark.usefixtures("no_waiting_for_the_disk")


@given(st.lists(st.tuples(st.integers(0, 50), st.sampled_from(("cc", "fan", "led")), st.booleans()), max_size=30))
def test_a_recording_has_what_was_reported_at_its_moments(
    tmp_path_factory: pytest.TempPathFactory, rows: list[tuple[int, str, bool]]
) -> None:
    """Changes told in pieces, also two of one signal at one moment, are read back in order, none lost, none early."""
    path = tmp_path_factory.mktemp("one") / "r.jsonl"
    recorder = Recorder(TARNBECK, path, False, clock=lambda: 0.0)
    recorder.saw(Report(0, tuple(Change(0, name, False) for name in ("cc", "fan", "led"))))
    level = {"cc": False, "fan": False, "led": False}
    now = 0
    for gap, name, value in rows:
        now += gap * 100
        recorder.saw(Report(now, (Change(now, name, value),)))
        level[name] = value
    recorder.mark(now + 1_000)
    recorder.close()
    recording = read_recording(path)
    assert recording.end == now + 1_000
    for name, value in level.items():
        assert recording.channels[name].at(recording.end) == float(value)
    assert recorder.levels == level


def test_of_a_sampled_rig_each_report_is_a_sample(tmp_path: Path) -> None:
    """A row for each moment at which the rig looked, with what was driven until then."""
    recorder = Recorder(TARNBECK, tmp_path / "r.csv", True, clock=lambda: 0.0)
    recorder.drove(0, {"power": False})
    recorder.saw(Report(0, (Change(0, "cc", False),)))
    recorder.drove(15_000, {"power": True})
    recorder.saw(Report(20_000))
    recorder.saw(Report(40_000, (Change(40_000, "cc", True),)))
    recorder.close()
    assert (tmp_path / "r.csv").read_text().splitlines()[0] == "t_s,power,cc"
    recording = read_recording(tmp_path / "r.csv")
    assert recording.samples is not None
    assert list(recording.samples) == [0, 20_000, 40_000]
    assert recording.channels["power"].times.tolist() == [0, 20_000]
    assert recording.channels["cc"].times.tolist() == [0, 40_000]


class Sampled(Behind):
    """A rig that looks every 20 ms, and says so; its first sample is a little after its start."""

    @property
    def facts(self) -> RigFacts:
        return evolve(self.behind.facts, sampled=True, pulses=False)

    def start(self, settings: Mapping[str, str] | None = None) -> Report:
        self.levels = {c.signal: c.value for c in super().start(settings).changes}
        self.now = 0
        return Report(0, tuple(Change(0, n, v) for n, v in self.levels.items()))

    def wait(self, until: int) -> Report:
        self.now = self.now + 20_000
        before, now = dict(self.levels), -1
        while now < self.now:
            report = self.behind.wait(self.now)
            now = report.now
            self.levels |= {c.signal: c.value for c in report.changes}
        self.now = now
        return Report(now, tuple(Change(now, n, v) for n, v in self.levels.items() if before[n] != v))


def test_a_good_board_on_a_sampled_rig_is_not_accused(tmp_path: Path) -> None:
    """What lies between two samples is not known, and the judge is told so: conforms or undecided, never deviates."""
    run = carried(tmp_path / "run", plan_of(), Sampled(BoardRig(TARNBECK, seed=1)))
    assert run.verdict in ("conforms", "undecided")
    assert all(s.recording.suffix == ".csv" for s in run.segments)
    acts = fault_of(TARNBECK, "fan.stuck-off").board
    assert carried(tmp_path / "bad", plan_of(), Sampled(BoardRig(TARNBECK, acts, seed=1))).verdict == "deviates"

"""A run that was broken off is taken up again from its last safe point."""

from __future__ import annotations

from pathlib import Path

import pytest
from attrs import evolve
from hypothesis import given, settings
from hypothesis import strategies as st

from bench_plans import TARNBECK, Dies, carried, plan_of, runner_in
from boardgauge.bench.journal import Journal
from boardgauge.bench.running import UnusableRun, checked, kept_in, run_of
from boardgauge.bench.safe_points import levels_at, safe_points, taken_up
from boardgauge.judging.judge import Judge
from boardgauge.language.model import Delay
from boardgauge.rigs.board_rig import BoardRig
from boardgauge.rigs.rig import RigFailure

pytestmark = pytest.mark.usefixtures("no_waiting_for_the_disk")


@settings(max_examples=12)
@given(st.integers(0, 90), st.integers(0, 10**6))
def test_a_run_broken_off_anywhere_is_taken_up_and_brought_to_its_end(
    tmp_path_factory: pytest.TempPathFactory, after: int, seed: int
) -> None:
    """Whatever call the rig fails at, the rest is done from the last safe point, and what was done stays."""
    folder = tmp_path_factory.mktemp("run")
    plan = plan_of()
    runner, place = runner_in(folder, Dies(BoardRig(TARNBECK, seed=seed), after, RigFailure("gone")), plan)
    try:
        runner.run(*place)
    except RigFailure:
        assert kept_in(folder).ending == "rig failed"
    before = [row["recording"] for row in kept_in(folder).segments]
    run = carried(folder, plan, BoardRig(TARNBECK, seed=seed + 1), resume=True)
    assert [s.recording.name for s in run.segments][: len(before)] == before
    assert run.ending == "done"
    assert run.passes, run.coverage.missed
    again = carried(folder, plan, BoardRig(TARNBECK), resume=True)
    assert len(again.segments) == len(run.segments), "a plan done to its end is not begun again"


def test_the_supply_coming_on_is_a_safe_point_unless_something_is_counted_or_kept_across_it() -> None:
    """The second power-up of a sitting is one; not where a later step counts from before, nor with a memory."""
    sitting = plan_of().sittings[0]
    assert safe_points(TARNBECK, sitting) == (0, 11)
    assert levels_at(sitting, 11) == {"y": False}
    counted = evolve(sitting, steps=(*sitting.steps, plan_of().sittings[0].steps[4]))
    assert safe_points(TARNBECK, counted) == (0,)
    rules = {
        n: evolve(r, kept_without_power=True) if isinstance(r, Delay) and n == "restart_delay" else r
        for n, r in TARNBECK.rules.items()
    }
    assert safe_points(evolve(TARNBECK, rules=rules), sitting) == (0,)


def test_a_run_is_taken_up_at_the_last_safe_point_before_what_was_not_done() -> None:
    """Up to the eleventh step from the beginning, from then on from the second power-up, and then the next sitting."""
    sittings = plan_of().sittings
    name = sittings[0].id
    for done, place in ((0, (0, 0)), (10, (0, 0)), (11, (0, 11)), (16, (0, 11)), (17, (1, 0))):
        assert taken_up(TARNBECK, sittings, {name: done}) == place
    assert taken_up(TARNBECK, sittings, {s.id: len(s.steps) for s in sittings}) == (2, 0)


def test_a_run_of_another_board_or_plan_is_not_gone_on_with(tmp_path: Path) -> None:
    """The serial number, the spec and the plan must be the same; a run that is there is not begun over."""
    runner_in(tmp_path / "run", BoardRig(TARNBECK), plan_of())
    with pytest.raises(UnusableRun, match="--resume goes on with it"):
        runner_in(tmp_path / "run", BoardRig(TARNBECK), plan_of())
    with pytest.raises(UnusableRun, match="there is no run"):
        kept_in(tmp_path / "elsewhere")
    journal = tmp_path / "run" / "run.journal"
    journal.write_text(journal.read_text().replace("A 17", "A 18"))
    with pytest.raises(UnusableRun, match="of another serial number: A 18, not A 17"):
        runner_in(tmp_path / "run", BoardRig(TARNBECK), plan_of(), resume=True)
    begun = journal.read_text().replace("A 18", "A 17")
    journal.write_text(begun.replace('"rig_kind":"simulated"', '"rig_kind":"serial"'))
    with pytest.raises(UnusableRun, match="of another kind of rig: serial, not simulated"):
        runner_in(tmp_path / "run", BoardRig(TARNBECK), plan_of(), resume=True)
    journal.write_text(begun.replace('"simulated":true', '"simulated":false'))
    with pytest.raises(UnusableRun, match="was not begun with a simulated board, as this would be"):
        runner_in(tmp_path / "run", BoardRig(TARNBECK), plan_of(), resume=True)
    journal.write_text("what?\n")
    with pytest.raises(UnusableRun, match=r"run\.journal:1"):
        kept_in(tmp_path / "run")


@given(st.integers(0, 400))
def test_a_journal_cut_off_in_a_line_counts_up_to_that_line(tmp_path_factory: pytest.TempPathFactory, cut: int) -> None:
    """Any beginning of a journal tells what was whole in it, and can be written on."""
    folder = tmp_path_factory.mktemp("run")
    journal = Journal(folder / "run.journal")
    journal.note(run={"serial": "ä 1"})
    for number in range(6):
        journal.note(segment=number + 1, sitting="one", first=0, recording="r", wiring="w")
    journal.close()
    data = (folder / "run.journal").read_bytes()
    (folder / "run.journal").write_bytes(data[: min(cut, len(data))])
    whole = data[: min(cut, len(data))].count(b"\n")
    again = Journal(folder / "run.journal")
    again.note(segment=99, sitting="one", first=0, recording="r", wiring="w")
    again.close()
    if whole:
        assert len(kept_in(folder).segments) == whole


@pytest.mark.parametrize("lost", ["jsonl", "toml"])
def test_steps_of_which_the_recording_is_gone_are_not_taken_for_shown(tmp_path: Path, lost: str) -> None:
    """A run whose recording, or its wiring, was taken away passes nothing, however many steps the journal has."""
    assert carried(tmp_path / "run", plan_of(), BoardRig(TARNBECK, seed=1)).passes
    (tmp_path / "run" / f"001-start_and_stop.{lost}").unlink()
    run = run_of(tmp_path / "run", plan_of(), Judge.of(TARNBECK))
    assert run.verdict == "conforms"
    assert not run.passes
    steps = len(plan_of().sittings[0].steps)
    assert len(run.coverage.missed) == steps
    assert "sitting start and stop, step 1: its recording, or the wiring of it, is gone" in run.coverage.missed[0]


def test_where_no_folder_can_be_made_no_run_is_begun(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file in the way, or a folder that may not be written into, is told as such before anything is opened."""
    (tmp_path / "notes").write_text("x")
    for place in ("notes", "notes/run"):
        with pytest.raises(UnusableRun, match="notes is a file; expected a folder for the run"):
            checked(tmp_path / place, {}, resume=False)
    checked(tmp_path / "a" / "b", {}, resume=False)
    monkeypatch.setattr("os.access", lambda path, how: False)
    with pytest.raises(UnusableRun, match="cannot be written into; -o FOLDER names another place"):
        checked(tmp_path / "a" / "b", {}, resume=False)

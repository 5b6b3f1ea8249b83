"""A run on the bench stands in the records as one visit, with what it reached of its plan."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from bench_plans import TARNBECK, Dies, plan_of, plan_text
from boardgauge.command.program import main
from boardgauge.records.adding import add_run
from boardgauge.records.database import open_records
from boardgauge.records.finding import Wanted, find_run, find_runs
from boardgauge.records.lots import board_states
from boardgauge.records.packing import content_of
from boardgauge.rigs.board_rig import BoardRig
from boardgauge.rigs.rig import RigFailure
from records.kept_boards import small_entry

RIG = 'language = 1\n[rig]\nkind = "simulated"\nname = "desk"\n[simulated]\ntimings = "nominal"\n'
COVERS = '\ncovers = [{ kind = "move", goals = ["off to on", "on to off"] }]\n'


@pytest.fixture(autouse=True)
def _no_waiting_for_the_disk(monkeypatch: pytest.MonkeyPatch) -> None:
    """Only a loss of power asks for more than handing bytes to the system."""
    monkeypatch.setattr("os.fsync", lambda descriptor: None)


def run_on_the_bench(folder: Path, *more: str, rig: str = RIG) -> tuple[int, str]:
    """Run the tests' plan on a simulated board; give status and output."""
    (folder / "rig.toml").write_text(rig)
    head, sign, sittings = plan_text().partition("[[sittings]]")
    (folder / "plan.toml").write_text(head + COVERS + sign + sittings)
    arguments = ["bench", "tarnbeck", "--rig", str(folder / "rig.toml"), "--plan", str(folder / "plan.toml")]
    arguments += ["--serial", "1042", "--yes", "-o", str(folder / "run"), "--operator", "kim", *more]
    result = CliRunner().invoke(main, arguments)
    return result.exit_code, result.output


def test_a_whole_plan_is_kept_as_one_visit(tmp_path: Path) -> None:
    """Each sitting is a run with its recording and its wiring; together they reached every goal."""
    database = str(tmp_path / "a.db")
    status, output = run_on_the_bench(tmp_path, "--record", database, "--lot", "A")
    assert status == 0, output
    assert "kept as run 2 of tarnbeck 1042" in output
    with open_records(database) as records:
        rows = find_runs(records)
        assert len({row.visit for row in rows}) == 1
        assert [(row.serial, row.lot, row.operator, row.rig, row.verdict) for row in rows] == [
            ("1042", "A", "kim", "desk", "conforms")
        ] * len(plan_of().sittings)
        kept = find_run(records, 1)
        assert kept.plan is not None
        assert [goal.what for goal in kept.plan.reached][1:] == ["off to on", "on to off"]
        assert content_of(records, kept.files[0].sha256) == Path(kept.files[0].name).read_bytes()
        (state,) = board_states(records, Wanted(), simulated=True)
        assert (state.verdict, state.plan_complete) == ("conforms", True)
    certified = CliRunner().invoke(
        main, ["certificate", "tarnbeck", "--record", database, "--serial", "1042", "-o", str(tmp_path / "c.json")]
    )
    assert certified.exit_code == 0, certified.output
    # Every goal of this plan was reached; but the plan is a small one.
    assert "Every goal of the plan was reached, but it leaves out rules" in certified.output
    again = CliRunner().invoke(main, ["records", database, "again"])
    assert again.exit_code == 0, again.output


def test_a_run_is_kept_once_however_often_it_is_asked_for(tmp_path: Path) -> None:
    """Kept by the command that ran it or by one that finds nothing left to do, and not again by the next."""
    database = str(tmp_path / "a.db")
    assert run_on_the_bench(tmp_path)[0] == 0
    sittings = len(plan_of().sittings)
    status, output = run_on_the_bench(tmp_path, "--resume", "--record", database)
    assert (status, f"kept as run {sittings} of tarnbeck 1042" in output) == (0, True), output
    status, output = run_on_the_bench(tmp_path, "--resume", "--record", database)
    assert (status, "kept already as runs 1, 2 of tarnbeck 1042" in output) == (0, True), output
    with open_records(database) as records:
        assert len(find_runs(records)) == sittings


def test_a_faulty_board_reaches_no_goal(tmp_path: Path) -> None:
    """A run that deviates is kept with its deviations, and with its goals missed."""
    database = str(tmp_path / "a.db")
    faulty = RIG + 'fault = "power_up_delay.absent"\n'
    status, output = run_on_the_bench(tmp_path, "--record", database, rig=faulty)
    assert status == 1, output
    with open_records(database) as records:
        kept = find_run(records, 1)
        assert kept.row.verdict == "deviates"
        assert kept.plan is not None
        assert not kept.plan.reached
        assert {"off to on", "on to off"} <= {goal.what for goal in kept.plan.missed}
        (state,) = board_states(records, Wanted(), simulated=True)
        assert not state.plan_complete


def test_records_that_cannot_be_used_stop_the_bench(tmp_path: Path) -> None:
    """What is wrong with the records is told before anything is driven."""
    (tmp_path / "notes").write_text("no database\n" * 100)
    status, output = run_on_the_bench(tmp_path, "--record", str(tmp_path / "notes"))
    assert (status, "is no database" in output) == (2, True)
    assert not (tmp_path / "run").exists()
    assert run_on_the_bench(tmp_path, "--lot", "A")[0] == 2


def test_a_board_of_another_lot_is_refused_before_it_is_driven(tmp_path: Path) -> None:
    """A lot that the records will not take is told at once, and not after the run."""
    database = str(tmp_path / "a.db")
    with open_records(database, make=True) as records:
        add_run(records, small_entry("1042", lot="A"))
    status, output = run_on_the_bench(tmp_path, "--record", database, "--lot", "B")
    assert (status, "--record tarnbeck 1042 is of lot A in the records, and this says lot B" in output) == (2, True)
    assert not (tmp_path / "run").exists()
    assert run_on_the_bench(tmp_path, "--record", database, "--lot", "A")[0] == 0


def test_of_a_run_that_was_broken_off_it_is_told_that_it_is_not_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The records stay as they are, and it is said where the run is and how it comes into them."""
    database, run = str(tmp_path / "a.db"), tmp_path / "run"
    failing = Dies(BoardRig(TARNBECK), 5, RigFailure("gone"))
    monkeypatch.setattr("boardgauge.command.benching.prepare", lambda file: lambda: failing)
    status, output = run_on_the_bench(tmp_path, "--record", database)
    told = f"not kept in the records, since the run was broken off; it is in {run}, and --resume goes on with it"
    assert (status, told in output) == (4, True), output
    with open_records(database) as records:
        assert find_runs(records) == []

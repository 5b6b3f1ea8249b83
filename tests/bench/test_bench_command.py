"""``boardgauge bench`` as a person runs it: what it prints, and the status it leaves with."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from attrs import evolve
from click.testing import CliRunner, Result

from bench_plans import PLAN, TARNBECK, Behind, Quiet, carried, ended, plan_of, plan_text
from boardgauge.command import main
from boardgauge.command.bench_report import bench_report
from boardgauge.command.interrupting import Interrupted, Interrupts
from boardgauge.rigs.board_rig import BoardRig
from boardgauge.rigs.rig import Report, Rig, RigFacts

RIG = """language = 1
[rig]
kind = "simulated"
name = "bench-1"
latency = "1 ms"
[simulated]
seed = 5
log = "fixture.log"
"""
PROGRAM = "import sys; sys.argv[0] = 'boardgauge'; from boardgauge.command import main; main()"
HEAD = PLAN.partition("[[sittings]]")[0]


@pytest.fixture
def bench(tmp_path: Path) -> Path:
    """Give a folder with a rig file and a plan."""
    (tmp_path / "rig.toml").write_text(RIG)
    (tmp_path / "plan.toml").write_text(plan_text())
    return tmp_path


def options(folder: Path, *more: str) -> list[str]:
    return [
        "bench", "tarnbeck", "--rig", str(folder / "rig.toml"), "--plan", str(folder / "plan.toml"),
        "--serial", "A 17", "-o", str(folder / "run"), *more,
    ]  # fmt: skip


def run(folder: Path, *more: str) -> Result:
    return CliRunner().invoke(main, options(folder, *more))


def driven(folder: Path) -> dict[str, str]:
    """Give how the fixture's inputs stand by its own log."""
    found: dict[str, str] = {}
    for line in (folder / "fixture.log").read_text().splitlines():
        found |= json.loads(line)["levels"]
    return found


def test_a_good_board_passes_with_status_0(bench: Path) -> None:
    """The cautions come first, the report has coverage, what was not tested and how to judge again."""
    result = run(bench, "--yes", "--operator", "somebody")
    assert result.exit_code == 0, result.output
    assert "Before you touch a unit:" in result.stderr
    said = [line for line in result.stderr.splitlines() if line.startswith("  - ")]
    assert len(said) == len(set(said)), "a caution is told once"
    assert "caution: the low-pressure switch is simulated" in result.stderr
    assert "passes this plan: it was done and shown whole, and all of it conforms" in result.stdout
    assert "  simulated: no real board\n" in result.stdout
    why = "simulated: no real board; the plan leaves rules of which nothing is proved"
    assert f"does not qualify the board: {why}\n" in result.stdout
    assert "bench-1: simulated: no real board; whatever comes of this run, it qualifies none" in result.stderr
    assert "; simulated: no real board" in (bench / "run" / "001-start_and_stop.toml").read_text()
    assert "25 of 25 steps of the plan were done" in result.stdout
    assert "power_up_delay  measured" in result.stdout
    assert set(driven(bench).values()) == {"0"}
    again = result.stdout.split("judge again: boardgauge ")[1].strip()
    judged = CliRunner().invoke(main, again.split())
    assert judged.exit_code == 0, judged.output


def test_a_run_in_json_has_all_of_it(bench: Path) -> None:
    """One object: verdict, segments with their judgements, coverage, digests."""
    result = run(bench, "--yes", "--json")
    said = json.loads(result.stdout)
    assert (said["verdict"], said["passes"], said["ending"], said["serial"]) == ("conforms", True, "done", "A 17")
    assert said["qualifies"] is (not said["coverage"]["not_exercised"]) is False
    assert [row["sitting"] for row in said["segments"]] == ["start and stop", "low pressure"]
    assert all(row["judgement"]["verdict"] == "conforms" for row in said["segments"])
    assert (said["rig"], said["rig_kind"], said["simulated"]) == ("bench-1", "simulated", True)
    assert len(said["plan_digest"]) == len(said["spec_digest"]) == 64


def test_a_faulty_board_leaves_with_status_1_at_its_first_deviation_if_asked(bench: Path) -> None:
    """The deviation is told on standard error while the plan runs, and in the report."""
    (bench / "rig.toml").write_text(RIG.replace("seed = 5", 'seed = 5\nfault = "fan.stuck-off"'))
    result = run(bench, "--yes", "--stop-at-first")
    assert result.exit_code == 1, result.output
    assert "deviates at " in result.stderr
    assert "of start and stop: fan: fan_with_compressor, clause 2.2" in result.stderr
    assert "run stopped at a deviation" in result.stdout
    assert "does not qualify the board" in result.stdout
    assert set(driven(bench).values()) == {"0"}


def test_the_command_that_judges_again_is_of_the_sitting_that_tells_most(bench: Path) -> None:
    """A fault that shows in the second sitting alone: the command is of that one, and finds it again."""
    (bench / "rig.toml").write_text(RIG.replace("seed = 5", 'seed = 5\nfault = "lps.stuck-closed"'))
    result = run(bench, "--yes")
    assert result.exit_code == 1, result.output
    again = result.stdout.split("judge again: boardgauge ")[1].strip()
    assert "002-low_pressure.jsonl" in again
    assert CliRunner().invoke(main, again.split()).exit_code == 1


def test_where_nothing_was_recorded_there_is_nothing_to_judge_again(tmp_path: Path) -> None:
    """A person who says no before the first sitting leaves a run with nothing in it; it is reported all the same."""
    text = PLAN.replace('{ power = "on", id = "on" },', '{ power = "on", id = "on", caution = "it hums" },', 1)
    folder, plan = tmp_path / "run", plan_of(text)
    told = bench_report(carried(folder, plan, BoardRig(TARNBECK), Quiet(agrees=False)), TARNBECK, "tarnbeck")
    assert "run stopped by a person" in told
    assert "0 of 25 steps of the plan were done" in told
    assert "judge again" not in told


def test_what_cannot_be_used_leaves_with_status_2_before_anything_is_driven(bench: Path) -> None:
    """A plan of another spec, a rig file with a slip, a plan against an interlock, a folder with a run in it."""
    plan = (bench / "plan.toml").read_text()
    (bench / "plan.toml").write_text(plan.replace("wait_for", "wait_fr", 1))
    result = run(bench, "--yes")
    assert result.exit_code == 2
    assert "plan.toml:" in result.stderr
    (bench / "plan.toml").write_text(plan)
    (bench / "rig.toml").write_text(RIG.replace("latency", "latncy"))
    result = run(bench, "--yes")
    assert (result.exit_code, "did you mean 'latency'" in result.stderr) == (2, True)
    (bench / "rig.toml").write_text(RIG.replace("[simulated]", 'never = ["y and lps open"]\n[simulated]'))
    result = run(bench, "--yes")
    assert result.exit_code == 2
    assert "this is never driven: it is against never 'y and lps open' of the rig" in result.stderr
    assert f"{bench / 'plan.toml'}:37:3: this is never" in result.stderr
    assert not (bench / "fixture.log").exists() or "set" not in (bench / "fixture.log").read_text()
    assert not (bench / "run").exists()


def test_a_plan_not_shown_whole_leaves_with_status_3(bench: Path) -> None:
    """The board conforms, but something that the plan waits for did not come: it does not qualify."""
    steps = (
        '{ power = "on" }, { wait_for = { cc = "on" }, expected = "1 s to 2 s", at_most = "3 s" }, { power = "off" }'
    )
    (bench / "plan.toml").write_text(plan_text(f'{HEAD}[[sittings]]\nid = "one"\nsteps = [{steps}]\n'))
    result = run(bench, "--yes")
    assert result.exit_code == 3, result.output
    assert "not as the plan expects: sitting one, step 2: cc did not come on within 3 s" in result.stdout


def test_a_mistake_in_the_rigs_own_table_is_told_before_the_cautions(bench: Path) -> None:
    """Nobody reads the cautions, or waits for a plan, for a fault that is written wrongly."""
    (bench / "rig.toml").write_text(RIG.replace("seed = 5", 'seed = 5\nfault = "fan.stuck-of"'))
    (bench / "plan.toml").unlink()
    result = run(bench, "--yes")
    assert result.exit_code == 2
    assert result.stderr.startswith(f"boardgauge: {bench / 'rig.toml'}:8:")
    assert "did you mean 'fan.stuck-off'?" in result.stderr
    assert "Before you touch" not in result.stderr


class Slower(Behind):
    """A rig whose moments are off by so much from the beginning, and by more once it has waited."""

    def __init__(self, behind: Rig, at_first: int, then: int) -> None:
        super().__init__(behind)
        self.latency, self.then = at_first, then

    @property
    def facts(self) -> RigFacts:
        return evolve(self.behind.facts, latency=self.latency)

    def wait(self, until: int) -> Report:
        self.latency = self.then
        return super().wait(until)


@pytest.mark.parametrize(("then", "told"), [(5_000, False), (6_000, True)])
def test_only_a_rig_that_turns_out_slower_is_called_so(
    bench: Path, monkeypatch: pytest.MonkeyPatch, then: int, told: bool
) -> None:
    """A kind may state more than the latency of its file, as a person's reaction is; that is not slower than said."""
    rig = Slower(BoardRig(TARNBECK), 5_000, then)
    monkeypatch.setattr("boardgauge.command.benching.prepare", lambda file: lambda: rig)
    result = run(bench, "--yes")
    assert ("the rig was slower than its file says" in result.stderr) is told
    assert ("measured: 6 ms" in result.stderr) is told


def test_a_rig_that_fails_leaves_with_status_4(bench: Path) -> None:
    """A program that ends at once, or in the middle: what it last said stands in the message."""
    program = "import sys; print('fixture x', file=sys.stderr); sys.exit('no relays found')"
    head = 'language = 1\n[rig]\nkind = "process"\nname = "x"\n[process]\n'
    text = head + f'command = [{sys.executable!r}, "-c", "{program}"]\n'
    (bench / "rig.toml").write_text(text)
    result = run(bench, "--yes")
    assert result.exit_code == 4, result.output
    assert "the rig failed" in result.stderr
    assert "no relays found" in result.stderr


def test_nobody_who_agrees_leaves_with_status_5(bench: Path) -> None:
    """Without --yes and without a person at a terminal nothing is begun."""
    result = run(bench)
    assert result.exit_code == 5, result.output
    assert "--yes says that cautions were read" in result.stderr
    assert not (bench / "run").exists()


def test_a_run_that_is_there_is_not_begun_over(bench: Path) -> None:
    """It is gone on with, or left alone; done to its end, only its report is printed again."""
    assert run(bench, "--yes").exit_code == 0
    result = run(bench, "--yes")
    assert result.exit_code == 2
    assert "--resume goes on with it" in result.stderr
    result = run(bench, "--yes", "--resume")
    assert result.exit_code == 0
    assert "nothing is left to do" in result.stderr


@pytest.mark.skipif(sys.platform == "win32", reason="signals are those of POSIX")
@pytest.mark.parametrize(("sign", "status"), [(signal.SIGINT, 130), (signal.SIGTERM, 143), (signal.SIGKILL, -9)])
def test_broken_off_the_fixture_is_safe_and_the_run_is_taken_up(bench: Path, sign: signal.Signals, status: int) -> None:
    """Ctrl-C, an order to end, or kill -9 in the middle: everything driven is off, and --resume ends the plan."""
    # Slow enough for a busy machine to break it off in its first sitting; all of it would take some twenty seconds.
    (bench / "rig.toml").write_text(RIG.replace("seed = 5", "seed = 5\nspeed = 10"))
    command = [sys.executable, "-c", PROGRAM, *options(bench, "--yes")]
    with ended(subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE)) as process:
        deadline = time.monotonic() + 60
        log = bench / "fixture.log"
        while not log.exists() or '"y": "1"' not in log.read_text():
            assert time.monotonic() < deadline
            assert process.poll() is None, process.stderr.read()  # type: ignore[union-attr]
            time.sleep(0.02)
        process.send_signal(sign)
        output, told = process.communicate(timeout=60)
        assert process.returncode == status, told
    deadline = time.monotonic() + 60
    while set(driven(bench).values()) != {"0"}:
        assert time.monotonic() < deadline, driven(bench)
        time.sleep(0.02)
    if sign is not signal.SIGKILL:
        assert b"run stopped by a person" in output
    (bench / "rig.toml").write_text(RIG)
    result = run(bench, "--yes", "--resume")
    assert result.exit_code == 0, result.output
    assert "going on with start and stop, step 1 of 17" in result.stderr
    assert "25 of 25 steps" in result.stdout


@pytest.mark.skipif(sys.platform == "win32", reason="signals are those of POSIX")
def test_no_signal_breaks_off_what_makes_safe() -> None:
    """Ctrl-C and an order to end are let go by for that time; the next one after it counts."""
    interrupts = Interrupts()
    with interrupts.listening():
        with interrupts.deaf():
            os.kill(os.getpid(), signal.SIGINT)
            os.kill(os.getpid(), signal.SIGTERM)
            done = True
        assert done
        with pytest.raises(Interrupted) as caught:
            os.kill(os.getpid(), signal.SIGTERM)
    assert caught.value.signum == signal.SIGTERM

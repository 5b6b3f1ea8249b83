"""Which plan the bench carries out where none is named: the board's own, or one that is made now and kept."""

from __future__ import annotations

import json
import shutil
from hashlib import sha256
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from boardgauge.bench.running import PLAN
from boardgauge.boards import board_path
from boardgauge.command import main, plan_choosing
from boardgauge.command.finding import plan_beside
from boardgauge.command.plan_choosing import choose_plan
from boardgauge.command.planning import for_rig
from boardgauge.language import read_board
from boardgauge.machine.compile import compile_board
from boardgauge.plans.forbidding import Forbidding
from boardgauge.plans.wish import wish_for
from boardgauge.rigs.rig_file import rig_file_from

RIG = 'language = 1\n[rig]\nkind = "simulated"\nname = "desk"\n[simulated]\nseed = 3\n'
TARNBECK = read_board(board_path("tarnbeck"))


@pytest.fixture(autouse=True)
def _no_waiting_for_the_disk(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("os.fsync", lambda descriptor: None)


@pytest.fixture
def desk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Give a folder with a rig file and a spec of one's own, and stand in it."""
    (tmp_path / "rig.toml").write_text(RIG)
    shutil.copy(board_path("iec-ton"), tmp_path / "timer.toml")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def bench(board: str, serial: str, *more: str) -> Result:
    return CliRunner().invoke(main, ["bench", board, "--rig", "rig.toml", "--serial", serial, "--yes", *more])


def told(result: Result) -> list[str]:
    return [line for line in result.stderr.splitlines() if line.startswith("plan: ")]


def test_a_board_of_the_library_runs_the_plan_that_comes_with_it(desk: Path) -> None:
    """One line says which; a copy is kept with the run, and goes on with it."""
    result = bench("iec-ton", "1")
    assert result.exit_code == 0, result.output
    path = plan_beside(board_path("iec-ton"))
    assert told(result) == [f"plan: {path}, comes with the board"]
    assert (desk / "bench-1" / PLAN).read_bytes() == path.read_bytes()
    assert f"steps of the plan were done: {Path('bench-1', PLAN)}" in result.stdout
    again = bench("iec-ton", "1", "--resume")
    assert again.exit_code == 0
    assert told(again) == [f"plan: {Path('bench-1', PLAN)}, as the run began with it"]


def test_a_plan_is_made_once_and_all_boards_of_a_spec_run_it(desk: Path) -> None:
    """The first board has it made, the others find it; records and report name a file that is there."""
    first = bench("timer.toml", "1", "--record", "a.db")
    assert first.exit_code == 0, first.output
    assert [line.partition(" (")[0] for line in told(first)] == [
        "plan: there is none at plans/timer.toml; one is made now, which takes 10 min at most for looking",
        "plan: plans/timer.toml, made now and kept for the boards to come",
    ]
    made = (desk / "plans" / "timer.toml").read_bytes()
    second = bench("timer.toml", "2", "--json")
    assert told(second) == ["plan: plans/timer.toml, kept beside the spec"]
    said = json.loads(second.stdout)
    assert Path(said["plan"]).read_bytes() == (desk / "bench-1" / PLAN).read_bytes() == made
    assert said["plan_digest"] == sha256(made).hexdigest()
    assert [path.name for path in (desk / "plans").iterdir()] == ["timer.toml"]
    shown = CliRunner().invoke(main, ["records", "a.db", "show", "1"]).output
    assert f"({said['plan_digest'][:12]})" in shown
    assert f"plan {Path('bench-1', PLAN)}" in shown


def test_a_plan_of_another_spec_is_refused_and_left_alone(desk: Path) -> None:
    """What a spec says changed: the message says how to make the plan anew, and that does it."""
    assert bench("timer.toml", "1").exit_code == 0
    before = (desk / "plans" / "timer.toml").read_bytes()
    spec = desk / "timer.toml"
    spec.write_text(spec.read_text().replace("in1 for 10 s", "in1 for 11 s"))
    result = bench("timer.toml", "2")
    assert result.exit_code == 2
    assert "the plan was made from another spec of iec-ton" in result.stderr
    assert (desk / "plans" / "timer.toml").read_bytes() == before
    assert not (desk / "bench-2").exists()
    command = result.stderr.split("`")[1]
    assert CliRunner().invoke(main, command.split()[1:]).exit_code == 0
    assert bench("timer.toml", "2").exit_code == 0


def test_a_run_goes_on_with_the_plan_that_it_began_with(desk: Path) -> None:
    """Whatever became of the plan beside the spec; a copy that was changed or is gone is told."""
    assert bench("timer.toml", "1").exit_code == 0
    (desk / "plans" / "timer.toml").write_text("something else")
    assert bench("timer.toml", "1", "--resume").exit_code == 0
    kept = desk / "bench-1" / PLAN
    text = kept.read_text()
    kept.write_text(text + "# note\n")
    result = bench("timer.toml", "1", "--resume")
    assert (result.exit_code, "was changed since the run began" in result.stderr) == (2, True)
    kept.unlink()
    result = bench("timer.toml", "1", "--resume")
    assert (result.exit_code, "its plan is not kept in it; say with --plan" in result.stderr) == (2, True)
    (desk / "mine.toml").write_text(text)
    assert bench("timer.toml", "1", "--resume", "--plan", "mine.toml").exit_code == 0


def test_of_two_benches_that_plan_at_once_the_first_one_counts(desk: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The other runs the plan that is there when its own is made."""
    assert bench("timer.toml", "1").exit_code == 0
    path = desk / "plans" / "timer.toml"
    others = path.read_text().replace('title = "', 'title = "of bench 2: ')
    path.unlink()
    real = plan_choosing._published

    def late(target: Path, content: bytes) -> bool:
        target.write_text(others)
        return real(target, content)

    monkeypatch.setattr(plan_choosing, "_published", late)
    board, said = read_board("timer.toml"), []
    chosen = choose_plan("timer.toml", board, None, None, rig_file_from(RIG, "rig.toml", board), None, said.append)
    assert (chosen.content, chosen.plan.title[:10]) == (others.encode(), "of bench 2")
    assert [found.name for found in path.parent.iterdir()] == ["timer.toml"]


def test_a_plan_with_nothing_in_it_is_not_kept(desk: Path) -> None:
    """In next to no time nothing is found: no board of a batch is to run that."""
    result = bench("timer.toml", "1", "--planning-time", "0.000001 s")
    assert (result.exit_code, "no plan came of" in result.stderr) == (2, True), result.output
    assert not (desk / "plans").exists()
    assert not (desk / "bench-1").exists()


def test_a_plan_that_cannot_be_kept_runs_all_the_same(desk: Path) -> None:
    """The person is told where its copy is, so that the next board runs it too."""
    (desk / "plans").write_text("a file, where a folder should be")
    result = bench("timer.toml", "1")
    assert result.exit_code == 0, result.output
    assert "caution: the plan cannot be kept at plans/timer.toml" in result.stderr
    assert bench("timer.toml", "2", "--plan", f"bench-1/{PLAN}").exit_code == 0


def test_a_rig_that_cannot_do_the_boards_plan_is_told_how_to_get_one(desk: Path) -> None:
    """The command of the message makes a plan that the rig does."""
    (desk / "rig.toml").write_text(RIG.replace("[simulated]", 'never = ["r1"]\n[simulated]'))
    result = bench("iec-rs", "1")
    assert result.exit_code == 2
    assert "this is never driven" in result.stderr
    command = result.stderr.split("`")[1]
    assert command == "boardgauge plan iec-rs --rig rig.toml -o iec-rs-desk.toml"
    assert CliRunner().invoke(main, command.split()[1:]).exit_code == 0
    assert bench("iec-rs", "1", "--plan", "iec-rs-desk.toml").exit_code == 0


def test_what_a_run_asks_for_is_looked_at_before_a_plan_is_made(desk: Path) -> None:
    """A folder with a run in it, a name that cannot be kept, a time for a plan that is there."""
    (desk / "bench-1").mkdir()
    (desk / "bench-1" / "run.journal").write_text("")
    for more, message in (
        (("1",), "--resume goes on with it"),
        (("x" * 101,), "--serial"),
        (("2", "--operator", "a\nb"), "--operator"),
        (("2", "--planning-time", "soon"), "--planning-time"),
        (("2", "--plan", "p.toml", "--planning-time", "5 s"), "for a plan that has to be made"),
    ):
        result = bench("timer.toml", *more)
        assert (result.exit_code, message in result.stderr) == (2, True), result.output
    assert not (desk / "plans").exists()


def test_a_plan_for_a_rig_asks_for_what_the_rig_can_do() -> None:
    """It looks at what the rig sees, and leaves at rest what it does not drive or never drives."""
    text = 'language = 1\n[rig]\nkind = "process"\nname = "x"\nnever = ["cold and warm"]\n[process]\ncommand = ["x"]\n'
    points = '[drives]\npower = "K1"\ny = "K2"\nhps = "K3"\n[sees]\ncc = "D1"\nled = "D2"\n'
    rig = rig_file_from(text + points, "rig.toml", TARNBECK)
    wish = for_rig(wish_for(TARNBECK), rig)
    assert (wish.outputs, wish.lamps) == (("cc",), ("led",))
    forbidding = Forbidding(compile_board(TARNBECK), wish.never)
    rest = {row.id: row.rests_on for row in TARNBECK.inputs.values()}

    def allows(**moved: bool) -> bool:
        return forbidding.allows({**rest, **moved})

    assert allows(y=True, hps=not rest["hps"])
    for name in ("o", "lps", "j0", "fast"):
        assert not allows(**{name: not rest[name]}), name
    person = rig_file_from(
        text.replace("process", "person").replace('command = ["x"]', 'reaction = "1 s"') + points, "r", TARNBECK
    )
    assert for_rig(wish_for(TARNBECK), person).lamps == ()


def test_the_folder_of_a_run_keeps_letters_of_every_script(desk: Path) -> None:
    """Serial numbers of Cyrillic letters have folders of their own; a long one of broad letters fits a file system."""
    for serial in ("Ж", "Я", "板" * 100):
        result = bench("iec-ton", serial)
        assert result.exit_code == 0, result.output
    names = sorted(path.name for path in desk.glob("bench-*"))
    assert names[:2] == ["bench-Ж", "bench-Я"]
    assert names[2].startswith("bench-板板")

"""``boardgauge plan``: what it prints and writes, and how it ends."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from boardgauge.boards import board_path
from boardgauge.command.finding import plan_beside
from boardgauge.command.program import main
from boardgauge.command.sheet_asking import stopwatch
from boardgauge.machine.compile import compile_board
from boardgauge.machine.settle import Engine
from boardgauge.plans import Observe, Set, WaitFor, carry_out, read_plan, write_plan
from boardgauge.plans.pace import asks_for_a_time, for_hand
from plans.planned import HEATER, heater, library, plan_of


def run(*arguments: str, typed: str | None = None) -> Result:
    """Run the command."""
    return CliRunner().invoke(main, ["plan", *arguments], input=typed)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Plan a small board, and give the plan's file."""
    path = tmp_path_factory.mktemp("plan") / "ton.toml"
    result = run("iec-ton", "-o", str(path), "-o", str(path.with_suffix(".pdf")), "-o", str(path.with_suffix(".txt")))
    assert result.exit_code == 0, result.output
    return path


RIG = """
language = 1
[rig]
kind = "simulated"
name = "dry run"
never = ["NEVER"]
"""


def test_a_plan_for_a_rig_keeps_to_what_it_never_drives(tmp_path: Path) -> None:
    """With --rig no input is brought to where the rig never drives it; a rig file that is wrong is refused."""
    rig, path = tmp_path / "rig.toml", tmp_path / "sr.toml"
    rig.write_text(RIG.replace("NEVER", "s1 and r"))
    result = run("iec-sr", "--rig", str(rig), "-o", str(path))
    assert result.exit_code == 0, result.output
    apart = []
    for sitting in read_plan(path, library("iec-sr")).sittings:
        now = {**sitting.start}
        for step in sitting.steps:
            if isinstance(step, Set):
                now.update(step.inputs)
                apart.append(not (now["s1"] and now["r"]))
    assert apart
    assert all(apart)
    rig.write_text(RIG.replace("NEVER", "s1 and w"))
    result = run("iec-sr", "--rig", str(rig), "-o", str(path))
    assert result.exit_code == 2
    assert "rig.toml:6:" in result.output
    assert "'w'" in result.output
    result = run("iec-sr", "--rig", str(tmp_path / "none.toml"))
    assert result.exit_code == 2
    assert "none.toml" in result.output


def readings(path: Path, late: float = 0.0) -> list[tuple[int, float, bool]]:
    """Give what a person writes who carries a plan out on a nominal board: (step, stopwatch, whether it is a look).

    Q comes on so much late each time.
    """
    board = library("iec-ton")
    sitting = for_hand(read_plan(path, board), board).sittings[0]
    carried = carry_out(sitting, Engine(compile_board(board)))
    rows, shift = [], 0.0
    for number, (step, time) in enumerate(zip(sitting.steps, carried.times, strict=True)):
        if asks_for_a_time(sitting, number):
            shift += late if isinstance(step, WaitFor) and step.level else 0.0
            at = (time.ended if isinstance(step, (Set, WaitFor)) else time.begun) / 1e6 + shift
            rows.append((number + 1, at, isinstance(step, Observe)))
    return rows


def times(path: Path, late: float = 0.0) -> str:
    """Give the same as a file."""
    return file_of(readings(path, late))


def file_of(rows: list[tuple[int, float, bool]]) -> str:
    """Give what was written as a file."""
    steps = "\n".join(f'{{ step = {number}, at = "{at:.3f} s" }},' for number, at, _ in rows)
    return f'language = 1\nboard = "iec-ton"\n[[sittings]]\nid = "1"\nsteps = [\n{steps}\n]\n'


def test_the_plan_is_written_for_rig_and_person(made: Path) -> None:
    """A file for a rig is read again; the person's sheet is a PDF, and a text with the same steps."""
    plan = read_plan(made, library("iec-ton"))
    assert made.with_suffix(".pdf").read_bytes().startswith(b"%PDF")
    text = made.with_suffix(".txt").read_text(encoding="utf-8")
    assert "Before you touch a unit".upper() in text
    assert "every link and jumper that you fitted is off" in text
    assert len(plan.sittings[0].steps) > 5


def test_a_table_shows_steps_windows_and_what_is_left_out() -> None:
    """--table prints every step with what a board in order shows."""
    result = run("iec-ton", "--table", "--at-most", "8 s")
    assert result.exit_code == 0, result.output
    assert "no bench time was left for it" in result.output
    assert "A board in order" in result.output


def test_what_a_person_wrote_is_judged(made: Path, tmp_path: Path) -> None:
    """A good sheet does not deviate; one on which Q comes three seconds late does, with exit status 1, unless the
    hand may be that slow."""
    good, bad = tmp_path / "good.toml", tmp_path / "bad.toml"
    good.write_text(times(made), encoding="utf-8")
    bad.write_text(times(made, 3.0), encoding="utf-8")
    result = run("iec-ton", "--enter", str(made), "--times", str(good))
    assert result.exit_code in {0, 3}, result.output
    result = run("iec-ton", "--enter", str(made), "--times", str(bad))
    assert result.exit_code == 1, result.output
    assert "deviates" in result.output
    result = run("iec-ton", "--enter", str(made), "--times", str(bad), "--reaction", "10 s")
    assert result.exit_code in {0, 3}, result.output


def test_a_reaction_that_is_given_decides_what_order_is_possible(
    made: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two times may be the wrong way round by what the hand is off, and by no more; either is said, file or option."""
    monkeypatch.chdir(tmp_path)
    rows = readings(made)
    rows[4] = (rows[4][0], rows[3][1] - 0.8, rows[4][2])
    path = tmp_path / "swapped.toml"
    path.write_text(file_of(rows), encoding="utf-8")
    assert run("iec-ton", "--enter", str(made), "--times", str(path)).exit_code in {0, 3}
    assert run("iec-ton", "--enter", str(made), "--times", str(path), "--reaction", "0.4 s").exit_code in {0, 3}
    result = run("iec-ton", "--enter", str(made), "--times", str(path), "--reaction", "0.39 s")
    assert result.exit_code == 2
    assert f"step {rows[4][0]}: its time is before that of an earlier step" in result.output
    lines = [f"{at:.3f}" + ("\ny" if look else "") for _, at, look in rows]
    typed = "\n".join(lines) + "\n"
    assert run("iec-ton", "--enter", str(made), "--reaction", "0.4 s", typed=typed).exit_code in {0, 3}
    result = run("iec-ton", "--enter", str(made), "--reaction", "0.39 s", typed=typed)
    assert result.exit_code == 2
    assert "its time is before that of an earlier step" in result.output


def test_a_sitting_of_which_nothing_is_written_is_not_taken_for_good(tmp_path: Path) -> None:
    """What was written of one sitting says nothing of the other: undecided, and told."""
    spec, path, part = tmp_path / "heater.toml", tmp_path / "plan.toml", tmp_path / "part.toml"
    spec.write_text(HEATER, encoding="utf-8")
    plan = plan_of("heater").plan
    path.write_text(write_plan(plan, heater()), encoding="utf-8")
    sitting = for_hand(plan, heater()).sittings[1]
    carried = carry_out(sitting, Engine(compile_board(heater())))
    asked = [number for number in range(len(sitting.steps)) if asks_for_a_time(sitting, number)]
    steps = ",".join(f'{{ step = {n + 1}, at = "{carried.times[n].ended / 1e6:.1f} s" }}' for n in asked)
    text = f'language = 1\nboard = "heater"\n[[sittings]]\nid = "{sitting.id}"\nsteps = [{steps}]\n'
    part.write_text(text, encoding="utf-8")
    result = run(str(spec), "--enter", str(path), "--times", str(part))
    assert result.exit_code == 3, result.output
    assert "nothing is written of sitting 1" in result.output
    assert "of sitting 2" not in result.output


def test_what_a_person_wrote_can_be_typed(made: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without a file each time is asked for, with the step; a word that is no time is asked for again."""
    monkeypatch.chdir(tmp_path)
    lines = [f"{at:.3f}" + ("\ny" if look else "") for _, at, look in readings(made)]
    typed = "\n".join(["soon", *lines]) + "\n"
    result = run("iec-ton", "--enter", str(made), typed=typed)
    assert "a number of seconds" in result.output
    assert result.exit_code in {0, 3}, result.output


def test_what_was_typed_is_kept_whatever_ends_it(made: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Broken off in the middle, what was typed stands in a file; completed by hand, the file is judged."""
    monkeypatch.chdir(tmp_path)
    rows = readings(made)
    result = run(
        "iec-ton", "--enter", str(made), typed="".join(f"{at:.3f}\n" + "y\n" * look for _, at, look in rows[:4])
    )
    assert result.exit_code == 2
    assert f"with the {len(rows) - 4} steps that are open" in result.output
    kept = tmp_path / "ton-times.toml"
    times = {step: at for step, at, _ in rows}
    lines = []
    for line in kept.read_text(encoding="utf-8").splitlines():
        if line.startswith("  # { step"):
            step = int(line.split("=")[1].split(",")[0])
            line = line.replace("# ", "", 1).replace('at = ""', f'at = "{times[step]:.3f} s"')
        lines.append(line)
    kept.write_text("\n".join(lines), encoding="utf-8")
    result = run("iec-ton", "--enter", str(made), "--times", "ton-times.toml")
    assert result.exit_code in {0, 3}, result.output


def test_what_was_typed_of_another_board_stays(made: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """All that was typed is kept, to be judged again; a second board has a second file, and Ctrl-C loses nothing."""
    monkeypatch.chdir(tmp_path)
    typed = "".join(f"{at:.3f}\n" + "y\n" * look for _, at, look in readings(made))
    first = run("iec-ton", "--enter", str(made), typed=typed)
    assert "judge again: boardgauge plan iec-ton --enter" in first.output
    again = run("iec-ton", "--enter", str(made), "--times", "ton-times.toml")
    assert again.exit_code == first.exit_code

    answers = iter(["1.5"])

    def broken_off(prompt: str) -> str:
        for answer in answers:
            return answer
        raise KeyboardInterrupt

    before = Path("ton-times.toml").read_bytes()
    monkeypatch.setattr("builtins.input", broken_off)
    result = run("iec-ton", "--enter", str(made))
    assert result.exit_code == 130
    assert Path("ton-times.toml").read_bytes() == before
    assert 'at = "1.5 s"' in Path("ton-times-2.toml").read_text(encoding="utf-8")


def test_a_slip_is_put_right_while_typing(made: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """``<`` goes back a step; a time before an earlier one is refused at once; minutes may be typed with a colon."""
    monkeypatch.chdir(tmp_path)
    rows = readings(made)
    first, second = rows[0], rows[1]
    typed = ["<", f"{first[1] + 900:.3f}", *["y"] * first[2], f"{second[1]:.3f}", "<"]
    typed += [f"0:{first[1]:06.3f}", *["y"] * first[2]]
    typed += [word for _, at, look in rows[1:] for word in (f"{at:.3f}", *["y"] * look)]
    result = run("iec-ton", "--enter", str(made), typed="\n".join(typed) + "\n")
    assert "this is the first step" in result.output
    assert "its time is before that of an earlier step; < goes back" in result.output
    assert result.exit_code in {0, 3}, result.output


@pytest.mark.parametrize(
    ("text", "microseconds"),
    [
        ("83.5", 83_500_000),
        ("83,5 s", 83_500_000),
        ("1:23.5", 83_500_000),
        ("1:00:00.000001", 3_600_000_001),
        ("9999999.999999", 9_999_999_999_999),
        ("10000000:00", None),
        ("1:60", None),
        ("1:60:00", None),
        ("-1", None),
        ("1e3", None),
        ("1.234,5", None),
        ("nan", None),
        ("", None),
        ("٣", None),
    ],
)
def test_a_stopwatch_is_read_as_it_shows(text: str, microseconds: int | None) -> None:
    """Seconds, or hours and minutes before them; point or comma; anything else is no time."""
    assert stopwatch(text) == microseconds


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("iec-ton", "-o", "plan.doc"), "the format is not plain from the name"),
        (("iec-ton", "-o", "nowhere/plan.toml"), "there is no folder nowhere"),
        (("iec-ton", "--wired", "qq"), "did you mean 'q'?"),
        (("iec-ton", "--faults", "lampp"), "did you mean 'lamp'?"),
        (("iec-ton", "--at-most", "soon"), "write it like 30 min"),
        (("iec-ton", "--wired", "q", "--wiring", "x"), "leave one out"),
        (("iec-ton", "--times", "x.toml"), "go with --enter"),
        (("iec-ton", "--enter", "x.toml", "--table"), "only --times, --reaction and --record go with it"),
        (("iec-ton", "--enter", "x.toml"), "the file cannot be read"),
    ],
)
def test_what_cannot_be_used_is_told(arguments: tuple[str, ...], said: str) -> None:
    """Each wrong option ends with status 2 and says what is wrong."""
    result = run(*arguments)
    assert result.exit_code == 2
    assert said in result.output


def test_a_plan_that_is_kept_is_written_out_without_planning(tmp_path: Path) -> None:
    """The one that the bench takes, as a sheet or for a rig; it says which it is."""
    path = tmp_path / "own.toml"
    result = run("iec-ton", "--kept", "-o", str(path), "-o", str(path.with_suffix(".txt")), "--table")
    assert result.exit_code == 0, result.output
    assert "iec-ton.toml, comes with the board" in result.output
    own = read_plan(plan_beside(board_path("iec-ton")), library("iec-ton"))
    assert read_plan(path, library("iec-ton")) == own
    assert "Sitting 1 of" in result.output
    assert "Sitting 1 of" in path.with_suffix(".txt").read_text()


def test_what_cannot_be_kept_is_told(tmp_path: Path) -> None:
    """No plan beside the spec; one of another spec; options that only planning, or entering, can heed."""
    spec = tmp_path / "heater.toml"
    spec.write_text(HEATER)
    result = run(str(spec), "--kept")
    assert (result.exit_code, "none is kept at" in result.output) == (2, True)
    kept = plan_beside(spec)
    kept.parent.mkdir()
    kept.write_text(plan_beside(board_path("iec-ton")).read_text())
    result = run(str(spec), "--kept")
    assert (result.exit_code, f"boardgauge plan {spec} -o {kept}" in result.output) == (2, True)
    for more in (
        ("--rig", "x.toml"),
        ("--at-most", "5 min"),
        ("--enter", "x.toml"),
        ("--jobs", "1"),
        ("--serial", "A"),
    ):
        result = run("iec-ton", "--kept", *more)
        assert (result.exit_code, f"{more[0]} does not go with --kept" in result.output) == (2, True)

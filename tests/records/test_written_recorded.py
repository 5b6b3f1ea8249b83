"""What a person did by hand, with the sheet of a plan, stands in the records as any run does."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from boardgauge.boards import board_path
from boardgauge.command.finding import plan_beside
from boardgauge.language import read_board
from boardgauge.plans import WaitFor, read_plan
from boardgauge.plans.pace import for_hand
from boardgauge.records.database import open_records
from boardgauge.records.entry import Goal
from boardgauge.records.finding import Wanted, find_run, find_runs
from boardgauge.records.lots import board_states
from boardgauge.records.packing import content_of
from plans.test_plan_command import readings, times
from records.records_typed import typed

PLAN = plan_beside(board_path("iec-ton"))


@pytest.fixture(autouse=True)
def _here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Stand in an empty folder with a plan and sheets of it: one of a good board, one with Q three seconds late."""
    monkeypatch.chdir(tmp_path)
    Path("plan.toml").write_bytes(PLAN.read_bytes())
    Path("good.toml").write_text(times(PLAN), encoding="utf-8")
    Path("late.toml").write_text(times(PLAN, 3.0), encoding="utf-8")


def enter(sheet: str, serial: str, *more: str) -> tuple[int, str]:
    arguments = ("plan", "iec-ton", "--enter", "plan.toml", "--times", sheet, "--record", "a.db", "--serial", serial)
    return typed(*arguments, *more)


def test_a_sheet_is_kept_with_its_times_and_its_plan() -> None:
    """Verdict, serial number, lot, operator, day and the bytes that were judged; the same goals as a hand can reach."""
    status, output = enter(
        "late.toml", "7", "--lot", "L", "--operator", "kim", "--measured", "2026-03-02", "--note", "cold"
    )
    assert status == 1, output
    assert "kept as run 1 of iec-ton 7 in a.db" in output
    with open_records("a.db") as records:
        (row,) = find_runs(records)
        assert (row.serial, row.lot, row.operator, row.verdict, row.known_start) == ("7", "L", "kim", "deviates", True)
        assert (row.wiring_id, row.note, row.rig) == ("as written", "sitting 1, by hand; cold", None)
        kept = find_run(records, 1)
        contents = {file.name: content_of(records, file.sha256) for file in kept.files}
        assert contents == {name: Path(name).read_bytes() for name in ("late.toml", "plan.toml")}
        assert kept.plan is not None
        assert kept.plan.digest == kept.files[1].sha256
        (state,) = board_states(records, Wanted())
        assert not state.plan_complete
    shown = typed("records", "a.db", "show", "1")[1]
    assert "wiring     as written" in shown
    assert "missed: 17 that a recorder has to show" in shown


def test_kept_sheets_are_judged_again_and_certified(tmp_path: Path) -> None:
    """From the records alone, the files being gone; the certificate says that no recorder showed the plan's goals."""
    good = enter("good.toml", "8")[0]
    assert good in {0, 3}
    assert enter("late.toml", "7", "--reaction", "0.4 s")[0] == 1
    for name in ("good.toml", "late.toml", "plan.toml"):
        Path(name).unlink()
    assert typed("records", "a.db", "verify")[0] == 0
    status, output = typed("records", "a.db", "again", "--keep")
    assert (status, output.count("as before; kept as run")) == (0, 2), output
    status, output = typed("records", "a.db", "again", "3", "4")
    assert (status, output.count("as before")) == (0, 2), output
    targets = [f"c.{kind}" for kind in ("pdf", "html", "xml", "json")]
    options = [word for target in targets for word in ("-o", target)]
    status, output = typed("certificate", "iec-ton", "--record", "a.db", "--serial", "7", *options)
    assert status == 1, output
    report = json.loads(Path("c.json").read_text(encoding="utf-8"))
    assert [file["name"] for file in report["runs"][0]["files"]] == ["late.toml", "plan.toml"]
    assert "<svg" in Path("c.html").read_text(encoding="utf-8")
    assert typed("certificate", "iec-ton", "--record", "a.db", "--serial", "8", "-o", "d.json")[0] == good
    assert "qualified" not in output.lower()
    assert typed("records", "a.db", "show", "1", "--recording", "out")[0] == 0
    assert sorted(path.name for path in (tmp_path / "out").iterdir()) == ["good.toml", "plan.toml"]


def test_what_is_typed_is_kept_as_it_was_typed() -> None:
    """The file that typing leaves is the one in the records."""
    keys = "".join(f"{at:.3f}\n" + ("y\n" if look else "") for _, at, look in readings(PLAN))
    status, output = typed(
        "plan", "iec-ton", "--enter", "plan.toml", "--record", "a.db", "--serial", "9", keys=keys
    )  # fmt: skip
    assert status in {0, 3}, output
    with open_records("a.db") as records:
        kept = find_run(records, 1)
        assert content_of(records, kept.files[0].sha256) == Path("plan-times.toml").read_bytes()
    assert typed("records", "a.db", "again")[0] == 0


def test_a_sheet_and_a_plan_of_one_name_can_stand_in_one_folder() -> None:
    """The plan is called otherwise then."""
    Path("sheets").mkdir()
    Path("sheets/plan.toml").write_text(times(PLAN), encoding="utf-8")
    assert enter("sheets/plan.toml", "8")[0] in {0, 3}
    assert typed("records", "a.db", "show", "1", "--recording", "out")[0] == 0
    assert sorted(path.name for path in Path("out").iterdir()) == ["plan-plan.toml", "plan.toml"]


def test_a_step_that_is_not_as_it_should_be_is_counted() -> None:
    """All written as it should be: that is reached. A wait that never ended is written, and is missed."""
    board = read_board(board_path("iec-ton"))
    sitting = for_hand(read_plan(PLAN, board), board).sittings[0]
    waits = [number + 1 for number, step in enumerate(sitting.steps) if isinstance(step, WaitFor)]
    text = Path("good.toml").read_text(encoding="utf-8")
    never = re.sub(rf'step = {waits[-1]}, at = "[^"]*"', f"step = {waits[-1]}, never = true", text)
    assert never != text
    Path("never.toml").write_text(never, encoding="utf-8")
    steps = len(readings(PLAN))
    for sheet, reached, good in (("good.toml", True, steps), ("never.toml", False, steps - 1)):
        assert enter(sheet, sheet)[0] in {0, 1, 3}
        with open_records("a.db") as records:
            plan = find_run(records, find_runs(records)[-1].number).plan
        assert plan is not None
        goal = Goal("step", f"{good} of {steps} steps written as they should be")
        assert (goal in plan.reached, goal in plan.missed) == (reached, not reached)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("iec-ton", "--enter", "plan.toml", "--times", "good.toml", "--record", "a.db"), "say with --serial"),
        (("iec-ton", "--enter", "plan.toml", "--times", "good.toml", "--lot", "L"), "--lot: is about the records"),
        (("iec-ton", "--record", "a.db", "--serial", "1"), "it goes with --enter"),
        (("iec-ton", "--enter", "plan.toml", "--record", "good.toml", "--serial", "1"), "is no database"),
        (
            ("iec-ton", "--enter", "plan.toml", "--record", "a.db", "--serial", "1", "--measured", "soon"),
            "--measured soon",
        ),
    ],
)
def test_what_cannot_be_kept_is_told_before_anything_is_asked(arguments: tuple[str, ...], words: str) -> None:
    """Status 2, and nothing is typed in vain."""
    status, output = typed("plan", *arguments)
    assert (status, words in output) == (2, True), output


def test_a_board_of_another_lot_is_refused_before_anything_is_asked() -> None:
    """What the records will not take is told before the first step, not when all is typed."""
    assert enter("good.toml", "7", "--lot", "L")[0] in (0, 3)
    status, output = typed("plan", "iec-ton", "--enter", "plan.toml", "--record", "a.db", "--serial", "7", "--lot", "M")
    told = "boardgauge: --record iec-ton 7 is of lot L in the records, and this says lot M"
    assert (status, output.startswith(told)) == (2, True), output


def test_the_file_that_cannot_be_used_is_named() -> None:
    """A plan that is not there is told as the plan, and not as the times beside it."""
    status, output = typed("plan", "iec-ton", "--enter", "none.toml", "--times", "good.toml")
    assert (status, output.startswith("boardgauge: --enter none.toml: the plan cannot be used:\n")) == (2, True), output
    status, output = typed("plan", "iec-ton", "--enter", "plan.toml", "--times", "none.toml")
    assert (status, output.startswith("boardgauge: none.toml cannot be used:\n")) == (2, True), output

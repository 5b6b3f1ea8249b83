"""Law: a worksheet and its key, as they are printed, can be read and filled in without turning back."""

from __future__ import annotations

import re
import struct
from functools import cache
from itertools import pairwise
from pathlib import Path

from click.testing import CliRunner

from boardgauge.command import main
from boardgauge.command.working import exercises_of
from boardgauge.sheets.as_typst import to_pages
from boardgauge.sheets.blocks import Column, Figure, Heading, Paragraph, Points, Sheet, Table
from boardgauge.sheets.exercise import Exercise, Level, room
from boardgauge.sheets.exercises import exercises
from boardgauge.sheets.handout import Handout
from boardgauge.sheets.worksheet import printed
from boardgauge.worksheets import fault_exercises
from sheets.sheet_helpers import study_of


@cache
def _made(name: str, level: Level, seed: int = 1) -> tuple[Exercise, ...]:
    return exercises(study_of(name), level, 8, seed)


def test_a_sheet_has_room_a_name_and_the_key_apart() -> None:
    """Name and date, cautions, lines to write on; spec, seed and level at the foot; as many answers as questions."""
    study = study_of("fan")
    made = printed(study, 3, exercises_of(study, 3, 5, 4, None), 4, "boardgauge worksheet")
    text = repr(made.questions)
    assert "Name ____" in text
    assert "Date ____" in text
    assert "Before you touch a unit" in text
    assert "seed 4, level 3" in made.questions.footer == made.key.footer
    assert (study.board.digest or "")[:12] in made.questions.footer
    heads = [
        [block.text for sheet in part.sheets for block in sheet.blocks if isinstance(block, Heading)]
        for part in (made.questions, made.key)
    ]
    assert heads[0] == heads[1]
    answers = {
        item for sheet in made.key.sheets for block in sheet.blocks if isinstance(block, Points) for item in block.items
    }
    assert not any(answer in text for answer in answers)
    assert len(to_pages(made.together(), "a4", 30.0)) >= 3


def test_the_command_writes_sheet_and_key(tmp_path: Path) -> None:
    """--key puts the key into a file of its own; the same file twice, or another ending, is refused."""
    sheet, key = tmp_path / "w.pdf", tmp_path / "k.html"
    run = CliRunner().invoke
    said = run(main, ["worksheet", "tarnbeck", "-o", str(sheet), "--key", str(key), "--seed", "3", "--exercises", "3"])
    assert said.output == f"{sheet}\n{key}\n"
    assert sheet.read_bytes().startswith(b"%PDF")
    assert "seed 3" in key.read_text(encoding="utf-8")
    assert run(main, ["worksheet", "tarnbeck", "-o", str(sheet), "--key", str(sheet)]).exit_code == 2
    few = run(main, ["worksheet", "iec-rs", "-o", str(sheet), "--exercises", "40"])
    assert re.search(r"boardgauge: \d+ of 40 exercises: at level 1 the board gives no more\n", few.output)
    assert run(main, ["worksheet", "tarnbeck", "-o", str(tmp_path / "w.txt")]).exit_code == 2


def test_the_title_of_a_key_has_no_page_of_its_own() -> None:
    """A short key is one page, upright or on its side; behind the exercises it begins a new one."""
    study = study_of("tarnbeck")
    charts = [one for one in _made("hearthgate", 3) if one.kind == "chart"][:1]
    short = printed(study, 1, _made("tarnbeck", 1)[:1], 1)
    assert len(to_pages(short.key)) == 1
    assert len(to_pages(short.together())) == len(to_pages(short.questions)) + 1
    wide = printed(study_of("hearthgate"), 3, charts, 1)
    assert [sheet.sideways for sheet in wide.key.sheets] == [True]
    width, height = struct.unpack(">II", to_pages(wide.key)[0][16:24])
    assert width > height, "the title stands on the page of the first chart"


def test_the_question_stands_with_what_was_measured() -> None:
    """A page that has room for the whole table, but not for the question too, has neither."""
    (found,) = fault_exercises(study_of("tarnbeck"), 3, 1, 0)
    assert [block.stays for block in found.given if isinstance(block, Table)] == [True]
    rows = (("1 s",),) * 14
    pages = []
    for stays in (False, True):
        table = Table("measured", (Column("At"),), rows, "Measured", stays=stays)
        blocks = (
            Paragraph("before"),
            *(Paragraph("more") for _ in range(18)),
            table,
            Paragraph("?", stays=True),
            room(4),
        )
        pages.append(to_pages(Handout("", (), (Sheet("a", "A", blocks, True, True),), "")))
    assert pages[0] != pages[1]


def test_the_question_stands_with_its_lines() -> None:
    """No page has lines to write on and nothing that says what."""
    blocks = [
        block for sheet in printed(study_of("fan"), 2, _made("fan", 2), 1).questions.sheets for block in sheet.blocks
    ]
    for before, block in pairwise(blocks):
        if isinstance(block, Figure) and block.drawing.text == "room to write":
            assert isinstance(before, Paragraph)
            assert before.stays

"""``boardgauge worksheet``: seeded exercises and the key to them."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from boardgauge.command.failing import Unusable
from boardgauge.command.finding import find_board
from boardgauge.command.handing_out import command_line

if TYPE_CHECKING:
    from boardgauge.drawings.page import Paper
    from boardgauge.sheets.exercise import Exercise, Level
    from boardgauge.sheets.handout import Handout
    from boardgauge.sheets.reader_units import Degrees
    from boardgauge.sheets.study import Study

_ENDINGS = (".pdf", ".html")
_ONE_IN = 4
"""From level 2 on, one exercise in so many is on a faulty board."""


def write_worksheet(
    given: str,
    output: str | None,
    level: Level,
    number: int,
    seed: int,
    paper: Paper,
    key: str | None,
    degrees: Degrees | None,
    faults: int | None,
) -> list[Path]:
    """Make a worksheet and write it, its key on pages of its own or into a file of its own; give the files."""
    from boardgauge.sheets.reader_units import in_degrees
    from boardgauge.sheets.study import Study
    from boardgauge.sheets.worksheet import printed

    board = find_board(given)
    target = Path(output or f"{board.id}-worksheet.pdf")
    answers = None if key is None else Path(key)
    for path in (target, *((answers,) if answers is not None else ())):
        if path.suffix.lower() not in _ENDINGS:
            raise Unusable(f"{path}: the format is not plain from the name; end it in {' or '.join(_ENDINGS)}")
    if answers is not None and answers.resolve() == target.resolve():
        raise Unusable(f"{key}: the key would overwrite the worksheet; give it a name of its own")
    study = Study(in_degrees(board, degrees))
    found = exercises_of(study, level, number, seed, faults)
    if len(found) < number:
        click.echo(
            f"boardgauge: {len(found)} of {number} exercises: at level {level} the board gives no more", err=True
        )
    made = printed(study, level, found, seed, command_line())
    if answers is None:
        _write(made.together(), target, paper)
        return [target]
    _write(made.questions, target, paper)
    _write(made.key, answers, paper)
    return [target, answers]


def exercises_of(study: Study, level: Level, number: int, seed: int, faults: int | None) -> list[Exercise]:
    """Give the exercises: those on faulty boards last. ``faults`` says how many these are, None leaves it open."""
    from boardgauge.sheets.exercises import exercises
    from boardgauge.worksheets import fault_exercises

    wanted = (number // _ONE_IN if level > 1 else 0) if faults is None else min(faults, number)
    faulty = fault_exercises(study, level, wanted, seed) if wanted else ()
    return [*exercises(study, level, number - len(faulty), seed), *faulty]


def _write(made: Handout, target: Path, paper: Paper) -> None:
    if target.suffix.lower() == ".html":
        from boardgauge.sheets.as_html import to_html

        target.write_text(to_html(made, paper), encoding="utf-8")
    else:
        from boardgauge.sheets.as_typst import to_pdf

        target.write_bytes(to_pdf(made, paper))

"""A worksheet: exercises with room to write, and the key to them on pages, or in a file, of its own.

Law of this module: it prints exercises and works out none. Spec, seed and command stand on every page, so that a sheet,
and the key to it, can be made again.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from attrs import evolve, frozen

from boardgauge.sheets.blocks import Block, Figure, Heading, Paragraph, Points, Sheet, Steps, Table
from boardgauge.sheets.cautions import cautions
from boardgauge.sheets.exercise import Exercise, Level, room
from boardgauge.sheets.exercises import exercises
from boardgauge.sheets.handout import Handout, footer
from boardgauge.sheets.study import Study

LEVELS: dict[Level, str] = {
    1: "one event: which output, and what does the lamp show",
    2: "sequences, with their times",
    3: "lockouts, counts, loss of power, limits, and charts to draw",
}

_WIDE = {"chart", "find the fault"}
_LETTERS = 95
_BEGINNING = 120.0
"""Points of an answer that stand together with its title."""


@frozen
class Worksheet:
    """A worksheet and its key, each ready to be printed."""

    questions: Handout
    key: Handout

    def together(self) -> Handout:
        """Give both as one: the key begins a page of its own."""
        questions = self.questions
        first, *others = self.key.sheets
        sheets = (*questions.sheets, evolve(first, own_page=True), *others)
        return Handout(questions.title, questions.cover, sheets, questions.footer)


def worksheet(study: Study, level: Level, number: int, seed: int, command: str = "") -> Worksheet:
    """Make a worksheet of exercises that need no faulty board."""
    return printed(study, level, exercises(study, level, number, seed), seed, command)


def printed(study: Study, level: Level, made: Sequence[Exercise], seed: int, command: str = "") -> Worksheet:
    """Print exercises. Spec, seed and command go into the footer."""
    board = study.board
    foot = " · ".join((footer(board), f"seed {seed}, level {level}", *((command,) if command else ())))
    blank = "_" * 32
    cover: tuple[Block, ...] = (
        Paragraph(f"Name {blank}    Date {blank}"),
        Paragraph(
            f"Level {level}: {LEVELS[level]}. {len(made)} exercise{'' if len(made) == 1 else 's'}. Times are nominal "
            "unless limits are asked for. What is not mentioned stays as it is."
        ),
        cautions(board),
    )
    # A chart needs the width of a page on its side to be read and drawn into: such exercises come last.
    numbered = list(enumerate(sorted(made, key=lambda one: one.kind in _WIDE), 1))
    parts = [[one for one in numbered if (one[1].kind in _WIDE) is wide] for wide in (False, True)]
    asked, answered = list[Sheet](), list[Sheet]()
    for wide, part in enumerate(parts):
        if part:
            more = " with charts" if wide else ""
            questions = [block for place, one in part for block in _question(place, one)]
            answers = [block for place, one in part for block in _answer(place, one)]
            asked.append(Sheet(f"exercises{wide + 1}", f"Exercises{more}", tuple(questions), bool(wide), bool(wide)))
            answered.append(Sheet(f"key{wide + 1}", f"Key{more}", tuple(answers), bool(wide), bool(wide)))
    if not made:
        nothing = Paragraph("Nothing can be asked of this board at this level.")
        asked, answered = [Sheet("exercises1", "Exercises", (nothing,))], [Sheet("key1", "Key", (nothing,))]
    about = Paragraph("The key to the exercises; every answer was worked out by simulating the board.", small=True)
    return Worksheet(
        Handout(f"{board.title}: worksheet", cover, tuple(asked), foot),
        Handout(f"{board.title}: key to the worksheet", (about,), tuple(answered), foot),
    )


def _question(place: int, one: Exercise) -> Iterator[Block]:
    asked: tuple[Block, ...] = (*(Paragraph(text, stays=True) for text in one.asked), room(one.lines))
    yield Heading(f"{place}. {one.title}", keeps=_height((*one.given, *asked)))
    yield from (*one.given, *asked)


def _answer(place: int, one: Exercise) -> Iterator[Block]:
    # An answer may go over to the next page, its beginning may not.
    yield Heading(f"{place}. {one.title}", keeps=min(_height(one.key), _BEGINNING))
    yield from one.key


def _height(blocks: Sequence[Block]) -> float:
    """Give about how many points blocks take, so that an exercise is not torn apart."""
    total = 26.0
    for block in blocks:
        match block:
            case Figure(drawing=drawing):
                total += drawing.height + 30
            case Steps(items=items) | Points(items=items):
                total += sum(14.0 * (1 + len(item) // _LETTERS) for item in items) + 6
            case Table(rows=rows):
                total += 17.0 * (len(rows) + 2)
            case Paragraph(text=text):
                total += 14.0 * (1 + len(text) // _LETTERS)
    return total

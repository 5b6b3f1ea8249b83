"""A handout: cover, cautions, and the sheets chosen, of one board.

Law of this module: what a handout says of itself (spec, digest, version, command) stands on its every page, so that any
sheet of paper can be made again. Nothing here knows paper, HTML or a file.
"""

from __future__ import annotations

from collections.abc import Iterable
from importlib.metadata import PackageNotFoundError, version

from attrs import frozen

from boardgauge.language.model import Board
from boardgauge.sheets.blocks import Block, Paragraph, Points, Sheet
from boardgauge.sheets.cautions import cautions
from boardgauge.sheets.contents import KINDS, chosen, make
from boardgauge.sheets.figures import many, sentence
from boardgauge.sheets.reader_units import UNITS, Degrees, in_degrees
from boardgauge.sheets.study import Study


@frozen
class Handout:
    """A handout. ``footer`` stands on every page; ``cover`` comes first, before the sheets."""

    title: str
    cover: tuple[Block, ...]
    sheets: tuple[Sheet, ...]
    footer: str
    language: str = "en"


def handout(
    board: Board,
    *,
    wanted: Iterable[str] = (),
    unwanted: Iterable[str] = (),
    degrees: Degrees | None = None,
    title: str | None = None,
    command: str = "",
    more: Iterable[Sheet] = (),
) -> Handout:
    """Make the handout of a board.

    ``wanted`` and ``unwanted`` are names of ``contents.KINDS`` (all that say anything where none is wanted),
    ``degrees`` the reader's unit, ``command`` what the handout was made by, ``more`` sheets that come after the others.
    Raises NoSuchSheet.
    """
    wanted = tuple(wanted)
    names = chosen(wanted, unwanted)
    study = Study(in_degrees(board, degrees))
    asked = set(wanted)
    made = (make(study, name) for name in names)
    sheets = (*(sheet for sheet in made if asked or not sheet.says_nothing), *more)
    return Handout(title or board.title, tuple(_cover(study, sheets, degrees)), sheets, footer(board, command))


def footer(board: Board, command: str = "") -> str:
    """Give the line that says what a sheet was made from, and how to make it again."""
    try:
        made_by = f"Boardgauge {version('boardgauge')}"
    except PackageNotFoundError:
        made_by = "Boardgauge"
    digest = f"spec {board.digest[:12]}" if board.digest else "spec made in memory"
    return " · ".join(part for part in (board.id, digest, made_by, command) if part)


def _cover(study: Study, sheets: tuple[Sheet, ...], degrees: Degrees | None) -> Iterable[Block]:
    board = study.board
    if board.text:
        yield Paragraph(board.text)
    told = []
    if board.source:
        told.append(f"§ cites the clauses of: {board.source}.")
    told.append(
        f"The board has {many(len(board.inputs), 'input')}, {many(len(board.outputs), 'output')}, "
        f"{many(len(board.lamps), 'lamp')} and {many(len(board.rules), 'rule')}."
    )
    if degrees is not None:
        told.append(f"Temperatures are told in {UNITS[degrees]}.")
    yield Paragraph(" ".join(told))
    tells = [f"{sheet.title}: {KINDS[sheet.id].tells}" if sheet.id in KINDS else sheet.title for sheet in sheets]
    yield Points(tuple(sentence(one) for one in tells), "In this handout")
    yield cautions(board)
    yield Paragraph(
        "Every drawing, table and sentence here was worked out from the board spec by the machine that also judges "
        "recordings of the board. It tells what a board in order does; it does not certify that a unit is safe to run.",
        small=True,
    )

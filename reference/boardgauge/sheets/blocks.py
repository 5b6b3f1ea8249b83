"""What a sheet is made of, as values: headings, sentences, tables, cautions and drawings.

Law of this module: these values hold what a sheet says and nothing of how it looks; every renderer takes all of them.
Drawings carry their SVG in points and the same in words, for where nothing can be drawn.
"""

from __future__ import annotations

from typing import Literal

from attrs import frozen


@frozen
class Drawing:
    """A picture. ``width`` and ``height`` are points, ``text`` says what it shows where nothing can be drawn."""

    svg: str
    width: float
    height: float
    text: str


Cell = str | Drawing


@frozen
class Column:
    """A column of a table; ``share`` is its width against that of the others, ``align`` where its text stands."""

    title: str
    share: float = 1.0
    align: Literal["left", "centre", "right"] = "left"


@frozen
class Table:
    """A table. A row never stands on two pages. ``id`` names it in data; ``title`` stands above it, ``notes`` below.

    ``stays``: it is in one piece, on the page of the next block.
    """

    id: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]
    title: str = ""
    notes: tuple[str, ...] = ()
    stays: bool = False

    def __attrs_post_init__(self) -> None:
        if any(len(row) != len(self.columns) for row in self.rows):
            raise ValueError(f"a row of table {self.id} has not a cell for each column")

    def column(self, title: str) -> tuple[Cell, ...]:
        """Give the cells of one column from top to bottom. Raises KeyError where there is no such column."""
        for number, column in enumerate(self.columns):
            if column.title == title:
                return tuple(row[number] for row in self.rows)
        raise KeyError(title)


@frozen
class Heading:
    """A heading inside a sheet. ``keeps``: how many points of what follows stay on one page with it."""

    text: str
    keeps: float = 0.0


@frozen
class Paragraph:
    """One paragraph; ``small`` for what explains a table or a drawing; ``stays``: on the page of the next block."""

    text: str
    small: bool = False
    stays: bool = False


@frozen
class Steps:
    """Numbered sentences, in the order in which things happen."""

    items: tuple[str, ...]
    title: str = ""


@frozen
class Points:
    """Sentences beside one another, in no order."""

    items: tuple[str, ...]
    title: str = ""


@frozen
class Caution:
    """What can hurt a person or a unit: short heading, then sentences."""

    title: str
    items: tuple[str, ...]


@frozen
class Figure:
    """A drawing with its caption; ``whole_page`` for one that is to be as large as a page takes."""

    drawing: Drawing
    caption: tuple[str, ...] = ()
    title: str = ""
    whole_page: bool = False


Block = Table | Heading | Paragraph | Steps | Points | Caution | Figure


@frozen
class Sheet:
    """One sheet of a handout. ``id`` is what it is called by on the command line.

    ``own_page``: it begins a page (and is fit to be hung up by itself); ``sideways``: its pages lie on their side.
    """

    id: str
    title: str
    blocks: tuple[Block, ...]
    own_page: bool = True
    sideways: bool = False

    @property
    def says_nothing(self) -> bool:
        """Tell whether there is nothing on it but that there is nothing."""
        return all(isinstance(block, Paragraph) for block in self.blocks)

    def tables(self) -> tuple[Table, ...]:
        """Give its tables."""
        return tuple(block for block in self.blocks if isinstance(block, Table))

"""A list of boards: what each is, and how much there is of it.

Law of this module: every figure is counted in the spec or in its machine; nothing is said of a board that its spec does
not say.
"""

from __future__ import annotations

from collections.abc import Iterable

from boardgauge.sheets.blocks import Column, Table
from boardgauge.sheets.study import Study

_COLUMNS = (
    Column("board", 1.6),
    Column("what it is", 3.2),
    Column("inputs", 0.6, "right"),
    Column("outputs", 0.6, "right"),
    Column("rules", 0.6, "right"),
    Column("operating states", 0.8, "right"),
    Column("requirements", 0.8, "right"),
)


def board_list(studies: Iterable[Study]) -> Table:
    """Give a row a board: its id, title, inputs, outputs, rules, operating states as drawn, and requirements."""
    return Table("boards", _COLUMNS, tuple(_row(study) for study in studies))


def _row(study: Study) -> tuple[str, ...]:
    board = study.board
    counted = (board.inputs, board.outputs, board.rules, study.overview.states, board.requirements)
    return (board.id, board.title, *(str(len(rows)) for rows in counted))

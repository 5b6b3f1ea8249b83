"""The decision tree by itself, with its cautions, ready to be printed."""

from __future__ import annotations

from boardgauge.identifying import Candidate
from boardgauge.sheets.cautions import cautions
from boardgauge.sheets.decision_sheet import tree_sheet
from boardgauge.sheets.handout import Handout, footer
from boardgauge.sheets.study import Study


def tree_handout(study: Study, left: frozenset[Candidate], pokes: bool = True, command: str = "") -> Handout:
    """Give the tree for what is left. ``command`` is what it was made by."""
    board = study.board
    title = f"{board.title}: which state is it in?"
    return Handout(title, (cautions(board),), (tree_sheet(study, left, pokes),), footer(board, command))

"""``boardgauge page``."""

from __future__ import annotations

from pathlib import Path

from boardgauge.command.failing import Unusable
from boardgauge.command.finding import find_board
from boardgauge.machine.compile import compile_board
from boardgauge.page import page_of

ENDINGS = {".html", ".htm"}


def write_page(given: str, output: str | None) -> Path:
    """Write the page of a board; give the file written."""
    board = find_board(given)
    path = Path(f"{board.id}.html") if output is None else Path(output)
    if path.suffix.lower() not in ENDINGS:
        raise Unusable(f"{path}: a page is one file of HTML; end its name in .html")
    path.write_text(page_of(compile_board(board)), encoding="utf-8", newline="\n")
    return path

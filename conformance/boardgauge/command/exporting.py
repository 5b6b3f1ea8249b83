"""``boardgauge export``: the machine of a board for other programs.

Law of this module: it names the file and writes it; what the format cannot hold is told with the rule.
"""

from __future__ import annotations

from pathlib import Path

from boardgauge.command.failing import Unusable
from boardgauge.command.finding import find_board, settings_of
from boardgauge.exports.scxml import CannotExport, write_scxml

FORMATS = ("scxml",)


def export_board(given: str, format_: str | None, output: str | None, settings: tuple[str, ...]) -> Path:
    """Write a board in a format; give the file."""
    board = find_board(given)
    if format_ is None and output is not None and Path(output).suffix[1:] in FORMATS:
        format_ = Path(output).suffix[1:]
    if format_ is None:
        raise Unusable("say what to write: --scxml")
    path = Path(output or f"{board.id}.{format_}")
    try:
        text = write_scxml(board, settings_of(settings, board))
    except CannotExport as error:
        raise Unusable(f"{given} cannot be written as SCXML: {error}") from None
    path.write_text(text, encoding="utf-8")
    return path

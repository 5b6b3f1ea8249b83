"""``boardgauge draw``."""

from __future__ import annotations

from pathlib import Path
from typing import Literal, cast

from boardgauge.command.failing import Unusable
from boardgauge.command.finding import find_board
from boardgauge.drawings import NothingToDraw, draw

Format = Literal["svg", "png", "pdf", "dot"]
Paper = Literal["letter", "a4"]
FORMATS = ("svg", "png", "pdf", "dot")


def draw_board(given: str, what: str, output: str | None, format_: str | None, paper: str) -> list[Path]:
    """Draw and write; give the files written."""
    board = find_board(given)
    target = None if output is None else Path(output)
    chosen = _format_of(target, what, format_)
    try:
        drawn: bytes | dict[str, bytes] = draw(board, what, cast(Format, chosen), cast(Paper, paper))
    except NothingToDraw as error:
        raise Unusable(str(error)) from None
    if isinstance(drawn, dict):
        folder = target or Path(f"{board.id}-drawings")
        folder.mkdir(parents=True, exist_ok=True)
        paths = []
        for name, data in drawn.items():
            paths.append(folder / f"{name}.{chosen}")
            paths[-1].write_bytes(data)
        return paths
    path = target or Path(f"{board.id}-{what}.{chosen}")
    path.write_bytes(drawn)
    return [path]


def _format_of(target: Path | None, what: str, asked: str | None) -> str:
    if target is None or what == "all":
        return asked or "svg"
    ending = target.suffix.lstrip(".").lower()
    if asked is not None:
        if ending in FORMATS and ending != asked:
            raise Unusable(f"{target}: its name says {ending} and --format says {asked}; leave one of them out")
        return asked
    if ending not in FORMATS:
        raise Unusable(
            f"{target}: the format is not plain from the name; end it in .{', .'.join(FORMATS)} or say --format"
        )
    return ending

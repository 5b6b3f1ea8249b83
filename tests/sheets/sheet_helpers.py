"""What the tests of sheets share: boards of the library, and times read back from what was printed."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

from boardgauge.boards import board_path
from boardgauge.language import read_board
from boardgauge.language.model import Board
from boardgauge.language.quantities import MIN, MS, H, S
from boardgauge.sheets.study import Study

CLONE = Path(__file__).resolve().parents[2]
BOARDS = ("tarnbeck", "hearthgate", "sump-pumps", "extract-fan", "fan", "iec-ton", "iec-ctu")
UNITS = {"ms": MS, "s": S, "min": MIN, "h": H}
TIME = re.compile(r"(\d+(?:\.\d+)?) (ms|s|min|h)(?![A-Za-z])")


def path_of(name: str) -> Path:
    """Give the spec of a board of the library, or of the documents' example."""
    return CLONE / "docs" / "examples" / "fan.toml" if name == "fan" else board_path(name)


@cache
def board_of(name: str) -> Board:
    """Read a board."""
    return read_board(path_of(name))


@cache
def study_of(name: str) -> Study:
    """Give a board with what is worked out of it, shared by all tests."""
    return Study(board_of(name))


def microseconds(text: str) -> int:
    """Read a printed time back: ``3 min 52.3 s``."""
    found = TIME.findall(text)
    assert found, text
    assert TIME.sub("", text).strip() == "", text
    return sum(round(float(number) * UNITS[unit]) for number, unit in found)


def printed_to(microseconds_: int) -> int:
    """Give how far a printed time may be off: half of the last digit that a stopwatch shows."""
    if microseconds_ < 100 * MS:
        return MS // 2
    if microseconds_ < S:
        return MS // 2
    return S // 200 if microseconds_ < 20 * S else S // 20

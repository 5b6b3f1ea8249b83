"""An exercise as a value: what is given, what is asked, how much room there is to write, and the answer.

Law of this module: an answer says nothing that the machine did not work out; ``recipe`` does the same again.
"""

from __future__ import annotations

from typing import Literal

from attrs import frozen

from boardgauge.drawings.page import FAMILY
from boardgauge.drawings.svg_text import line
from boardgauge.sheets.blocks import Block, Drawing, Figure
from boardgauge.sheets.recipes import Recipe

Level = Literal[1, 2, 3]
Kind = Literal["lamp", "one event", "sequence", "lockout", "power loss", "chart", "find the fault"]
_WIDE, _APART = 495.0, 23.0


@frozen
class Exercise:
    """One exercise. ``lines`` to write on; ``facts`` are what the answer says, as sentences; ``key`` prints it.

    ``key`` may hold more than the facts (a chart, limits). ``recipe`` is None for what is read off the lamp's table.
    """

    kind: Kind
    level: Level
    title: str
    given: tuple[Block, ...]
    asked: tuple[str, ...]
    lines: int
    facts: tuple[str, ...]
    key: tuple[Block, ...]
    recipe: Recipe | None = None
    nothing: bool = False


def room(lines: int) -> Figure:
    """Give lines to write on."""
    height = lines * _APART + 2
    drawn = "".join(line(0, y * _APART + _APART - 1, _WIDE, y * _APART + _APART - 1, 0.5) for y in range(lines))
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{_WIDE:.2f}pt" height="{height:.2f}pt"'
        f' viewBox="0 0 {_WIDE:.2f} {height:.2f}" font-family="{FAMILY}" role="img"><title>room to write</title>'
        f"{drawn}</svg>"
    )
    return Figure(Drawing(svg, _WIDE, height, "room to write"))

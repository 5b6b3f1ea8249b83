"""Text and a few shapes as SVG elements, and where labels fit.

Law of this module: text in, text out. Widths are estimated, as no face is at hand; the estimate is on the wide side.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from itertools import product
from xml.sax.saxutils import escape

from attrs import evolve, frozen

EM_A_LETTER = 0.47
"""How wide a letter is on average in this face, in type sizes."""
_FEW = 5
"""Up to so many labels, every way to place them is tried."""


def width_of(text: str, size: float) -> float:
    """Give about how wide a line of text is."""
    return len(text) * size * EM_A_LETTER


def wrapped(text: str, size: float, width: float) -> list[str]:
    """Break a text into lines that fit a width."""
    return textwrap.wrap(text, max(8, int(width / (size * EM_A_LETTER))), break_on_hyphens=False) or [""]


def escaped(words: str) -> str:
    """Give a text as XML takes it; what cannot be printed at all (a file may be called anything) is replaced."""
    return escape("".join(letter if letter.isprintable() or letter == "\u00a0" else "\ufffd" for letter in words))


def text(words: str, x: float, y: float, size: float, more: str = "", halo: bool = False) -> str:
    """Give a line of text; ``halo`` keeps lines that pass behind it off the letters."""
    keep = ' stroke="white" stroke-width="3" stroke-linejoin="round" paint-order="stroke"' if halo else ""
    return f'<text x="{x:.2f}" y="{y:.2f}" font-size="{size:.1f}"{keep}{more}>{escaped(words)}</text>'


def line(x1: float, y1: float, x2: float, y2: float, width: float, more: str = "") -> str:
    """Give a straight line."""
    return (
        f'<line x1="{x1:.2f}" y1="{y1:.2f}" x2="{x2:.2f}" y2="{y2:.2f}" stroke="black" stroke-width="{width:g}"{more}/>'
    )


def rect(x: float, y: float, width: float, height: float, more: str) -> str:
    """Give a rectangle."""
    return f'<rect x="{x:.2f}" y="{y:.2f}" width="{width:.2f}" height="{height:.2f}" {more}/>'


def path(points: Sequence[tuple[float, float]], more: str, closed: bool = False) -> str:
    """Give a line through points."""
    steps = " L ".join(f"{x:.2f} {y:.2f}" for x, y in points)
    return f'<path d="M {steps}{" Z" if closed else ""}" {more}/>'


def lanes(wanted: Sequence[tuple[float, str]], size: float, left: float, right: float) -> list[tuple[float, int]]:
    """Place labels by the x that each belongs to, between two margins, so that none covers another.

    Gives for each the x of its middle and its lane, 0 nearest to what it labels. A label stands centred over its x, or
    with one end at it where that saves lanes. The stroke that leads from a label in an outer lane to its x passes no
    label in a lane below, if there is any way to have it so.
    """
    sides = (0, -1, 1) if len(wanted) <= _FEW else (0,)
    tried = (_placed(wanted, chosen, size, left, right) for chosen in product(sides, repeat=len(wanted)))
    best = min(tried, key=lambda one: one[:3])
    return [(label.middle, label.lane) for label in best[3]]


@frozen
class _Label:
    middle: float
    half: float
    at: float
    lane: int = 0

    def clashes(self, other: _Label) -> bool:
        """Tell whether two labels cover each other, or the stroke of one passes through the other."""
        if self.lane == other.lane:
            return abs(self.middle - other.middle) < self.half + other.half
        upper, lower = (self, other) if self.lane > other.lane else (other, self)
        return abs(upper.at - lower.middle) < lower.half


def _placed(
    wanted: Sequence[tuple[float, str]], sides: tuple[int, ...], size: float, left: float, right: float
) -> tuple[int, int, int, list[_Label]]:
    """Place labels on the given sides; gives how many strokes pass a label, the last lane, how many stand aside."""
    found: list[_Label] = []
    passed = 0
    for (at, words), side in zip(wanted, sides, strict=True):
        half = width_of(words, size) / 2 + 3
        middle = max(left + half, min(right - half, at + side * (half - 4)))
        label = _Label(middle, half, at)
        free = [lane for lane in range(len(found) + 1) if not any(evolve(label, lane=lane).clashes(o) for o in found)]
        passed += not free
        found.append(evolve(label, lane=free[0] if free else 1 + max(o.lane for o in found)))
    return passed, max((one.lane for one in found), default=0), sum(map(abs, sides)), found

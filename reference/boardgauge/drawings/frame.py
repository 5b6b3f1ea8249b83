"""Widen the frame of a composite state until it holds its labels.

Law of this module: SVG in, SVG out, nothing moves but the sides of a frame. Graphviz keeps no room inside a frame for
the label of an arrow that runs along its side, so such a label comes to lie across the frame.
"""

from __future__ import annotations

import re
from html import unescape

from attrs import frozen

_CLUSTER = re.compile(r'(<g id="clust\d+" class="cluster">.*?<path [^>]*?d=")([^"]+)(")', re.DOTALL)
TEXT = re.compile(
    r'<text[^>]*?text-anchor="(\w+)" x="([-0-9.]+)" y="([-0-9.]+)"[^>]*?font-size="([0-9.]+)"[^>]*>([^<]*)<'
)
EDGE = re.compile(r'class="edge">.*?<path [^>]*?d="([^"]+)"', re.DOTALL)
POINT = re.compile(r"(-?[0-9.]+),(-?[0-9.]+)")
_EM_A_LETTER = 0.48
_CORNER = 13.0
_PAD = 4.0


@frozen
class Extent:
    """How far a frame now reaches to the left and to the right, in the graph's own coordinates."""

    left: float
    right: float


def widen(svg: str) -> tuple[str, Extent | None]:
    """Give the SVG with its frames wide enough, and how far the widest reaches (None: there is no frame)."""
    texts = [(*span_of(match), float(match[3])) for match in TEXT.finditer(svg)]
    edges = [[(float(x), float(y)) for x, y in POINT.findall(edge)] for edge in EDGE.findall(svg)]
    reached: list[Extent] = []

    def one(match: re.Match[str]) -> str:
        points = [(float(x), float(y)) for x, y in POINT.findall(match[2])]
        left, right = min(x for x, _ in points), max(x for x, _ in points)
        top, bottom = min(y for _, y in points), max(y for _, y in points)
        inside = [(a, b) for a, b, y in texts if top < y < bottom]
        for edge in edges:
            across = [x for x, y in edge if top < y < bottom]
            if across:
                inside.append((min(across), max(across)))
        wide = _wide(left, right, inside)
        reached.append(wide)

        def moved(point: re.Match[str]) -> str:
            x = float(point[1])
            x += wide.left - left if x < left + _CORNER else wide.right - right if x > right - _CORNER else 0.0
            return f"{x:.2f},{point[2]}"

        return match[1] + POINT.sub(moved, match[2]) + match[3]

    made = _CLUSTER.sub(one, svg)
    if not reached:
        return made, None
    return made, Extent(min(e.left for e in reached), max(e.right for e in reached))


def _wide(left: float, right: float, inside: list[tuple[float, float]]) -> Extent:
    """Move the sides out until nothing lies across them."""
    while True:
        new_left = min([left, *(a - _PAD for a, b in inside if a - _PAD < left < b)])
        new_right = max([right, *(b + _PAD for a, b in inside if a < right < b + _PAD)])
        if (new_left, new_right) == (left, right):
            return Extent(left, right)
        left, right = new_left, new_right


def span_of(text: re.Match[str]) -> tuple[float, float]:
    """Give from where to where a text of ``TEXT`` reaches, about."""
    anchor, x = text[1], float(text[2])
    width = len(unescape(text[5]).strip()) * _EM_A_LETTER * float(text[4])
    start = x if anchor == "start" else x - width / 2
    return start, start + width

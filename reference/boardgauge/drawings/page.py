"""Set an SVG graph on a page: title above, caption and footer below, everything in one SVG.

Law of this module: a pure function of its arguments. The graph is scaled to the page and never enlarged beyond its
own size; of the two ways to turn the page, the one that prints larger is taken, upright if there is nothing in it.
"""

from __future__ import annotations

import re
import textwrap
from typing import Literal
from xml.sax.saxutils import escape

from attrs import frozen

from boardgauge.drawings.dot import SPARE
from boardgauge.drawings.frame import widen
from boardgauge.drawings.frame_label import free_names

Paper = Literal["letter", "a4"]

PAPERS: dict[str, tuple[float, float]] = {"letter": (612.0, 792.0), "a4": (595.28, 841.89)}
"""Points, upright. Letter is 8.5 x 11 in (ANSI/ASME Y14.1 size A), A4 210 x 297 mm (ISO 216)."""

FAMILY = "Libertinus Serif, Times New Roman, Times, serif"
_BACKGROUND = re.compile(r'<polygon fill="white" stroke="none"[^>]*/>\n?')
MARGIN = 36.0
_GAP = 10.0
_TITLE, _CAPTION, _FOOTER = 14.0, 9.5, 8.0
_LEADING = 1.3
_LETTERS_PER_SIZE = 2.1
"""Letters in a line one type size wide, times the size: about 0.47 em a letter in this face."""


@frozen
class Graph:
    """A rendered graph: its SVG body and size in points."""

    body: str
    width: float
    height: float

    @classmethod
    def of(cls, svg: str) -> Graph:
        """Read a graph off the SVG that Graphviz wrote, in our own face and at its printed size."""
        match = re.search(r'<svg width="([0-9.]+)pt" height="([0-9.]+)pt"', svg)
        if match is None:
            raise ValueError("this is not an SVG written by Graphviz")
        svg, extent = widen(svg)
        svg = free_names(svg)
        body = svg[svg.index(">", match.start()) + 1 : svg.rindex("</svg>")]
        body = re.sub(r"<!--.*?-->\n?", "", body, flags=re.DOTALL)
        body = re.sub(r"<title>.*?</title>\n?", "", body, flags=re.DOTALL)
        body = re.sub(r'font-family="[^"]*"', f'font-family="{FAMILY}"', body)
        body = re.sub(r'font-size="([0-9.]+)"', lambda m: f'font-size="{float(m[1]) / SPARE:.2f}"', body)
        body = _BACKGROUND.sub("", body)
        width, height = float(match[1]), float(match[2])
        shift = re.search(r"translate\(([-0-9.]+)", body)
        if extent is None or shift is None:
            return cls(body.strip(), width, height)
        over_left = max(0.0, 1.0 - (extent.left + float(shift[1])))
        over_right = max(0.0, extent.right + float(shift[1]) + 1.0 - width)
        if over_left:
            body = f'<g transform="translate({over_left:.2f} 0)">{body.strip()}</g>'
        return cls(body.strip(), width + over_left + over_right, height)


@frozen
class Words:
    """What is printed round a graph."""

    title: str
    caption: tuple[str, ...]
    footer: str


def sheet(graph: Graph, words: Words, paper: Paper) -> str:
    """Give a whole page of paper as SVG."""
    short, long = PAPERS[paper]
    upright = (short, long)
    pages = sorted([upright, (long, short)], key=lambda page: (-round(_scale(graph, words, page), 3), page != upright))
    return _page(graph, words, pages[0])


def print_scale(graph: Graph, words: Words, paper: Paper) -> float:
    """Give how much a graph is made smaller on the page (1: not at all)."""
    short, long = PAPERS[paper]
    return max(_scale(graph, words, (short, long)), _scale(graph, words, (long, short)))


def cut_out(graph: Graph, words: Words) -> str:
    """Give the drawing as an SVG of its own size, with title, caption and footer but no page."""
    width = max(graph.width, 420.0) + 2 * _GAP
    height = graph.height + _around(words, width - 2 * _GAP) + 2 * _GAP
    return _page(graph, words, (width, height), _GAP)


def _around(words: Words, width: float) -> float:
    lines = len(_lines(words.title, _TITLE, width)) * _TITLE * _LEADING
    lines += sum(len(_lines(line, _CAPTION, width)) for line in words.caption) * _CAPTION * _LEADING
    return lines + len(_lines(words.footer, _FOOTER, width)) * _FOOTER * _LEADING + 2 * _GAP


def _lines(text: str, size: float, width: float) -> list[str]:
    return textwrap.wrap(text, max(20, int(width / size * _LETTERS_PER_SIZE))) or [""]


def _scale(graph: Graph, words: Words, page: tuple[float, float]) -> float:
    width = page[0] - 2 * MARGIN
    height = page[1] - 2 * MARGIN - _around(words, width)
    return min(1.0, width / graph.width, height / graph.height)


def _page(graph: Graph, words: Words, page: tuple[float, float], margin: float = MARGIN) -> str:
    width = page[0] - 2 * margin
    scale = min(1.0, width / graph.width, (page[1] - 2 * margin - _around(words, width)) / graph.height)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{page[0]:.2f}pt" height="{page[1]:.2f}pt"'
        f' viewBox="0 0 {page[0]:.2f} {page[1]:.2f}" font-family="{FAMILY}">',
        f"<title>{escape(words.title)}</title>",
        f'<rect width="{page[0]:.2f}" height="{page[1]:.2f}" fill="white"/>',
    ]
    top = margin
    for line in _lines(words.title, _TITLE, width):
        parts.append(_text(line, margin, top + _TITLE, _TITLE, ' font-weight="bold"'))
        top += _TITLE * _LEADING
    left = margin + max(0.0, (width - graph.width * scale) / 2)
    top += _GAP
    parts.append(f'<g transform="translate({left:.2f} {top:.2f}) scale({scale:.4f})">\n{graph.body}\n</g>')
    top += graph.height * scale + _GAP
    for caption in words.caption:
        for line in _lines(caption, _CAPTION, width):
            parts.append(_text(line, margin, top + _CAPTION, _CAPTION))
            top += _CAPTION * _LEADING
    bottom = page[1] - margin
    footer = _lines(words.footer, _FOOTER, width)
    for number, line in enumerate(footer):
        parts.append(_text(line, margin, bottom - (len(footer) - 1 - number) * _FOOTER * _LEADING, _FOOTER))
    return "\n".join([*parts, "</svg>", ""])


def _text(text: str, x: float, y: float, size: float, more: str = "") -> str:
    return f'<text x="{x:.2f}" y="{y:.2f}" font-size="{size:.1f}"{more}>{escape(text)}</text>'

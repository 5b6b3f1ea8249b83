"""Put pictures on as many pages as they need to stay legible, and write the pages.

Law of this module: nothing is printed smaller than ``LEAST_PRINT``; what does not fit one page goes on the next. A PDF
holds all pages; of the other formats each page is a file of its own.
"""

from __future__ import annotations

from collections.abc import Sequence

from boardgauge.drawings.dot import FONT_SIZE
from boardgauge.drawings.page import Graph, Paper, Words, print_scale
from boardgauge.drawings.picture import Picture
from boardgauge.drawings.rendering import Format, footer, page_svg, render, to_svg, typeset_pages
from boardgauge.language.model import Board

LEAST_PRINT = 7.0
"""Points: the smallest type that is read off a wall or a copy without effort."""


def printed_size(picture: Picture, board: Board, paper: Paper) -> float:
    """Give the type size (points) of a picture's labels on one page of paper."""
    words = Words(picture.title, picture.caption, footer(board))
    graphs = (Graph.of(to_svg(dot)) for dot in (picture.dot, *picture.wrapped_otherwise))
    return max(print_scale(graph, words, paper) for graph in graphs) * FONT_SIZE


def fits(picture: Picture, board: Board, paper: Paper | None) -> bool:
    """Tell whether a picture is legible on one page; without paper, on a screen, any is."""
    return paper is None or printed_size(picture, board, paper) >= LEAST_PRINT


def print_pages(pictures: Sequence[Picture], board: Board, format: Format, paper: Paper) -> tuple[bytes, ...]:
    """Render pictures, one a page: a PDF with all of them, or a file for each."""
    if format != "pdf" or len(pictures) == 1:
        return tuple(render(picture, board, format, paper) for picture in pictures)
    return (typeset_pages([page_svg(picture, board, paper) for picture in pictures], pictures[0].title),)

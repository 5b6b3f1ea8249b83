"""Split an overview over pages that stay legible, joined by lettered connectors.

Law of this module: every state is on exactly one page, and every arrow that the overview has is drawn once with its
words: inside a page, or to a connector whose letter stands again where the arrow goes on.
"""

from __future__ import annotations

from collections.abc import Sequence

from attrs import evolve

from boardgauge.drawings import dot
from boardgauge.drawings.edge_words import edge_lines
from boardgauge.drawings.overview import (
    THICK,
    Passages,
    overview_caption,
    overview_graph,
    state_lines,
    state_names,
)
from boardgauge.drawings.page import Paper
from boardgauge.drawings.picture import Picture
from boardgauge.drawings.print_pages import fits
from boardgauge.machine.operating import Overview

_WIDTHS = (26, 20, 34)
_IN_A_ROW = 3
"""Numbers of pages side by side in a connector: a circle grows with its longest line."""
_WHOLE_WIDTHS = (26, 20, 23, 30, 36)


def overview_pages(
    seen: Overview,
    paper: Paper | None = "letter",
    passed: Passages | None = None,
    name: str = "overview",
    title: str = "overview",
    told: Sequence[str] = (),
) -> tuple[Picture, ...]:
    """Draw an overview on one page if it is legible there, else on as many as it takes.

    Without ``paper`` it is one drawing of its own size. ``passed``: see ``overview_graph``; ``told`` stands first in
    the caption.
    """
    board = seen.machine.board
    first, *others = (overview_graph(seen, width, passed=passed) for width in _WHOLE_WIDTHS)
    heading = f"{board.title}: {title}"
    whole = Picture(name, heading, first, (*told, *overview_caption(seen)), tuple(others))
    if fits(whole, board, paper):
        return (whole,)
    pages = _parted(seen, paper, passed or {})
    count = len(pages)
    if count == 1:
        return (whole,)
    made = []
    for number in range(count):
        picture = _page(seen, pages, number, passed or {})
        caption = (*(told if number == 0 else ()), *picture.caption)
        made.append(evolve(picture, name=name, title=f"{heading} (page {number + 1} of {count})", caption=caption))
    return tuple(made)


def _parted(seen: Overview, paper: Paper | None, passed: Passages) -> list[list[int]]:
    """Part the states: each page takes what is most joined to it, for as long as it stays legible."""
    left = [state.number for state in seen.states]
    pages: list[list[int]] = []
    while left:
        page = [left.pop(0)]
        while left:
            best = max(left, key=lambda state: (_joined(seen, state, page), -state))
            tried = [*page, best]
            others = [state for state in left if state != best]
            if not fits(_page(seen, [*pages, tried, others], len(pages), passed), seen.machine.board, paper):
                break
            page, left = tried, others
        pages.append(page)
    return _fitting(seen, pages, paper, passed)


def _fitting(seen: Overview, pages: list[list[int]], paper: Paper | None, passed: Passages) -> list[list[int]]:
    """Give pages that fit with the connectors as they are at last: those to all pages, not to two."""
    checked: list[list[int]] = []
    while pages:
        page, *others = pages
        if len(page) == 1 or fits(_page(seen, [*checked, *pages], len(checked), passed), seen.machine.board, paper):
            checked.append(page)
            pages = others
        else:
            pages = [page[:-1], page[-1:], *others]
    return checked


def _joined(seen: Overview, state: int, page: Sequence[int]) -> int:
    return sum(1 for e in seen.edges if {e.source, e.target} & {state} and {e.source, e.target} & set(page))


def connectors(seen: Overview, pages: Sequence[Sequence[int]], passed: Passages) -> dict[int, str]:
    """Give the letter of each state that an arrow reaches from another page."""
    home = {state: number for number, page in enumerate(pages) for state in page}
    pairs = {(edge.source, edge.target) for edge in seen.edges} | passed.keys()
    reached = sorted({target for source, target in pairs if home[source] != home[target]})
    return {state: _letter(number) for number, state in enumerate(reached)}


def _letter(number: int) -> str:
    return (_letter(number // 26 - 1) if number >= 26 else "") + chr(ord("A") + number % 26)


def _page(seen: Overview, pages: Sequence[Sequence[int]], number: int, passed: Passages) -> Picture:
    first, *others = (_graph(seen, pages, number, width, passed) for width in _WIDTHS)
    lines = (
        "A letter in a circle: the arrow goes on at the same letter, on the page (p.) written with it.",
        *overview_caption(seen),
    )
    return Picture("overview", f"{seen.machine.board.title}: overview (page 00 of 00)", first, lines, tuple(others))


def _graph(seen: Overview, pages: Sequence[Sequence[int]], number: int, width: int, passed: Passages) -> str:
    machine, names, here = seen.machine, state_names(seen), set(pages[number])
    home = {state: at for at, page in enumerate(pages) for state in page}
    letters = connectors(seen, pages, passed)
    lines = dot.header("TB", ranksep=0.3, nodesep=0.3)
    taken = dict(passed)
    off: int | None = None
    for state in seen.states:
        if state.number in here:
            inside = list(state_lines(machine, state)) if state.powered else []
            lines.append(dot.state(str(state.number), names[state.number], inside, upright=True))
            if not state.powered:
                lines += [dot.initial("initial"), dot.arrow("initial", str(state.number), [])]

    for edge in seen.edges:
        if edge.source not in here:
            continue
        said = list(edge_lines(machine, seen, edge))
        run = taken.pop((edge.source, edge.target), None)
        look = {} if run is None else THICK
        said = said if run is None else [run, *said]
        if run is None and not seen.states[edge.target].powered:
            # Every state can lose its power: said once on a page and not at each.
            off = edge.target
            continue
        if edge.target in here:
            lines.append(dot.arrow(str(edge.source), str(edge.target), said, look, width))
        else:
            node = f"to {edge.target} from {edge.source}"
            lines.append(_circle(node, letters[edge.target], str(home[edge.target] + 1)))
            lines.append(dot.arrow(str(edge.source), node, said, look, width))
    if off is not None:
        goal = str(off) if off in here else f"to {off} from any"
        if off not in here:
            lines.append(_circle(goal, letters[off], str(home[off] + 1)))
        lines += [dot.note("any", ["in every state on this page:\npower lost"]), dot.arrow("any", goal, [])]
    for (source, target), run in taken.items():
        if source in here:
            goal = str(target) if target in here else f"to {target} from {source}"
            if target not in here:
                lines.append(_circle(goal, letters[target], str(home[target] + 1)))
            lines.append(dot.arrow(str(source), goal, [run], THICK, width))
    for reached, letter in letters.items():
        pairs = {(edge.source, edge.target) for edge in seen.edges} | passed.keys()
        sources = sorted({home[a] + 1 for a, b in pairs if b == reached and home[a] != number})
        if reached in here and sources:
            lines.append(_circle(f"from {reached}", letter, ", ".join(map(str, sources))))
            lines.append(dot.arrow(f"from {reached}", str(reached), []))
    return "\n".join([*lines, "}", ""])


def _circle(node: str, letter: str, page: str) -> str:
    numbers = page.split(", ")
    rows = [", ".join(numbers[at : at + _IN_A_ROW]) for at in range(0, len(numbers), _IN_A_ROW)]
    label = dot.quoted(f"{letter}\\np. " + ",\\n".join(rows))
    return f"  {dot.quoted(node)} [shape=circle, label={label}, width=0.45, margin=0.01];"

"""Draw one operating state with every way into it and every way out of it.

Law of this module: the ways are those of an explored ``Overview``, none put together and none left out. States it is
entered from stand on the left, states it leads to on the right; one may stand on both sides.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rapidfuzz import process

from boardgauge.drawings import dot, words
from boardgauge.drawings.edge_words import is_rest, told_ways, way_words
from boardgauge.drawings.overview import overview_caption, state_lines, state_names
from boardgauge.drawings.page import Paper
from boardgauge.drawings.picture import Picture
from boardgauge.drawings.print_pages import fits
from boardgauge.machine.operating import OperatingEdge, Overview

_WIDTHS = (34, 26, 44, 60)
_WIDTH = 32


class NoSuchState(LookupError):
    """The board has no operating state of that name; the message names the nearest."""


def state_called(seen: Overview, name: str) -> int:
    """Give the number of the operating state of a name, as the overview has it. Raises NoSuchState."""
    names = state_names(seen)
    plain = [one.casefold() for one in names]
    if name.casefold().strip() in plain:
        return plain.index(name.casefold().strip())
    nearest = process.extractOne(name, names, score_cutoff=60)
    hint = f'did you mean "{nearest[0]}"? ' if nearest else ""
    raise NoSuchState(
        f'board {seen.machine.board.id} has no operating state "{name}"; {hint}there are {", ".join(names)}'
    )


def zoomed(seen: Overview, number: int, paper: Paper | None = "letter") -> tuple[Picture, ...]:
    """Draw an operating state with its ways in and out, on as many pages as it takes."""
    into = [edge for edge in seen.edges if edge.target == number]
    out = [edge for edge in seen.edges if edge.source == number]
    whole = _picture(seen, number, into, out, "")
    board = seen.machine.board
    if fits(whole, board, paper):
        return (whole,)
    parts = [*_parts(seen, number, into, True, paper), *_parts(seen, number, out, False, paper)]
    return tuple(
        _picture(seen, number, a, b, f", {'ways in' if a else 'ways out'} (page {count} of {len(parts)})")
        for count, (a, b) in enumerate(parts, 1)
    )


_Part = tuple[Sequence[OperatingEdge], Sequence[OperatingEdge]]


def _parts(seen: Overview, number: int, edges: list[OperatingEdge], into: bool, paper: Paper | None) -> Iterator[_Part]:
    """Part edges so that each part fits a page; a single edge stays on one page whatever its size."""
    while edges:
        take = len(edges)
        while take > 1:
            part = edges[:take]
            if fits(_picture(seen, number, part if into else [], [] if into else part, ""), seen.machine.board, paper):
                break
            take -= 1
        yield (edges[:take], []) if into else ([], edges[:take])
        edges = edges[take:]


def _picture(
    seen: Overview, number: int, into: Sequence[OperatingEdge], out: Sequence[OperatingEdge], more: str
) -> Picture:
    first, *others = (_graph(seen, number, into, out, width) for width in _WIDTHS)
    name = state_names(seen)[number]
    caption = ["Left: where it is entered from; right: where it leads to.", *overview_caption(seen)]
    return Picture(f"state-{number}", f"{seen.machine.board.title}: {name}{more}", first, tuple(caption), tuple(others))


def _graph(seen: Overview, number: int, into: Sequence[OperatingEdge], out: Sequence[OperatingEdge], width: int) -> str:
    names = state_names(seen)
    lines = dot.header("LR", ranksep=0.6, nodesep=0.3)
    state = seen.states[number]
    inside = [*(state_lines(seen.machine, state) if state.powered else ()), *_holding(seen, number)]
    lines.append(dot.state("here", names[number], inside, bold=True))
    if not state.powered:
        lines += [dot.initial("initial"), dot.arrow("initial", "here", [])]
    for edge in into:
        lines.append(dot.state(f"in {edge.source}", names[edge.source], []))
        lines.append(dot.arrow(f"in {edge.source}", "here", list(_ways(seen, edge)), width=width))
    for edge in out:
        lines.append(dot.state(f"out {edge.target}", names[edge.target], []))
        lines.append(dot.arrow("here", f"out {edge.target}", list(_ways(seen, edge)), width=width))
    return "\n".join([*lines, "}", ""])


def _ways(seen: Overview, edge: OperatingEdge) -> Iterator[str]:
    ways = told_ways(edge)
    mark = "• " if len(ways) > 1 else ""
    for way in ways:
        yield mark + way_words(seen.machine, way, is_rest(seen, edge, way), "\n")


def _holding(seen: Overview, number: int) -> Iterator[str]:
    """Say what else holds there, always or at times: what a meter does not show."""
    board, state = seen.machine.board, seen.states[number]
    always = [words.name_holds(board, name, True) for name in state.always]
    at_times = [words.name_holds(board, name, True) for name in state.sometimes]
    standing = [words.level(board, seen.machine.levels[index], value) for index, value in state.inputs]
    for heading, said in (("always", [*always, *standing]), ("at times", at_times)):
        if said:
            yield f"{heading}: {'; '.join(said)}"

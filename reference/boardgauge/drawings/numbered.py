"""Draw an overview whose arrows are numbered, with the words of each number apart.

Law of this module: the states, the arrows and the words are those of the overview; only where the words stand differs.
"""

from __future__ import annotations

from attrs import frozen

from boardgauge.drawings.edge_words import is_rest, told_ways, way_words
from boardgauge.drawings.overview import from_anywhere, overview_caption, overview_graph, state_names
from boardgauge.drawings.picture import Picture
from boardgauge.machine.operating import Overview


@frozen
class NumberedWay:
    """One way from a state to another, by its number in a drawing: the names of the states, and the words."""

    number: int
    source: str
    target: str
    words: str


def numbered_overview(seen: Overview) -> tuple[Picture, tuple[NumberedWay, ...]]:
    """Draw an overview with numbers on its arrows, where words have no room, and give what each number says."""
    names, machine = state_names(seen), seen.machine
    bundled = {(source, one.step, one.target) for one in from_anywhere(seen) for source in one.sources}
    unpowered = {state.number for state in seen.states if not state.powered}
    ways: list[NumberedWay] = []
    numbers = {}
    for edge in seen.edges:
        own = [way for way in told_ways(edge) if (edge.source, way.step, edge.target) not in bundled]
        first = len(ways) + 1
        for way in own if edge.target not in unpowered else ():
            said = way_words(machine, way, is_rest(seen, edge, way))
            ways.append(NumberedWay(len(ways) + 1, names[edge.source], names[edge.target], said))
        numbers[edge.source, edge.target] = str(first) if len(ways) <= first else f"{first}–{len(ways)}"
    first_graph, *others = (overview_graph(seen, width, numbers) for width in (26, 20, 36))
    title = f"{seen.machine.board.title}: overview"
    return Picture("overview", title, first_graph, tuple(overview_caption(seen)), tuple(others)), tuple(ways)

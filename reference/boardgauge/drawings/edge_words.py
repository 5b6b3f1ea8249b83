"""Say what leads from one operating state to another: causes, what must hold besides, clauses.

Law of this module: it says the ways of an ``OperatingEdge`` and leaves out those only that another one covers.
"""

from __future__ import annotations

from collections.abc import Iterator

from boardgauge.drawings import words
from boardgauge.machine.operating import Fact, OperatingEdge, Overview, Way
from boardgauge.machine.table import Machine

_MOST_WAYS = 4
_KIND_ORDER = ("lockout", "mode", "sequence", "toggle", "count", "accumulator", "output")
_ORDINALS = {1: "1st", 2: "2nd", 3: "3rd"}


def edge_lines(machine: Machine, seen: Overview, edge: OperatingEdge) -> Iterator[str]:
    """Say each way from one state to another: its cause, its guard, the clause it comes from."""
    every = told_ways(edge)
    ways = every if len(every) <= _MOST_WAYS else every[: _MOST_WAYS - 1]
    mark = "• " if len(every) > 1 else ""
    for way in ways:
        yield mark + way_words(machine, way, is_rest(seen, edge, way), "\n")
    if len(ways) < len(every):
        yield f"{mark}{len(every) - len(ways)} other ways"


def told_ways(edge: OperatingEdge) -> tuple[Way, ...]:
    """Give the ways of an edge but for those in which another one happens, and something else with it."""
    return tuple(way for way in edge.ways if not any(_covers(other, way) for other in edge.ways))


def _covers(one: Way, other: Way) -> bool:
    """Tell whether a cause leads there by itself whatever the other has besides: both bring about the same."""
    mine, others = set(_parts(one)), set(_parts(other))
    same = (one.counted, one.moved, one.step.power) == (other.counted, other.moved, other.step.power)
    return mine < others and same and one.sure and set(one.guard) <= set(other.guard)


def _parts(way: Way) -> Iterator[object]:
    yield from way.step.levels
    yield from (("over", timing) for timing in way.step.expired)
    yield from (("dropped", region) for region in way.step.dropped)


def way_words(machine: Machine, way: Way, rest: bool = False, between: str = " ") -> str:
    """Say one way: ``high-pressure switch opens [not the 3rd of hp trips] § 4.2``.

    ``rest``: its guard is all else; ``between`` stands between cause and guard.
    """
    said = words.step(machine, way.step)
    guard = [_fact_words(machine, way, fact) for fact in way.guard]
    if rest:
        guard = ["otherwise"]
    elif not way.sure:
        guard.append("…")
    if guard:
        said += f"{between}[{', '.join(guard)}]"
    cited = words.clause(_clause(machine, way))
    return f"{said} {cited}" if cited else said


def _fact_words(machine: Machine, way: Way, fact: Fact) -> str:
    board = machine.board
    match fact.kind:
        case "input":
            return words.level(board, machine.levels[int(fact.what)], fact.holds)
        case "for":
            condition = machine.timings[int(fact.what)].condition
            assert condition is not None
            return words.holds(board, condition, fact.holds)
        case "count":
            label = words.thing(board, fact.what)
            if fact.what in way.moved:
                number = fact.place + 1
                return f"{'' if fact.holds else 'not '}the {_ORDINALS.get(number, f'{number}th')} of {label}"
            return f"{label} {'at' if fact.holds else 'not at'} {fact.place}"
    return words.name_holds(board, fact.what, fact.holds)


def is_rest(seen: Overview, edge: OperatingEdge, way: Way) -> bool:
    """Tell whether a way that no guard tells whole is what is left when the guards of the same cause do not hold."""
    if way.sure or way.may_stay:
        return False
    same = [
        w
        for e in seen.edges
        if e.source == edge.source and e.target != edge.target
        for w in e.ways
        if w.step == way.step
    ]
    return bool(same) and all(w.sure for w in same)


def _clause(machine: Machine, way: Way) -> str | None:
    for timing in way.step.expired:
        if machine.timings[timing].clause:
            return machine.timings[timing].clause
    regions = [region for region in machine.regions if region.rule in way.moved and region.clause]
    regions.sort(key=lambda region: (_KIND_ORDER.index(region.kind), region.rule))
    return regions[0].clause if regions else None

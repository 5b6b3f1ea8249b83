"""Draw the whole board as one state machine diagram: its operating states and what leads from one to the next.

Law of this module: the diagram is drawn from an explored ``Overview`` and says where it is not complete. Names come
from the spec: what the lamp's line means, else what is on.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from attrs import evolve, frozen

from boardgauge.drawings import dot, words
from boardgauge.drawings.edge_words import edge_lines, is_rest
from boardgauge.drawings.picture import Picture
from boardgauge.language import model
from boardgauge.machine.explore import Step
from boardgauge.machine.operating import OperatingState, Overview, Way
from boardgauge.machine.table import Machine

_MANY_SOURCES = 4
_FEW_LEFT = 2
_WIDTHS = (26, 20, 23, 30, 36)
THICK = {"penwidth": "2.6"}


def overview_diagram(seen: Overview) -> Picture:
    """Draw an overview."""
    first, *others = (overview_graph(seen, width) for width in _WIDTHS)
    return Picture(
        "overview", f"{seen.machine.board.title}: overview", first, tuple(overview_caption(seen)), tuple(others)
    )


Passages = Mapping[tuple[int, int], str]
"""For each pair of states that a path passes between, the numbers of the passages."""


def overview_graph(
    seen: Overview, width: int, numbers: Mapping[tuple[int, int], str] | None = None, passed: Passages | None = None
) -> str:
    """Give the graph, its arrows with their words, or with their ``numbers`` (source, target) in place of words.

    Arrows that a path ``passed`` along are thick and carry its numbers before their words.
    """
    left = dict(passed or {})
    machine = seen.machine
    names = state_names(seen)
    lines = dot.header("TB", ranksep=0.3, nodesep=0.3)
    ranks = _ranks(seen)
    lines.append(dot.initial("initial"))
    powered = [state for state in seen.states if state.powered]
    for state in seen.states:
        if not state.powered:
            lines.append(_box(machine, state, names))
    lines += ["  subgraph cluster_on {", '  style="rounded,dashed"; margin=16; labeljust=l; label="power on";']
    lines += [_box(machine, state, names) for state in powered]
    lines.append(dot.unseen("on"))
    unpowered = [state.number for state in seen.states if not state.powered]
    outside = [dot.arrow("initial", str(number), []) for number in unpowered[:1]]
    common = from_anywhere(seen)
    bundled = {(source, one.step, one.target) for one in common for source in one.sources}
    for one in common:
        node = f"{words.step(machine, one.step)} to {one.target}"
        outside.append(dot.note(node, [_anywhere_words(machine, one, names)], width))
        outside.append(dot.arrow(node, str(one.target), []))
    for edge in seen.edges:
        ways = tuple(way for way in edge.ways if (edge.source, way.step, edge.target) not in bundled)
        if edge.target not in unpowered and ways:
            source, target = str(edge.source), str(edge.target)
            said = list(edge_lines(machine, seen, evolve(edge, ways=ways)))
            if numbers is not None:
                said = [numbers[edge.source, edge.target]]
            climbs = ranks[edge.source] - ranks[edge.target]
            taken = left.pop((edge.source, edge.target), None)
            look = {} if taken is None else THICK
            said = said if taken is None else [taken, *said]
            if edge.source in unpowered:
                outside.append(dot.arrow(source, target, said, look, width=width))
            elif climbs > 1:
                lines += dot.broken_arrow(source, target, said, width, look)
            else:
                draw = dot.back_arrow if climbs > 0 else dot.arrow
                lines.append(draw(source, target, said, look, width=width))
    outside += [dot.arrow(str(a), str(b), [taken], THICK, width) for (a, b), taken in left.items()]
    lines += ["  }", *outside]
    if powered and unpowered:
        # From a state further down DOT would let the arrow begin in the middle of the frame, not at its border.
        lines.append(dot.back_arrow("on", str(unpowered[0]), ["power lost"], {"ltail": "cluster_on"}))
    return "\n".join([*lines, "}", ""])


@frozen
class Anywhere:
    """A cause that leads to one state from wherever it can come, but for a few states that it does not leave."""

    step: Step
    way: Way
    target: int
    sources: tuple[int, ...]
    but: tuple[int, ...]


def from_anywhere(seen: Overview) -> tuple[Anywhere, ...]:
    """Find the causes that lead to the same state from most others: they are drawn once, not from each."""
    by_cause: dict[tuple[Step, int], list[tuple[int, Way]]] = {}
    leads: dict[Step, set[int]] = {}
    for edge in seen.edges:
        for way in edge.ways:
            leads.setdefault(way.step, set()).add(edge.target)
            if way.sure and not way.guard and way.step.power is None:
                by_cause.setdefault((way.step, edge.target), []).append((edge.source, way))
    found = []
    for (step, target), ways in by_cause.items():
        but = tuple(s.number for s in seen.states if s.number != target and (s.number, step) in seen.stays)
        if len(ways) >= _MANY_SOURCES and leads[step] == {target} and len(but) <= _FEW_LEFT:
            found.append(Anywhere(step, ways[0][1], target, tuple(source for source, _ in ways), but))
    return tuple(sorted(found, key=lambda one: (one.target, words.step(seen.machine, one.step))))


def _anywhere_words(machine: Machine, one: Anywhere, names: tuple[str, ...]) -> str:
    where = f"in every state but {_and([names[number] for number in one.but])}" if one.but else "in every state"
    return f"{where}:\n{words.step(machine, one.step)}"


def _ranks(seen: Overview) -> dict[int, int]:
    """Give how many edges each state is from a board without power: what is farther stands lower."""
    ranks = {state.number: 0 for state in seen.states if not state.powered}
    level = list(ranks)
    while level:
        following = sorted({edge.target for edge in seen.edges if edge.source in level} - ranks.keys())
        ranks |= dict.fromkeys(following, ranks[level[0]] + 1)
        level = following
    return ranks


def _box(machine: Machine, state: OperatingState, names: tuple[str, ...]) -> str:
    inside = list(state_lines(machine, state)) if state.powered else []
    return dot.state(str(state.number), names[state.number], inside, upright=True)


# -- states ----------------------------------------------------------------------------------------------------------


def state_names(seen: Overview) -> tuple[str, ...]:
    """Give each operating state a plain name of its own."""
    board = seen.machine.board
    names = [_name(seen.machine, state) for state in seen.states]
    for name in sorted({name for name in names if names.count(name) > 1}):
        alike = [state for state in seen.states if names[state.number] == name]
        for state in alike:
            others = [other for other in alike if other is not state]
            names[state.number] = _told_apart(board, name, state, others)
    for name in sorted({name for name in names if names.count(name) > 1}):
        for count, number in enumerate([n for n, other in enumerate(names) if other == name], 1):
            names[number] = f"{name} ({count})"
    return tuple(names)


def _name(machine: Machine, state: OperatingState) -> str:
    board = machine.board
    if not state.powered:
        return "power off"
    quiet = ""
    for lamp, number in state.lamps:
        line = board.lamps[lamp].lines[number]
        if line.when is not None or (line.means and not quiet):
            said = words.lamp_line(board, lamp, number)
            if line.when is not None:
                return said.removeprefix("in step ")
            quiet = said
    if quiet:
        return quiet
    rules = _telling(board, state.always)
    return words.name_holds(board, rules[0], True) if rules else _outputs_on(board, state) or "idle"


def _telling(board: model.Board, names: tuple[str, ...]) -> list[str]:
    """Give what is on, what tells most coming first: a step, a lockout, a mode, a delay."""
    order: dict[type, int] = {model.Lockout: 1, model.Mode: 2, model.Delay: 3}
    ranked = [(order.get(type(board.rules[name]), 9) if name in board.rules else 0, name) for name in names]
    return [name for rank, name in sorted(ranked) if rank < 9]


def _told_apart(board: model.Board, name: str, state: OperatingState, others: list[OperatingState]) -> str:
    common = set.intersection(*(set(other.always) for other in others))
    own = _telling(board, tuple(rule for rule in state.always if rule not in common))
    own = [rule for rule in own if not all(rule in other.always for other in others)]
    if own:
        label = words.thing(board, own[0])
        return f"{name}: {label}"
    outputs = _outputs_on(board, state)
    if outputs:
        return f"{name}: {outputs}"
    values = [value for _, value in state.outputs]
    if False not in values:
        return name  # nothing of its outputs is known: it gets a number
    maybe = [words.thing(board, output) for output, value in state.outputs if isinstance(value, tuple)]
    off = f"all but {_and(maybe)} off" if maybe else "outputs off"
    return f"{name}: {'none of the outputs told apart on' if None in values else off}"


def _outputs_on(board: model.Board, state: OperatingState) -> str:
    on = [words.thing(board, output) for output, value in state.outputs if value is True]
    return f"{_and(on)} on" if on else ""


def state_lines(machine: Machine, state: OperatingState) -> Iterator[str]:
    """Say what can be seen in a state: the outputs that are on, and what each lamp shows."""
    board = machine.board
    said = _outputs_on(board, state)
    if said:
        yield said
    for output, value in state.outputs:
        if isinstance(value, tuple):
            level, polarity = value
            yield f"{words.thing(board, output)} on while {words.level(board, machine.levels[level], polarity)}"
    values = [value for _, value in state.outputs]
    if not said and False in values:
        named = "others" if any(isinstance(value, tuple) for value in values) else "outputs"
        yield f"of the {named} told apart, none on" if None in values else f"all {named} off"
    for lamp, line in state.lamps:
        yield f"{words.thing(board, lamp)}: {words.pattern(board.lamps[lamp].lines[line].shows)}"


def overview_caption(seen: Overview) -> Iterator[str]:
    """Say how an overview is to be read, and what of the board it does not show."""
    yield (
        "Causes are taken one at a time; [ ] is what must hold besides; § the clause; "
        "a time with two ends is the whole range, one alone is nominal."
    )
    if any(not way.sure and not is_rest(seen, edge, way) for edge in seen.edges for way in edge.ways):
        yield "…: and under more conditions, which the diagrams of the rules tell."
    if not seen.complete:
        yield f"NOT COMPLETE: exploring stopped at {seen.explored} configurations; there may be more states and arrows."
    if seen.left_out:
        left = _and([words.thing(seen.machine.board, output) for output in seen.left_out])
        yield f"Not told apart here, for want of room: whether {left} {'is' if len(seen.left_out) == 1 else 'are'} on."
    for finding in seen.findings:
        way = "; then ".join(words.scenario(seen.machine, finding.scenario))
        yield f"This spec does not come to rest: {finding.reason}. The way there: {way}."


def _and(items: list[str]) -> str:
    return items[0] if len(items) == 1 else f"{', '.join(items[:-1])} and {items[-1]}"

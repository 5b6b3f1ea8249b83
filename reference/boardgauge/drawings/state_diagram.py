"""Draw one rule as a state machine diagram (UML 2.5.1, clause 14), from its rows in the machine's table.

Law of this module: every arrow is a move of the table and every move of the table is in one arrow; nothing is drawn
that the machine does not step by. A delay has no region, so its arrows are read off its ``DelayRow``.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from attrs import frozen

from boardgauge.drawings import dot, words
from boardgauge.drawings.picture import Picture
from boardgauge.language import expressions as ex
from boardgauge.language import model
from boardgauge.machine.table import DelayRow, Machine, Move, OutputRow, Region

_INITIAL = "initial"
_FINAL = "final"
_COMPOSITE_FROM = 3
_EMPTIED = {"accumulator": "/ back to zero", "count": "/ forget all"}


@frozen
class Arrow:
    """One arrow of a diagram. ``sources`` has several places where it leaves the composite state round all of them."""

    sources: tuple[str, ...]
    target: str
    lines: tuple[str, ...]
    moves: tuple[Move, ...] = ()
    only_power: bool = False


def state_diagram(machine: Machine, rule: str) -> Picture:
    """Draw the diagram of a rule, or of an output. Raises KeyError where the board has neither of that id."""
    board = machine.board
    delay = next((row for row in machine.delays if row.rule == rule and not row.hidden), None)
    region = machine.region_of(rule)
    output = next((row for row in machine.outputs if row.output == rule), None)
    if delay is not None:
        lines = _delay(machine, delay)
    elif region is not None:
        lines = _region(machine, region)
    elif output is not None and output.on is not None:
        lines = _followed(machine, output)
    else:
        raise KeyError(rule)
    row = board.rules.get(rule) or board.outputs[rule]
    kind = "output" if region is None and delay is None else "delay" if region is None else region.kind
    return Picture(
        name=rule,
        title=_title(words.thing(board, rule), kind),
        dot="\n".join([*lines, "}", ""]),
        caption=(*_caption(board, row), *explained(board, _expressions(row))),
    )


def drawable(machine: Machine) -> tuple[str, ...]:
    """Give the ids of everything that has a diagram of its own: the rules, then the outputs that keep something."""
    latching = (row.output for row in machine.outputs if row.region is not None)
    return (*machine.board.rules, *latching)


def arrows(machine: Machine, region: Region) -> tuple[Arrow, ...]:
    """Give the arrows of a region: its moves, those that leave every place but the first alike taken together."""
    groups: dict[tuple[object, ...], list[Move]] = {}
    for move in region.moves:
        groups.setdefault((move.target, move.trigger, move.timing, move.words), []).append(move)
    made: list[Arrow] = []
    for moves in groups.values():
        sources = tuple(move.source for move in moves)
        if len(sources) >= _COMPOSITE_FROM and set(sources) == set(region.places[1:]):
            made.append(_arrow(machine, region, moves[0], sources, tuple(moves)))
        else:
            made += [_arrow(machine, region, move, (move.source,), (move,)) for move in moves]
    return tuple(made)


def _arrow(machine: Machine, region: Region, move: Move, sources: tuple[str, ...], moves: tuple[Move, ...]) -> Arrow:
    board = machine.board
    lines: list[str] = []
    if move.trigger is not None:
        lines.append(words.expression(board, move.trigger))
    if move.timing is not None:
        row = machine.timings[move.timing]
        lines.append(words.after(board, row))
        if row.role in {"window", "target"}:
            lines.append(f"[{move.words}]")
    only_power = move.trigger is None and move.timing is None
    if only_power:
        lines.append("power lost" if "power" in move.words else move.words)
    leaving = move.target == region.places[0]
    if leaving and move.trigger is not None:
        lines += [
            f"[once on for {words.timing(board, machine.timings[t])}]"
            for t in region.timings
            if machine.timings[t].role == "at least"
        ]
    if region.kind in {"lockout", "mode", "output", "toggle"} or (region.kind == "sequence" and leaving):
        lines += _effect_line(board, region.rule, not leaving)
    if leaving and move.timing is None and region.kind in _EMPTIED:
        lines.append(_EMPTIED[region.kind])
    return Arrow(sources, move.target, tuple(lines), moves, only_power)


# -- what follows from a thing that begins or ends -------------------------------------------------------------------


def _effect_line(board: model.Board, name: str, begins: bool) -> list[str]:
    effects = sorted(set(_effects(board, name, begins)))
    return [f"/ {', '.join(effects)}"] if effects else []


def _effects(board: model.Board, name: str, begins: bool) -> Iterator[str]:
    for rule in board.rules.values():
        label = words.thing(board, rule.id)
        pairs: list[tuple[ex.Trigger | None, str]]
        match rule:
            case model.Delay():
                pairs = [(rule.begins, f"start {label}")]
            case model.Count():
                pairs = [(rule.counts, f"count in {label}"), (rule.forgets, f"forget {label}")]
            case model.Accumulator():
                pairs = [(rule.resets, f"{label} back to zero")]
            case model.Lockout():
                pairs = [(rule.trips, f"trip {label}"), (rule.clears, f"clear {label}")]
            case model.Mode() | model.Sequence():
                pairs = [(rule.begins, f"begin {label}"), (rule.ends, f"end {label}")]
            case model.Toggle():
                pairs = [(rule.flips, f"change over {label}")]
        yield from (text for trigger, text in pairs if trigger is not None and _is_edge(trigger, name, begins))


def _is_edge(trigger: ex.Trigger, name: str, begins: bool) -> bool:
    """Tell whether the event alone, whatever else holds, is one that the trigger waits for."""
    match trigger:
        case ex.Edge(of=ex.Name(name=of), word=word):
            return of == name and word in ({"begins", "changes"} if begins else {"ends", "changes"})
        case ex.EventOr(items=events):
            return any(_is_edge(item, name, begins) for item in events)
        case ex.TriggerOr(items=mixed):
            return any(_is_edge(item, name, begins) for item in mixed)
    return False


# -- drawing ---------------------------------------------------------------------------------------------------------


def _region(machine: Machine, region: Region) -> list[str]:
    made = arrows(machine, region)
    steps = len(region.places) > 2
    composite = any(len(arrow.sources) > 1 for arrow in made)
    lines = dot.header("TB" if steps else "LR", ranksep=0.4 if steps else 1.0)
    lines += _start(region.kept_without_power, region.places[0])
    names = {place: _place_name(region, place) for place in region.places}
    nodes = {place: _place(machine, region, place, names[place], steps) for place in region.places}
    first = region.places[0]
    lines.append(nodes[first])
    inner = [nodes[place] for place in region.places[1:]]
    outer: list[str] = []
    for arrow in made:
        extra = {"style": "dashed"} if arrow.only_power else {}
        if len(arrow.sources) > 1:
            extra |= {"ltail": "cluster_in"}
        source = arrow.sources[0]
        backwards = region.places.index(arrow.target) < region.places.index(source)
        if first in (source, arrow.target):
            draw = dot.back_arrow if backwards and steps else dot.arrow
            outer.append(draw(source, arrow.target, arrow.lines, extra))
        elif backwards and composite:
            inner += dot.broken_arrow(source, arrow.target, arrow.lines)
        else:
            inner.append(dot.arrow(source, arrow.target, arrow.lines))
    if composite:
        label = dot.quoted(words.thing(machine.board, region.rule))
        lines += ["  subgraph cluster_in {", f"  style=rounded; margin=14; labeljust=r; label={label};", *inner, "  }"]
    else:
        lines += inner
    return lines + outer


def _start(kept: bool, first: str) -> list[str]:
    if kept:
        return [dot.history(_INITIAL), dot.arrow(_INITIAL, first, ["the first time"])]
    return [dot.initial(_INITIAL), dot.arrow(_INITIAL, first, [])]


def _place_name(region: Region, place: str) -> str:
    if region.kind == "count":
        return f"{place} counted" if place != region.places[-1] else f"{place}: reached"
    return words.plain(place)


def _place(machine: Machine, region: Region, place: str, name: str, upright: bool) -> str:
    board = machine.board
    inside: list[str] = []
    on = place != region.places[0]
    if region.kind == "accumulator" and not on:
        rule = board.rules[region.rule]
        assert isinstance(rule, model.Accumulator)
        inside.append(f"do / add up while {words.expression(board, rule.adds_while)}")
    return dot.state(place, name, inside, upright=upright, bold=on and not upright)


def _delay(machine: Machine, delay: DelayRow) -> list[str]:
    board = machine.board
    begins = words.expression(board, delay.begins)
    ends = words.after(board, machine.timings[delay.timing])
    started, over = _effect_line(board, delay.rule, True), _effect_line(board, delay.rule, False)
    again: list[str] = []
    lines = dot.header("LR", ranksep=1.0)
    if isinstance(delay.begins, ex.PowerUp):
        lines += [dot.initial(_INITIAL), dot.state("running", "running", [], bold=True), dot.final(_FINAL)]
        lines += [dot.arrow(_INITIAL, "running", [begins, *started]), dot.arrow("running", _FINAL, [ends, *over])]
        if delay.cut_by is not None:
            lines.append(dot.arrow("running", _FINAL, [words.expression(board, delay.cut_by), *over]))
        return lines
    if not delay.starts_over:
        again = [f"{begins} / run on"]
    lines += _start(delay.kept_without_power, "not running")
    lines += [dot.state("not running", "not running", []), dot.state("running", "running", again, bold=True)]
    lines.append(dot.arrow("not running", "running", [begins, *started]))
    lines.append(dot.arrow("running", "not running", [ends, *over]))
    if delay.cut_by is not None:
        lines.append(dot.arrow("running", "not running", [words.expression(board, delay.cut_by), *over]))
    if delay.starts_over:
        lines.append(dot.arrow("running", "running", [begins, "/ start over"], width=26))
    return lines


def _followed(machine: Machine, output: OutputRow) -> list[str]:
    board = machine.board
    assert output.on is not None
    lines = dot.header("LR", ranksep=1.0)
    lines += _start(False, "off")
    lines += [dot.state("off", "off", []), dot.state("on", "on", [], bold=True)]
    comes, goes = words.holds(board, output.on, True), words.holds(board, output.on, False)
    lines.append(dot.arrow("off", "on", [comes, *_effect_line(board, output.output, True)]))
    lines.append(dot.arrow("on", "off", [goes, *_effect_line(board, output.output, False)]))
    return lines


def explained(board: model.Board, expressions: Iterable[ex.Expression]) -> tuple[str, ...]:
    """Say what each named condition in some expressions stands for, and each named in those, once."""
    lines: dict[str, str] = {}
    waiting = list(expressions)
    while waiting:
        for name, _ in ex.names(waiting.pop(0)):
            row = board.conditions.get(name)
            if row is not None and name not in lines:
                lines[name] = f"“{words.thing(board, name)}”: {words.expression(board, row.is_)}."
                waiting.append(row.is_)
    return tuple(lines.values())


def _expressions(row: model.Rule | model.Output) -> list[ex.Expression]:
    found: list[ex.Expression | None]
    match row:
        case model.Delay():
            found = [row.begins, row.cut_by]
        case model.Lockout():
            found = [row.trips, row.clears]
        case model.Count():
            found = [row.counts, row.forgets]
        case model.Accumulator():
            found = [row.adds_while, row.resets]
        case model.Mode():
            found = [row.begins, row.ends]
        case model.Sequence():
            found = [row.begins, row.ends, *(step.until for step in row.steps)]
        case model.Toggle():
            found = [row.flips]
        case model.Output():
            found = [row.on, row.starts, row.stops]
    return [part for part in found if part is not None]


def _title(name: str, kind: str) -> str:
    """Give the name and the kind, the kind left out where the name says it already."""
    title = name if kind in name.split() else f"{name}: {kind}"
    return title[:1].upper() + title[1:]


def _caption(board: model.Board, row: model.Rule | model.Output) -> Iterator[str]:
    place = [f"rules.{row.id}" if row.id in board.rules else f"outputs.{row.id}"]
    if row.note.clause:
        place.append(f"clause {row.note.clause} of {board.source}" if board.source else f"clause {row.note.clause}")
    if row.at != model.NOWHERE:
        place.append(f"{row.at.file.replace(chr(92), '/').rsplit('/', 1)[-1]} line {row.at.line}")
    yield ", ".join(place)
    if row.note.why:
        yield f"Why: {row.note.why}."
    if not isinstance(row, model.Output) and row.kept_without_power:
        yield "H: kept through a loss of power."

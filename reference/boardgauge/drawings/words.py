"""Say expressions, times, causes and lamp patterns in the words of the trade.

Law of this module: words are for people and are never read back; they say what the spec says and nothing more. A
thing goes by its title, else by the first part of its text, else by its id with blanks for underscores.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import TYPE_CHECKING

from boardgauge.drawings.time_words import UNITS, time_range, unit_of
from boardgauge.language import expressions as ex
from boardgauge.language import model
from boardgauge.language.quantities import Duration
from boardgauge.language.quantity_writer import write_blink, write_number, write_plain_time, write_quantity
from boardgauge.machine.table import Level, Machine, Timing

if TYPE_CHECKING:
    from boardgauge.machine.explore import Step

_LONGEST_NAME = 40
_LEVEL_WORDS = {
    model.InputKind.CALL: ("off", "on"),
    model.InputKind.SIGNAL: ("off", "on"),
    model.InputKind.SWITCH: ("open", "closed"),
    model.InputKind.LINK: ("open", "fitted"),
    model.InputKind.BUTTON: ("released", "pressed"),
}
_CHANGE_WORDS = {
    model.InputKind.CALL: ("ends", "begins"),
    model.InputKind.SIGNAL: ("ends", "begins"),
    model.InputKind.SWITCH: ("opens", "closes"),
    model.InputKind.LINK: ("is taken off", "is fitted"),
    model.InputKind.BUTTON: ("is released", "is pressed"),
}
_OPPOSITES = {"open": "closed", "closed": "open", "on": "off", "off": "on", "fitted": "open"}
_OPPOSITES |= {"pressed": "released", "released": "pressed"}
_RULE_WORDS: dict[type, tuple[str, str]] = {
    model.Delay: ("not running", "running"),
    model.Lockout: ("not tripped", "tripped"),
    model.Mode: ("off", "on"),
    model.Sequence: ("not in progress", "in progress"),
    model.Toggle: ("off", "on"),
    model.Count: ("not reached", "reached"),
    model.Accumulator: ("not full", "full"),
}
_RULE_EDGES: dict[type, tuple[str, str]] = {
    model.Delay: ("ends", "begins"),
    model.Lockout: ("clears", "trips"),
    model.Mode: ("ends", "begins"),
    model.Sequence: ("ends", "begins"),
    model.Toggle: ("goes off", "comes on"),
}


# -- names ---------------------------------------------------------------------------------------------------------


def plain(identifier: str) -> str:
    """Give an id with blanks for its underscores."""
    return identifier.replace("_", " ")


def thing(board: model.Board, name: str) -> str:
    """Give the plain name of an input, setting, condition, rule, step, output, lamp or requirement.

    Examples: ``low-pressure switch`` (from the text of ``lps``), ``restart delay`` (from the id ``restart_delay``).
    """
    row = _row(board, name)
    if row is None:
        return plain(name)
    if row.note.title:
        return row.note.title
    if row.note.text and isinstance(row, (model.Input, model.Output, model.Lamp)):
        short = row.note.text
        for mark in (":", ";", ",", " ("):
            short = short.split(mark, 1)[0]
        if 0 < len(short) <= _LONGEST_NAME:
            return short.strip()
    return plain(name)


def clause(text: str | None) -> str:
    """Give a clause as it is cited in a label, ``§ 2.4``; nothing where there is none."""
    if not text:
        return ""
    return f"§ {text}" if text[0].isdigit() else text


_Row = model.Input | model.Setting | model.NamedCondition | model.Rule | model.Output | model.Lamp | model.Requirement


def _row(board: model.Board, name: str) -> _Row | None:
    tables: tuple[dict[str, _Row], ...] = (
        {**board.inputs},
        {**board.rules},
        {**board.outputs},
        {**board.conditions},
        {**board.settings},
        {**board.lamps},
        {**board.requirements},
    )
    return next((table[name] for table in tables if name in table), None)


# -- times ---------------------------------------------------------------------------------------------------------


def duration(lasts: Duration) -> str:
    """Give a duration with its range, ``45 s (42.9 to 47.1 s)``; ``90 s exactly`` where it has none."""
    if lasts.tolerance is None:
        return write_plain_time(lasts.nominal)
    if lasts.shortest == lasts.longest:
        return f"{write_plain_time(lasts.nominal)} exactly"
    if lasts.span:
        return time_range(lasts.shortest, lasts.longest)
    return f"{write_plain_time(lasts.nominal)} ({time_range(lasts.shortest, lasts.longest)})"


def lasting(board: model.Board, lasts: model.Lasting) -> str:
    """Give the time of a rule, whether written out or chosen by a setting."""
    if isinstance(lasts, Duration):
        return duration(lasts)
    row = board.settings[lasts.setting]
    return _choices([position.is_ for position in row.positions], thing(board, lasts.setting))


def timing(board: model.Board, row: Timing) -> str:
    """Give how long a timing lasts: ``45 s (42.9 to 47.1 s)``, ``3, 5, 8 or 12 min by interval``."""
    if row.setting is None:
        return duration(row.choices[0])
    return _choices(row.choices, thing(board, row.setting))


def after(board: model.Board, row: Timing) -> str:
    """Give a timing as the time event of a diagram, its range in braces: ``after (45 s) {42.9 to 47.1 s}``."""
    lasts = row.choices[0]
    if row.setting is not None:
        return f"after ({_choices(row.choices, thing(board, row.setting))})"
    if lasts.tolerance is None or lasts.shortest == lasts.longest:
        return f"after ({write_plain_time(lasts.nominal)})"
    if lasts.span:
        return f"after ({time_range(lasts.shortest, lasts.longest)})"
    return f"after ({write_plain_time(lasts.nominal)}) {{{time_range(lasts.shortest, lasts.longest)}}}"


def _choices(choices: Sequence[Duration], setting: str) -> str:
    unit = unit_of(max(choice.nominal for choice in choices))
    if all(choice.nominal % (unit // 10) == 0 for choice in choices):
        numbers = [write_number(Fraction(choice.nominal, unit)) for choice in choices]
        return f"{_either(numbers)} {UNITS[unit]} by {setting}"
    return f"{_either([write_plain_time(choice.nominal) for choice in choices])} by {setting}"


def _either(items: Sequence[str]) -> str:
    return items[0] if len(items) == 1 else f"{', '.join(items[:-1])} or {items[-1]}"


# -- conditions ----------------------------------------------------------------------------------------------------


def states(kind: model.InputKind) -> tuple[str, str]:
    """Give the words for the two states of an input, false and true: ``open``, ``closed``. KeyError for a sensor."""
    return _LEVEL_WORDS[kind]


def expression(board: model.Board, node: ex.Expression) -> str:
    """Say a condition or an event: ``low-pressure switch open for 2 s``, ``restart delay over``."""
    match node:
        case ex.PowerUp():
            return "power comes on"
        case ex.Edge(of=of, word=word):
            return _edge(board, of, word)
        case ex.EventOr(items=events):
            return " or ".join(_member(board, item) for item in events)
        case ex.TriggerOr(items=mixed):
            return " or ".join(_member(board, item) for item in mixed)
        case ex.EventWhile(event=event, condition=condition):
            return f"{_member(board, event)} while {_member(board, condition)}"
        case ex.LessThanAfter(event=event, time=limit, after=after):
            return f"{_member(board, event)} less than {write_plain_time(limit.nominal)} after {_member(board, after)}"
    return holds(board, node, True)


def holds(board: model.Board, node: ex.Condition, value: bool) -> str:
    """Say that a condition holds, or that it does not."""
    match node:
        case ex.Not(item=item):
            return holds(board, item, not value)
        case ex.Name(name=name):
            return name_holds(board, name, value)
        case ex.InState(name=name, state=state):
            return f"{thing(board, name)} {state if value else _opposite(board, name, state)}"
        case ex.Reached(name=name):
            return name_holds(board, name, value)
        case ex.Comparison():
            return comparison(board, node, value)
        case ex.And(items=items) | ex.Or(items=items):
            joined = isinstance(node, ex.And) == value
            return (" and " if joined else " or ").join(_part(board, item, value) for item in items)
        case ex.For(condition=condition, lasts=lasts):
            for_time = f"{_part(board, condition)} for {write_plain_time(lasts.nominal)}"
            return for_time if value else f"not ({for_time})"


def name_holds(board: model.Board, name: str, value: bool) -> str:
    """Say that a named thing is on, tripped, running, reached ..., or that it is not."""
    row = _row(board, name)
    label = thing(board, name)
    if isinstance(row, model.Input):
        if row.kind is model.InputKind.SIGNAL and row.note.text:
            return label if value else f"not {label}"
        return f"{label} {_LEVEL_WORDS[row.kind][value]}"
    if isinstance(row, model.Count):
        return f"{plain(name)} {'at' if value else 'below'} {row.limit}"
    if isinstance(row, model.Output):
        return f"{label} {'on' if value else 'off'}"
    if isinstance(row, model.NamedCondition):
        return label if value else f"not {label}"
    if row is not None and type(row) in _RULE_WORDS:
        return f"{label} {_RULE_WORDS[type(row)][value]}"
    return f"in step {label}" if value else f"not in step {label}"


def comparison(board: model.Board, node: ex.Comparison, value: bool) -> str:
    """Say a sensor against its limit, with the limit where it lets go again."""
    other = {"<": ">=", "<=": ">", ">": "<=", ">=": "<"}
    label = thing(board, node.name)
    if node.until is None or node.until_op is None:
        return f"{label} {node.op if value else other[node.op]} {write_quantity(node.limit)}"
    if value:
        return f"{label} {node.op} {write_quantity(node.limit)} (until {node.until_op} {write_quantity(node.until)})"
    return f"{label} {node.until_op} {write_quantity(node.until)} (until {node.op} {write_quantity(node.limit)})"


def _opposite(board: model.Board, name: str, state: str) -> str:
    row = board.inputs.get(name)
    if state == "open" and row is not None and row.kind is model.InputKind.LINK:
        return "fitted"
    return _OPPOSITES[state]


def _part(board: model.Board, node: ex.Condition, value: bool = True) -> str:
    """Say a part of a longer condition, in brackets where it would be read two ways."""
    text = holds(board, node, value)
    return f"({text})" if isinstance(node, (ex.And, ex.Or)) or (isinstance(node, ex.For) and value) else text


def _member(board: model.Board, node: ex.Expression) -> str:
    """Say a part of a longer trigger."""
    text = expression(board, node)
    longer = (ex.And, ex.Or, ex.For, ex.EventOr, ex.EventWhile, ex.LessThanAfter)
    return f"({text})" if isinstance(node, longer) else text


def _edge(board: model.Board, of: ex.Condition, word: str) -> str:
    if not isinstance(of, (ex.Name, ex.Reached)):
        inner = holds(board, of, True)
        return {"begins": f"({inner}) begins", "ends": f"({inner}) ends"}.get(word, f"({inner}) {word}")
    row = _row(board, of.name)
    label = thing(board, of.name)
    if word == "expires":
        return f"{label} over"
    if word == "changes":
        return f"{label} changes"
    begins = word in {"begins", "closes"}
    if isinstance(row, model.Input):
        return f"{label} {_CHANGE_WORDS[row.kind][begins]}"
    if isinstance(row, model.Output):
        return f"{label} {'comes on' if begins else 'goes off'}"
    if row is not None and type(row) in _RULE_EDGES:
        return f"{label} {_RULE_EDGES[type(row)][begins]}"
    return f"{label} {'begins' if begins else 'ends'}"


# -- causes --------------------------------------------------------------------------------------------------------


def level(board: model.Board, row: Level, value: bool) -> str:
    """Say how an input stands: ``high-pressure switch open``."""
    if row.comparison is not None:
        return comparison(board, row.comparison, value)
    return name_holds(board, row.input, value)


def level_change(board: model.Board, row: Level, value: bool) -> str:
    """Say what an input does: ``high-pressure switch opens``, ``compressor call ends``."""
    if row.comparison is not None:
        return comparison(board, row.comparison, value)
    source = board.inputs[row.input]
    return f"{thing(board, row.input)} {_CHANGE_WORDS[source.kind][value]}"


def timing_end(board: model.Board, row: Timing) -> str:
    """Say that a timing is over, and when: ``restart delay over, 42.9 to 47.1 s``."""
    if row.role == "for" and isinstance(row.condition, ex.For):
        return holds(board, row.condition, True)
    span = (
        timing(board, row) if row.setting is not None else time_range(row.choices[0].shortest, row.choices[0].longest)
    )
    match row.role:
        case "target":
            return f"{thing(board, row.owner)} full, {span}"
        case "window":
            return f"oldest of {plain(row.owner)} too old, {span}"
        case "at least":
            return f"{thing(board, row.owner)} has lasted its least, {span}"
        case "at most":
            return f"{thing(board, row.owner)} has lasted its most, {span}"
        case "step":
            return f"{plain(row.name)} over, {span}"
    return f"{thing(board, row.owner)} over, {span}"


def step(machine: Machine, taken: Step) -> str:
    """Say a step of the exploration: ``restart delay over, 42.9 to 47.1 s and compressor call ends``."""
    board = machine.board
    if taken.power is not None:
        if not taken.power:
            return "power lost"
        rest = {row.index: row.at_rest for row in machine.levels}
        differs = [level(board, machine.levels[i], value) for i, value in taken.levels if value != rest[i]]
        return f"power comes on with {', '.join(differs)}" if differs else "power comes on"
    parts = [timing_end(board, machine.timings[index]) for index in taken.expired]
    parts += [level_change(board, machine.levels[index], value) for index, value in taken.levels]
    for region in taken.dropped:
        parts += [timing_end(board, machine.timings[index]) for index in machine.regions[region].timings]
    return " and ".join(parts)


def scenario(machine: Machine, steps: Sequence[Step]) -> tuple[str, ...]:
    """Say a way through the exploration, one line a step, from a board without power."""
    return tuple(step(machine, taken) for taken in steps)


# -- lamps ---------------------------------------------------------------------------------------------------------


def pattern(shows: model.Pattern) -> str:
    """Say what a lamp shows: ``steady``, ``dark``, ``1 s lit, 1 s dark``, ``3 flashes``."""
    match shows:
        case model.Steady():
            return "steady"
        case model.Dark():
            return "dark"
        case model.Blink():
            return write_blink(shows)
        case model.Flashes(number=number):
            return "1 flash" if number == 1 else f"{number} flashes"


def lamp_line(board: model.Board, lamp: str, line: int) -> str:
    """Say what a line of a lamp's table tells: its ``means``, else its condition in words."""
    row = board.lamps[lamp].lines[line]
    if row.means:
        return row.means
    return "otherwise" if row.when is None else holds(board, row.when, True)

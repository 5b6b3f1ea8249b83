"""What the names of a spec stand for.

Law of this module: one name, one thing. Inputs, settings, conditions, rules, steps, outputs and lamps share their
names, since an
expression can mention them; requirements and speed-ups are mentioned by nobody and have names of their own.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from attrs import frozen

from boardgauge.language.expressions import Expression
from boardgauge.language.model import (
    Accumulator,
    Always,
    Board,
    Count,
    Delay,
    Follows,
    InputKind,
    Lasting,
    Lockout,
    Mode,
    Never,
    Rule,
    Sequence,
    Spot,
    Toggle,
)

INPUT_KINDS = ("call", "signal", "switch", "link", "button", "sensor")

STATES: dict[str, tuple[str, ...]] = {
    "call": ("on", "off"),
    "signal": ("on", "off"),
    "button": ("pressed", "released"),
    "switch": ("open", "closed"),
    "link": ("fitted", "open"),
}
"""The words for the states of each kind of input; a sensor has comparisons instead."""

ON_WORDS = frozenset(("on", "closed", "fitted", "pressed"))
"""The words for an input that is on; the other word of its kind is off."""


def word_of(kind: InputKind, on: bool) -> str:
    """Give the word of a kind of input, other than a sensor, for on or for off."""
    return next(word for word in STATES[kind.value] if (word in ON_WORDS) is on)


BARE = frozenset(("call", "signal", "condition", "delay", "lockout", "mode", "sequence", "toggle", "step", "output"))
"""The kinds whose bare name is a condition: the thing is on."""

WITH_EDGES = BARE | {"button"}
"""The kinds whose name can be followed by begins, ends, changes; a button begins when it is pressed."""

_KIND_OF_SECTION = {
    "settings": "setting",
    "conditions": "condition",
    "outputs": "output",
    "lamps": "lamp",
    "requirements": "requirement",
    "speed_ups": "speed-up",
    "steps": "step",
}


@frozen
class Declared:
    """A name that a spec declares, whether or not its table could be read. ``kind`` is None where it is not known."""

    name: str
    section: str
    key: str
    at: Spot
    kind: str | None = None
    own_time: bool | None = None

    @property
    def shared(self) -> bool:
        """Tell whether an expression could mention it."""
        return self.section not in ("requirements", "speed_ups")


def kind_of_section(section: str) -> str | None:
    """Give the kind of all things of a section, where they are of one kind."""
    return _KIND_OF_SECTION.get(section)


def kind_of_rule(rule: Rule) -> str:
    """Give the kind of a rule, as ``kind`` states it."""
    return type(rule).__name__.lower()


def _has_own_time(rule: Rule) -> bool:
    match rule:
        case Delay():
            return True
        case Lockout(lasts=lasts):
            return lasts is not None
        case Mode(at_most=at_most):
            return at_most is not None
    return False


def declared_by(board: Board) -> Iterator[Declared]:
    """Give every name of a board."""
    for id_, item in board.inputs.items():
        yield Declared(id_, "inputs", f"inputs.{id_}", item.at, item.kind.value)
    for section in ("settings", "conditions", "outputs", "lamps", "requirements", "speed_ups"):
        for id_, thing in getattr(board, section).items():
            yield Declared(id_, section, f"{section}.{id_}", thing.at, kind_of_section(section))
    for id_, rule in board.rules.items():
        yield Declared(id_, "rules", f"rules.{id_}", rule.at, kind_of_rule(rule), _has_own_time(rule))
        if isinstance(rule, Sequence):
            for index, step in enumerate(rule.steps):
                key = f"rules.{id_}.steps[{index + 1}]"
                yield Declared(step.name, "steps", key, rule.at, "step", step.lasts is not None)


def scope_of(board: Board, declared: Iterable[Declared] = ()) -> dict[str, Declared]:
    """Give what each name stands for: what the board has, and what was declared beside it but could not be read."""
    scope = {item.name: item for item in declared if item.shared}
    scope.update((item.name, item) for item in declared_by(board) if item.shared)
    return scope


def expressions_of(board: Board) -> Iterator[tuple[str, Expression]]:
    """Give every expression of a board with its dotted key, ``rules.burner.steps[2].until``."""
    for key, expression in _all_expressions(board):
        if expression is not None:
            yield key, expression


def _all_expressions(board: Board) -> Iterator[tuple[str, Expression | None]]:
    for id_, setting in board.settings.items():
        for index, position in enumerate(setting.positions):
            yield f"settings.{id_}.positions[{index + 1}].when", position.when
    for id_, condition in board.conditions.items():
        yield f"conditions.{id_}.is", condition.is_
    for id_, rule in board.rules.items():
        for name, expression in rule_expressions(rule).items():
            yield f"rules.{id_}.{name}", expression
    for id_, output in board.outputs.items():
        for name in ("on", "starts", "stops"):
            yield f"outputs.{id_}.{name}", getattr(output, name)
    for id_, lamp in board.lamps.items():
        for index, line in enumerate(lamp.lines):
            yield f"lamps.{id_}.lines[{index + 1}].when", line.when
    for id_, requirement in board.requirements.items():
        key = f"requirements.{id_}"
        match requirement.demand:
            case Never(what=forbidden):
                yield f"{key}.never", forbidden
            case Always(what=demanded):
                yield f"{key}.always", demanded
            case Follows(after=first, then=then):
                yield f"{key}.after", first
                yield f"{key}.then", then
            case together:
                yield f"{key}.after", together.after
        yield f"{key}.except_while", requirement.except_while
    for id_, speed_up in board.speed_ups.items():
        yield f"speed_ups.{id_}.while", speed_up.while_
    for index, stretch in enumerate(board.not_judged):
        yield f"not_judged[{index + 1}].after", stretch.after


def rule_expressions(rule: Rule) -> Mapping[str, Expression | None]:
    """Give the expressions of a rule by their keys; those of steps by ``steps[1].until``."""
    match rule:
        case Delay():
            return {"begins": rule.begins, "cut_by": rule.cut_by}
        case Lockout():
            return {"trips": rule.trips, "clears": rule.clears}
        case Count():
            return {"counts": rule.counts, "forgets": rule.forgets}
        case Accumulator():
            return {"adds_while": rule.adds_while, "resets": rule.resets}
        case Mode():
            return {"begins": rule.begins, "ends": rule.ends}
        case Sequence():
            untils = {f"steps[{index + 1}].until": step.until for index, step in enumerate(rule.steps)}
            return {"begins": rule.begins, "ends": rule.ends, **untils}
        case Toggle():
            return {"flips": rule.flips}


def rule_times(rule: Rule) -> Mapping[str, Lasting | None]:
    """Give the times a rule has of its own, by their keys; a speed-up scales these and no others."""
    match rule:
        case Delay() | Lockout():
            return {"lasts": rule.lasts}
        case Count():
            return {"within": rule.within}
        case Accumulator():
            return {"target": rule.target}
        case Mode():
            return {"at_least": rule.at_least, "at_most": rule.at_most}
        case Sequence():
            return {f"steps[{index + 1}].lasts": step.lasts for index, step in enumerate(rule.steps)}
        case Toggle():
            return {}

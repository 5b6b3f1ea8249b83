"""Whether a trigger can happen at all, time left out.

Law of this module: "never" is certain, "can" is not. It builds on ``propositions``, so what has a memory counts as
free.
"""

from __future__ import annotations

from boardgauge.language.expressions import (
    And,
    Condition,
    Edge,
    Event,
    EventOr,
    EventWhile,
    InState,
    LessThanAfter,
    Name,
    Not,
    PowerUp,
    Trigger,
    TriggerOr,
)
from boardgauge.language.propositions import Propositions


def can_happen(trigger: Trigger, propositions: Propositions) -> bool | None:
    """Tell whether a trigger can ever hold; None where there are too many combinations to try."""
    match trigger:
        case TriggerOr(items=mixed):
            return _any(can_happen(item, propositions) for item in mixed)
        case PowerUp() | Edge() | EventOr() | EventWhile() | LessThanAfter():
            return _event(trigger, propositions, ())
        case condition:
            return propositions.can_hold(condition)


def _any(answers: object) -> bool | None:
    known = list(answers)  # type: ignore[call-overload]
    return True if True in known else None if None in known else False


def _event(event: Event, propositions: Propositions, beside: tuple[Condition, ...]) -> bool | None:
    match event:
        case EventOr(items=items):
            return _any(_event(item, propositions, beside) for item in items)
        case EventWhile(event=inner, condition=condition):
            return _event(inner, propositions, (*beside, condition))
        case LessThanAfter(event=inner):
            return _event(inner, propositions, beside)
        case Edge():
            return _edge(event, propositions, beside)
        case PowerUp():
            return propositions.can_hold(*beside) if beside else True


def _edge(edge: Edge, propositions: Propositions, beside: tuple[Condition, ...]) -> bool | None:
    """An edge needs what it is of to hold on one side of it and not on the other."""
    of = edge.of
    if edge.word == "expires":
        return propositions.can_hold(*beside) if beside else True
    if edge.word in ("opens", "closes") and isinstance(of, Name):
        known = propositions.board.inputs.get(of.name)
        closed = "fitted" if known is not None and known.kind.value == "link" else "closed"
        after: tuple[Condition, ...] = (InState(of.name, "open" if edge.word == "opens" else closed),)  # type: ignore[arg-type]
        return propositions.can_hold(*after, *beside)
    sides = {"begins": (Not(of), of), "ends": (of, Not(of)), "changes": (of, Not(of))}[edge.word]
    before_can = propositions.can_hold(sides[0])
    if edge.word == "changes":
        return _both(before_can, propositions.can_hold(sides[1]))
    return _both(before_can, propositions.can_hold(And((sides[1], *beside)) if beside else sides[1]))


def _both(first: bool | None, second: bool | None) -> bool | None:
    return False if False in (first, second) else None if None in (first, second) else True

"""Put constants into expressions, and fold them away.

Law of this module: folding changes no meaning. The language has no word for "always so", and a faulty board needs one:
it is ``NEVER``. What is left of it after folding, ``editing.declared`` says in the language.
"""

from __future__ import annotations

from collections.abc import Callable

from boardgauge.language.expressions import (
    And,
    Condition,
    Edge,
    Event,
    EventOr,
    EventWhile,
    Expression,
    For,
    LessThanAfter,
    Name,
    Not,
    Or,
    Trigger,
    TriggerOr,
    is_event,
    walk,
)

NEVER = Name("(never)")
"""A condition that never holds. No spec can have a name like that."""
ALWAYS = Not(NEVER)
NO_EVENT = Edge(NEVER, "begins")
"""An event that never happens."""


def constant(value: bool) -> Condition:
    """Give the condition that always, or never, holds."""
    return ALWAYS if value else NEVER


def mentions_never(expression: Expression) -> bool:
    """Tell whether a constant is left in an expression."""
    return any(node == NEVER for node in walk(expression))


def replaced(expression: Expression, change: Callable[[Expression], Expression | None]) -> Expression:
    """Give the expression with every part for which ``change`` gives another put in its place, outermost first."""
    new = change(expression)
    if new is not None:
        return new
    match expression:
        case Not(item=item):
            return Not(_condition(replaced(item, change)))
        case And(items=items):
            return And(tuple(_condition(replaced(i, change)) for i in items))
        case Or(items=items):
            return Or(tuple(_condition(replaced(i, change)) for i in items))
        case For(condition=inner, lasts=lasts):
            return For(_condition(replaced(inner, change)), lasts)
        case Edge(of=of, word=word):
            return Edge(_condition(replaced(of, change)), word)
        case EventOr(items=events):
            return EventOr(tuple(_event(replaced(i, change)) for i in events))
        case EventWhile(event=event, condition=condition):
            return EventWhile(_event(replaced(event, change)), _condition(replaced(condition, change)))
        case LessThanAfter(event=event, time=time, after=after):
            return LessThanAfter(_event(replaced(event, change)), time, _event(replaced(after, change)))
        case TriggerOr(items=mixed):
            return TriggerOr(tuple(_part(replaced(i, change)) for i in mixed))
    return expression


def _condition(expression: Expression) -> Condition:
    assert not is_event(expression)
    return expression  # type: ignore[return-value]  # what is no event and stands in a condition is one


def _event(expression: Expression) -> Event:
    assert is_event(expression)
    return expression  # type: ignore[return-value]


def _part(expression: Expression) -> Condition | Event:
    return expression  # type: ignore[return-value]  # a trigger is never inside another


def folded(expression: Expression) -> Trigger:
    """Give the expression with its constants worked out, and brackets that say nothing left out."""
    match expression:
        case Not(item=item):
            inner = _fold(item)
            return inner.item if isinstance(inner, Not) else Not(inner)
        case And(items=items):
            return _joined([_fold(i) for i in items], And)
        case Or(items=items):
            return _joined([_fold(i) for i in items], Or)
        case For(condition=condition, lasts=lasts):
            held = _fold(condition)
            return NEVER if held == NEVER else For(held, lasts)
        case Edge(of=of, word=word):
            inner = _fold(of)
            return NO_EVENT if inner in (NEVER, ALWAYS) else Edge(inner, word)
        case EventOr(items=events):
            left = list(dict.fromkeys(e for e in (_fold_event(i) for i in events) if e != NO_EVENT))
            return NO_EVENT if not left else left[0] if len(left) == 1 else EventOr(tuple(left))
        case EventWhile(event=event, condition=condition):
            happens, while_ = _fold_event(event), _fold(condition)
            if happens == NO_EVENT or while_ == NEVER:
                return NO_EVENT
            return happens if while_ == ALWAYS else EventWhile(happens, while_)
        case TriggerOr(items=mixed):
            return _mixed([folded(i) for i in mixed])
    return expression


def _fold(condition: Condition) -> Condition:
    return _condition(folded(condition))


def _fold_event(event: Event) -> Event:
    return _event(folded(event))


def _joined(items: list[Condition], kind: type[And] | type[Or]) -> Condition:
    nothing, all_ = (ALWAYS, NEVER) if kind is And else (NEVER, ALWAYS)
    flat: list[Condition] = []
    for item in items:
        flat += item.items if isinstance(item, kind) else (item,)
    if all_ in flat:
        return all_
    left = list(dict.fromkeys(item for item in flat if item != nothing))
    if not left:
        return nothing
    return left[0] if len(left) == 1 else kind(tuple(left))


def _mixed(items: list[Trigger]) -> Trigger:
    flat: list[Condition | Event] = []
    for item in items:
        if isinstance(item, (TriggerOr, EventOr, Or)):
            flat += item.items
        elif item not in (NEVER, NO_EVENT):
            flat.append(item)
    if ALWAYS in flat:
        return ALWAYS
    flat = list(dict.fromkeys(flat))
    if not flat:
        return NEVER
    if len(flat) == 1:
        return flat[0]
    events = [item for item in flat if is_event(item)]
    if len(events) == len(flat):
        return EventOr(tuple(_event(item) for item in flat))
    return TriggerOr(tuple(flat)) if events else Or(tuple(_condition(item) for item in flat))

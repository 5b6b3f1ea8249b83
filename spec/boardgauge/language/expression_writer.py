"""Expressions to text.

Law of this module: reading what was written gives an equal expression. Brackets stand where the grammar asks for
them and nowhere else.
"""

from __future__ import annotations

from boardgauge.language.expressions import (
    And,
    Comparison,
    Condition,
    Edge,
    Event,
    EventOr,
    EventWhile,
    Expression,
    For,
    InState,
    LessThanAfter,
    Name,
    Not,
    Or,
    PowerUp,
    Reached,
    TriggerOr,
)
from boardgauge.language.quantities import Tolerance
from boardgauge.language.quantity_writer import write_plain_time, write_quantity, write_time


def write_expression(expression: Expression, usual: Tolerance | None = None) -> str:
    """Write an expression; times whose tolerance is ``usual`` are written without it."""
    match expression:
        case Name(name=name):
            return name
        case InState(name=name, state=state):
            return f"{name} {state}"
        case Reached(name=name):
            return f"{name} reached"
        case Comparison(name=name, op=op, limit=limit, until_op=until_op, until=until):
            text = f"{name} {op} {write_quantity(limit)}"
            return text if until is None else f"{text} until {until_op} {write_quantity(until)}"
        case Not(item=item):
            return f"not {_single(item, usual)}"
        case And(items=items):
            return " and ".join(_item(item, usual) for item in items)
        case Or(items=items) | EventOr(items=items) | TriggerOr(items=items):
            return " or ".join(_item(item, usual) for item in items)
        case For(condition=condition, lasts=lasts):
            return f"{_item(condition, usual)} for {write_time(lasts, usual)}"
        case PowerUp():
            return "power_up"
        case Edge(of=of, word=word):
            of_text = write_expression(of, usual)
            return f"{of_text} {word}" if isinstance(of, Name) else f"({of_text}) {word}"
        case EventWhile(event=event, condition=condition):
            return f"{_item(event, usual)} while {_item(condition, usual)}"
        case LessThanAfter(event=event, time=time, after=after):
            return f"{_item(event, usual)} less than {write_plain_time(time.nominal)} after {_item(after, usual)}"


def _item(item: Condition | Event, usual: Tolerance | None) -> str:
    """Write a part of a longer expression, in brackets unless it is a single word, state, edge or negation."""
    text = write_expression(item, usual)
    return f"({text})" if isinstance(item, (And, Or, For, EventOr, EventWhile, LessThanAfter)) else text


def _single(item: Condition, usual: Tolerance | None) -> str:
    text = write_expression(item, usual)
    return f"({text})" if isinstance(item, (And, Or, For, Not)) else text

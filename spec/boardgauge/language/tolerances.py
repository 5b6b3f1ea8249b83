"""Putting the tolerance that applies by itself into an expression's times.

Law of this module: every ``for`` of an expression that comes out has a tolerance, and nothing else is changed.
"""

from __future__ import annotations

from typing import TypeVar, cast

import attrs

from boardgauge.language.expressions import (
    And,
    Edge,
    EventOr,
    EventWhile,
    Expression,
    For,
    LessThanAfter,
    Not,
    Or,
    TriggerOr,
)
from boardgauge.language.quantities import Tolerance

E = TypeVar("E", bound=Expression)


class MissingTolerance(ValueError):
    """A time states no tolerance and none applies by itself. ``at`` is its offset in the text."""

    def __init__(self, at: int) -> None:
        super().__init__("a time has no tolerance")
        self.at = at


def filled(expression: E, usual: Tolerance | None) -> E:
    """Give the expression with ``usual`` as the tolerance of each time that states none. Raises MissingTolerance."""
    return cast(E, _filled(expression, usual))


def _filled(expression: Expression, usual: Tolerance | None) -> Expression:
    match expression:
        case For(condition=condition, lasts=lasts):
            if lasts.tolerance is None:
                if usual is None:
                    raise MissingTolerance(expression.at)
                lasts = attrs.evolve(lasts, tolerance=usual)
            return attrs.evolve(expression, condition=filled(condition, usual), lasts=lasts)
        case Not(item=item):
            return attrs.evolve(expression, item=filled(item, usual))
        case And(items=conditions) | Or(items=conditions):
            return attrs.evolve(expression, items=tuple(filled(item, usual) for item in conditions))
        case EventOr(items=events):
            return attrs.evolve(expression, items=tuple(filled(item, usual) for item in events))
        case TriggerOr(items=mixed):
            return attrs.evolve(expression, items=tuple(filled(item, usual) for item in mixed))
        case Edge(of=of):
            return attrs.evolve(expression, of=filled(of, usual))
        case EventWhile(event=event, condition=condition):
            return attrs.evolve(expression, event=filled(event, usual), condition=filled(condition, usual))
        case LessThanAfter(event=event, after=after):
            return attrs.evolve(expression, event=filled(event, usual), after=filled(after, usual))
    return expression

"""The expressions of a board spec, as values.

Law of this module: a node is what was written, nothing more. It knows no board, so it cannot say whether a
name exists; ``language.checks`` does that. Two nodes are equal when they mean the same text, wherever it stood:
the ``at`` of a node (the character offset in its text, for error messages) never counts in a comparison.

``condition`` = holds for a stretch of time; ``event`` = happens at a moment; ``trigger`` = either.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

from attrs import field, frozen

from boardgauge.language.quantities import Duration, Quantity

State = Literal["on", "off", "open", "closed", "fitted", "pressed", "released"]
EdgeWord = Literal["begins", "ends", "changes", "opens", "closes", "expires"]
Comparator = Literal["<", "<=", ">", ">="]


def _at() -> int:
    value: int = field(default=0, eq=False, order=False, kw_only=True, repr=False)
    return value


@frozen
class Name:
    """A bare name: true while the thing it names is on (a call, a rule, a step, an output, a condition)."""

    name: str
    at: int = _at()


@frozen
class InState:
    """``lps open``: an input is in a state, in the words of its kind."""

    name: str
    state: State
    at: int = _at()


@frozen
class Reached:
    """``trips reached``: a count is at its limit, or an accumulator at its target."""

    name: str
    at: int = _at()


@frozen
class Comparison:
    """``coil < -2 °C until > 0 °C``: a sensor against a limit, with the limit where it lets go again."""

    name: str
    op: Comparator
    limit: Quantity
    until_op: Comparator | None = None
    until: Quantity | None = None
    at: int = _at()


@frozen
class Not:
    item: Condition
    at: int = _at()


@frozen
class And:
    items: tuple[Condition, ...]
    at: int = _at()


@frozen
class Or:
    items: tuple[Condition, ...]
    at: int = _at()


@frozen
class For:
    """``C for T``: C has held without a break for T, and still holds."""

    condition: Condition
    lasts: Duration
    at: int = _at()


Condition = Name | InState | Reached | Comparison | Not | And | Or | For


@frozen
class PowerUp:
    """The moment the supply comes on."""

    at: int = _at()


@frozen
class Edge:
    """``X begins``, ``(any condition) ends``, ``lps opens``, ``delay expires``."""

    of: Condition
    word: EdgeWord
    at: int = _at()


@frozen
class EventOr:
    items: tuple[Event, ...]
    at: int = _at()


@frozen
class EventWhile:
    """``E while C``: E happens, and C holds in the picture in which it does."""

    event: Event
    condition: Condition
    at: int = _at()


@frozen
class LessThanAfter:
    """``E less than T after F``; allowed in requirements only."""

    event: Event
    time: Duration
    after: Event
    at: int = _at()


Event = PowerUp | Edge | EventOr | EventWhile | LessThanAfter


@frozen
class TriggerOr:
    """Events and conditions joined by ``or``: the one place where they may meet."""

    items: tuple[Condition | Event, ...]
    at: int = _at()


Trigger = Condition | Event | TriggerOr

Expression = Trigger


def is_event(expression: Expression) -> bool:
    """Tell whether the expression is an event (a moment) and not a condition or a mixture."""
    return isinstance(expression, (PowerUp, Edge, EventOr, EventWhile, LessThanAfter))


def parts(expression: Expression) -> tuple[Expression, ...]:
    """Give the expressions directly inside this one, in the order in which they were written."""
    match expression:
        case Not(item=item):
            return (item,)
        case And(items=items) | Or(items=items):
            return items
        case EventOr(items=events):
            return events
        case TriggerOr(items=mixed):
            return mixed
        case For(condition=condition):
            return (condition,)
        case Edge(of=of):
            return (of,)
        case EventWhile(event=event, condition=condition):
            return (event, condition)
        case LessThanAfter(event=event, after=after):
            return (event, after)
    return ()


def walk(expression: Expression) -> Iterator[Expression]:
    """Give the expression and everything inside it, outermost first."""
    yield expression
    for part in parts(expression):
        yield from walk(part)


def names(expression: Expression) -> Iterator[tuple[str, int]]:
    """Give every name the expression mentions, with its offset in the text."""
    for node in walk(expression):
        if isinstance(node, (Name, InState, Reached, Comparison)):
            yield node.name, node.at

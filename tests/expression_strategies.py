"""Hypothesis strategies for expressions, times and tolerances, over the words that a board has.

``Vocabulary`` is what an expression may mention: a board that is drawn grows it table by table.
"""

from __future__ import annotations

from collections.abc import Callable
from collections.abc import Sequence as Sequence_
from fractions import Fraction
from typing import Any, TypeVar

from attrs import define, field
from hypothesis import strategies as st

from boardgauge.language.expressions import (
    And,
    Comparator,
    Comparison,
    Condition,
    Edge,
    EdgeWord,
    Event,
    EventOr,
    EventWhile,
    For,
    InState,
    LessThanAfter,
    Name,
    Not,
    Or,
    PowerUp,
    Reached,
    Trigger,
    TriggerOr,
)
from boardgauge.language.model import (
    Accumulator,
    Count,
    Delay,
    Input,
    Lockout,
    Mode,
    Rule,
    Sequence,
)
from boardgauge.language.quantities import EXACTLY, MS, Duration, Quantity, S, Tolerance
from boardgauge.language.quantity_reader import span
from boardgauge.language.scope import STATES

SENSOR_UNITS = ("°C", "%", "kPa")

T = TypeVar("T")


@define
class Vocabulary:
    """What an expression may mention."""

    on_off: list[str] = field(factory=list)
    states: list[InState] = field(factory=list)
    reached: list[str] = field(factory=list)
    sensors: list[tuple[str, str]] = field(factory=list)
    opening: list[str] = field(factory=list)
    pressed: list[str] = field(factory=list)
    expiring: list[str] = field(factory=list)
    usual: Tolerance | None = None

    def copy(self) -> Vocabulary:
        """Give a vocabulary that can grow by itself."""
        return Vocabulary(
            list(self.on_off),
            list(self.states),
            list(self.reached),
            list(self.sensors),
            list(self.opening),
            list(self.pressed),
            list(self.expiring),
            self.usual,
        )

    def add_input(self, item: Input) -> None:
        """Let expressions mention an input."""
        kind = item.kind.value
        self.states += [InState(item.id, state) for state in STATES.get(kind, ())]  # type: ignore[arg-type]
        if kind in ("call", "signal"):
            self.on_off.append(item.id)
        elif kind == "sensor":
            self.sensors.append((item.id, str(item.unit)))
        elif kind == "button":
            self.pressed.append(item.id)
        else:
            self.opening.append(item.id)

    def add_rule(self, rule: Rule) -> None:
        """Let expressions mention a rule and its steps."""
        if isinstance(rule, (Count, Accumulator)):
            self.reached.append(rule.id)
            return
        self.on_off.append(rule.id)
        match rule:
            case Delay():
                self.expiring.append(rule.id)
            case Lockout(lasts=lasts) if lasts is not None:
                self.expiring.append(rule.id)
            case Mode(at_most=at_most) if at_most is not None:
                self.expiring.append(rule.id)
            case Sequence(steps=steps):
                self.on_off += [step.name for step in steps]
                self.expiring += [step.name for step in steps if step.lasts is not None]


def pick(draw: st.DrawFn, choices: Sequence_[T]) -> T:
    """Draw one of some choices; far cheaper than a strategy of its own for each list."""
    return choices[draw(st.integers(0, len(choices) - 1))]


def maybe(draw: st.DrawFn, make: Callable[[], T]) -> T | None:
    """Draw nothing, or what ``make`` draws."""
    return make() if draw(st.booleans()) else None


def a_time(draw: st.DrawFn) -> int:
    """Draw a time in microseconds."""
    number = draw(st.integers(1, 120))
    return number * pick(draw, (S, S, MS, 1, 250 * MS))


def a_tolerance(draw: st.DrawFn) -> Tolerance:
    """Draw a tolerance that the language can say."""
    time, percent = draw(st.integers(1, 900)) * MS, Fraction(draw(st.integers(1, 400)), 1000)
    return pick(
        draw,
        (
            EXACTLY,
            Tolerance(percent, percent),
            Tolerance(less=time, more=time),
            Tolerance(percent, percent, time, time),
            Tolerance(percent_less=percent, more=time),
            Tolerance(percent_more=percent, less=time),
        ),
    )


def a_duration(draw: st.DrawFn, usual: Tolerance | None) -> Duration:
    """Draw a time with a tolerance; that of the board now and then."""
    form = draw(st.integers(0, 4))
    if form == 0:
        first, second = a_time(draw), a_time(draw)
        return span(min(first, second), max(first, second))
    return Duration(a_time(draw), usual if usual is not None and form < 3 else a_tolerance(draw))


def a_comparison(draw: st.DrawFn, sensor: tuple[str, str]) -> Comparison:
    """Draw a comparison of a sensor, with the limit where it lets go now and then."""
    name, unit = sensor
    rising, wide = draw(st.booleans()), draw(st.booleans())
    limit = Fraction(draw(st.integers(-500, 500)), 10)
    op: Comparator = pick(draw, (">", ">=") if rising else ("<", "<="))
    if not wide:
        return Comparison(name, op, Quantity(limit, unit))
    gap = Fraction(draw(st.integers(1, 50)), 10)
    until_op: Comparator = pick(draw, ("<", "<=") if rising else (">", ">="))
    return Comparison(name, op, Quantity(limit, unit), until_op, Quantity(limit - gap if rising else limit + gap, unit))


def a_leaf(draw: st.DrawFn, words: Vocabulary) -> Condition:
    """Draw a condition of one word or two."""
    pools: list[list[Any]] = [pool for pool in (words.on_off, words.states, words.reached, words.sensors) if pool]
    pool = pick(draw, pools)
    chosen = pick(draw, pool)
    if pool is words.on_off:
        return Name(chosen)
    if pool is words.reached:
        return Reached(chosen)
    return chosen if isinstance(chosen, InState) else a_comparison(draw, chosen)


def a_condition(draw: st.DrawFn, words: Vocabulary, depth: int = 2) -> Condition:
    """Draw a condition of one to some six words."""
    form = draw(st.integers(0, 6)) if depth else 0
    if form < 3:
        return a_leaf(draw, words)
    inner = a_condition(draw, words, depth - 1)
    if form == 3:
        return Not(inner)
    if form == 4:
        return For(inner, a_duration(draw, words.usual))
    items = (inner, *(a_condition(draw, words, depth - 1) for _ in range(draw(st.integers(1, 2)))))
    return And(items) if form == 5 else Or(items)


def an_edge(draw: st.DrawFn, words: Vocabulary) -> Event:
    """Draw an edge, or ``power_up``."""
    pools: list[tuple[list[str], tuple[EdgeWord, ...]]] = [
        (words.on_off, ("begins", "ends", "changes")),
        (words.opening, ("opens", "closes")),
        (words.pressed, ("begins",)),
        (words.expiring, ("expires",)),
    ]
    full = [(pool, edge_words) for pool, edge_words in pools if pool]
    form = draw(st.integers(0, len(full) + 1))
    if form == 0:
        return PowerUp()
    if form <= len(full):
        pool, edge_words = full[form - 1]
        return Edge(Name(pick(draw, pool)), pick(draw, edge_words))
    of = a_condition(draw, words, 1)
    bare = isinstance(of, Name) and of.name not in words.on_off
    return PowerUp() if bare else Edge(of, pick(draw, ("begins", "ends", "changes")))


def an_event(draw: st.DrawFn, words: Vocabulary, *, in_requirement: bool = False) -> Event:
    """Draw an event: edges, several joined by ``or``, with ``while``, and in requirements ``less than ... after``."""
    edge, form = an_edge(draw, words), draw(st.integers(0, 5))
    if form == 3:
        return EventOr((edge, an_edge(draw, words)))
    if form == 4:
        return EventWhile(edge, a_condition(draw, words, 1))
    if form == 5 and in_requirement:
        return LessThanAfter(edge, Duration(a_time(draw), EXACTLY), an_edge(draw, words))
    return edge


def a_trigger(draw: st.DrawFn, words: Vocabulary) -> Trigger:
    """Draw a condition, an event, or both joined by ``or``."""
    form = draw(st.integers(0, 4))
    if form < 2:
        return a_condition(draw, words)
    if form < 4:
        return an_event(draw, words)
    return TriggerOr((an_edge(draw, words), a_leaf(draw, words)))


@st.composite
def conditions(draw: st.DrawFn, words: Vocabulary) -> Condition:
    """Give conditions over a vocabulary."""
    return a_condition(draw, words)


@st.composite
def triggers(draw: st.DrawFn, words: Vocabulary) -> Trigger:
    """Give triggers over a vocabulary; events and conditions are triggers too."""
    return a_trigger(draw, words)


@st.composite
def durations(draw: st.DrawFn, usual: Tolerance | None = None) -> Duration:
    """Give times with their tolerances."""
    return a_duration(draw, usual)


@st.composite
def tolerances(draw: st.DrawFn) -> Tolerance:
    """Give tolerances that the language can say."""
    return a_tolerance(draw)

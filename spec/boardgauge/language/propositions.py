"""What conditions say of each other when time is left out.

Law of this module: every combination of what a condition hangs on is tried, none left out and none that cannot be:
an input has its states, a sensor its stretches between limits, a sequence one step at a time. What has a memory (a
rule, a band of hysteresis, a ``for``) is
taken to be free. So "never holds" is certain, "can hold" is not. Where there are too many combinations the answer is
None.
A board whose conditions go in a circle has no propositions; ``checks`` refuses it first.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from collections.abc import Sequence as Sequence_
from fractions import Fraction
from itertools import pairwise, product
from typing import Literal

from boardgauge.language.expressions import (
    And,
    Comparison,
    Condition,
    For,
    InState,
    Name,
    Not,
    Or,
    Reached,
)
from boardgauge.language.model import Board, Sequence
from boardgauge.language.quantities import Quantity
from boardgauge.language.scope import STATES
from boardgauge.language.units import WrongUnit, in_unit

Variable = tuple[str, object]
Assignment = dict[Variable, object]
"""What each variable is in one combination; what names were found to be is kept beside it, under ``known``."""

MOST_COMBINATIONS = 4096
MOST_CASES = 1_000_000
_OUT: Literal["out"] = "out"


class TooMany(ValueError):
    """There are more combinations than are tried."""


class Propositions:
    """The conditions of one board, taken as propositions. All questions together try ``MOST_CASES`` at most.

    (One case is one condition in one combination.)
    """

    def __init__(self, board: Board) -> None:
        self.board = board
        self.cases_left = MOST_CASES
        self.steps: dict[str, str] = {
            step.name: id_ for id_, rule in board.rules.items() if isinstance(rule, Sequence) for step in rule.steps
        }

    def can_hold(self, *conditions: Condition) -> bool | None:
        """Tell whether all the conditions can hold at once; None if there are too many combinations."""
        try:
            return any(all(self.holds(each, case) for each in conditions) for case in self.cases(conditions))
        except TooMany:
            return None

    def must_hold(self, condition: Condition) -> bool | None:
        """Tell whether the condition holds in every combination; None if there are too many."""
        can_fail = self.can_hold(Not(condition))
        return None if can_fail is None else not can_fail

    # -- combinations ------------------------------------------------------------------------------------------------
    def cases(self, conditions: Sequence_[Condition]) -> Iterator[Assignment]:
        """Give every combination of what the conditions hang on. Raises TooMany."""
        values: dict[Variable, list[object]] = {}
        limits: dict[str, set[Fraction]] = {}
        seen: set[str] = set()
        for condition in conditions:
            self._collect(condition, values, limits, seen)
        for sensor, numbers in limits.items():
            values[("sensor", sensor)] = list(_between(numbers))
        size = 1
        for choices in values.values():
            size *= len(choices)
            if size > MOST_COMBINATIONS:
                raise TooMany
        self.cases_left -= size * len(conditions)
        if self.cases_left < 0:
            raise TooMany
        for chosen in product(*values.values()):
            yield dict(zip(values, chosen, strict=True))

    def _collect(
        self,
        condition: Condition,
        values: dict[Variable, list[object]],
        limits: dict[str, set[Fraction]],
        seen: set[str],
    ) -> None:
        match condition:
            case Not(item=inner):
                self._collect(inner, values, limits, seen)
            case And(items=items) | Or(items=items):
                for item in items:
                    self._collect(item, values, limits, seen)
            case For(condition=inner):
                values[("free", condition)] = [False, True]
                self._collect(inner, values, limits, seen)
            case Reached():
                values[("free", condition)] = [False, True]
            case InState(name=name):
                self._collect_input(name, values)
            case Comparison(name=name, limit=limit, until=until):
                numbers = limits.setdefault(name, set())
                numbers.update(self._number(name, each) for each in (limit, until) if each is not None)
                if until is not None:
                    values[("free", condition)] = [False, True]
            case Name(name=name):
                meaning = self.meaning(name)
                if meaning is not None:
                    if name not in seen:
                        seen.add(name)
                        self._collect(meaning, values, limits, seen)
                elif name in self.board.inputs:
                    self._collect_input(name, values)
                elif (sequence := self._sequence(name)) is not None:
                    values[("sequence", sequence.id)] = [_OUT, *(step.name for step in sequence.steps)]
                else:
                    values[("free", Name(name))] = [False, True]

    def _collect_input(self, name: str, values: dict[Variable, list[object]]) -> None:
        known = self.board.inputs.get(name)
        values[("input", name)] = list(STATES.get(known.kind.value, ("on", "off")) if known else ("on", "off"))

    def meaning(self, name: str) -> Condition | None:
        """Give the condition that a name stands for, a named condition or an output with ``on``."""
        if name in self.board.conditions:
            return self.board.conditions[name].is_
        if name in self.board.outputs:
            return self.board.outputs[name].on
        return None

    def _sequence(self, name: str) -> Sequence | None:
        rule = self.board.rules.get(self.steps.get(name, name))
        return rule if isinstance(rule, Sequence) else None

    def _number(self, sensor: str, quantity: Quantity) -> Fraction:
        known = self.board.inputs.get(sensor)
        try:
            return in_unit(quantity, known.unit).number if known and known.unit else quantity.number
        except WrongUnit:
            return quantity.number

    # -- truth -------------------------------------------------------------------------------------------------------
    def holds(self, condition: Condition, case: Assignment) -> bool:
        """Tell whether the condition holds in one combination."""
        match condition:
            case Not(item=item):
                return not self.holds(item, case)
            case And(items=items):
                return all(self.holds(item, case) for item in items)
            case Or(items=items):
                return any(self.holds(item, case) for item in items)
            case For(condition=inner):
                return bool(case[("free", condition)]) and self.holds(inner, case)
            case Reached():
                return bool(case[("free", condition)])
            case InState(name=name, state=state):
                return case[("input", name)] == state
            case Comparison():
                return self._compares(condition, case)
            case Name(name=name):
                return self._is_on(name, case)

    def _is_on(self, name: str, case: Assignment) -> bool:
        if ("free", Name(name)) in case:
            return bool(case[("free", Name(name))])
        meaning = self.meaning(name)
        if meaning is not None:
            if ("known", name) not in case:
                case[("known", name)] = self.holds(meaning, case)
            return bool(case[("known", name)])
        if ("input", name) in case:
            return case[("input", name)] in ("on", "pressed")
        place = case[("sequence", self.steps.get(name, name))]
        return place == name if name in self.steps else place != _OUT

    def _compares(self, condition: Comparison, case: Assignment) -> bool:
        number = case[("sensor", condition.name)]
        assert isinstance(number, Fraction)
        if _beyond(number, condition.op, self._number(condition.name, condition.limit)):
            return True
        if condition.until is None or condition.until_op is None:
            return False
        if _beyond(number, condition.until_op, self._number(condition.name, condition.until)):
            return False
        return bool(case[("free", condition)])


def _beyond(number: Fraction, op: str, limit: Fraction) -> bool:
    match op:
        case "<":
            return number < limit
        case "<=":
            return number <= limit
        case ">":
            return number > limit
        case _:
            return number >= limit


def _between(limits: Iterable[Fraction]) -> Iterator[Fraction]:
    """Give one number for every stretch that the limits make: each limit, between two, and beyond both ends."""
    ordered = sorted(limits)
    yield ordered[0] - 1
    for here, there in pairwise(ordered):
        yield here
        yield (here + there) / 2
    yield ordered[-1]
    yield ordered[-1] + 1

"""Expressions as C.

Law of this module: a condition reads one picture, an event two and the facts of the instant, as in the reference's own
``logic``. The pictures are called ``n`` (now) and ``b`` (before), the facts ``f``; every part stands in brackets.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import accumulate
from math import ceil, floor

from attrs import frozen

from boardgauge.exports.c99.shape import Shape
from boardgauge.language import expressions as ex
from boardgauge.language.expressions import Comparator


@frozen
class CLogic:
    """Writes the expressions of one board."""

    shape: Shape

    def slot(self, slot: int, of: str = "n->") -> str:
        """Give one slot of a picture; ``of`` is how its members are reached."""
        return f"{of}{self.shape.slots[slot]}"

    def over(self, timing: int) -> str:
        """Give the fact that a timing ran out in this instant."""
        return f"f->over.{self.shape.timings[timing]}"

    def condition(self, node: ex.Condition, of: str = "n->", seen_through: bool = False) -> str:
        """Give a condition; ``seen_through``: with what named conditions stand for in their place."""
        logic = self.shape.logic
        match node:
            case ex.Name(name=name) if seen_through and name in self.shape.board.conditions:
                return self.condition(self.shape.board.conditions[name].is_, of, True)
            case ex.Name(name=name) | ex.Reached(name=name):
                return self.slot(logic.slots[name], of)
            case ex.InState(name=name, state=state):
                yes = self.slot(logic.slots[name], of)
                return f"!{yes}" if logic.is_false_word(name, state) else yes
            case ex.Comparison():
                return self.slot(logic.comparison_slots[node], of)
            case ex.For():
                return self.slot(logic.for_slots[logic.timing_of_for(node)], of)
            case ex.Not(item=item):
                return f"!{self.condition(item, of, seen_through)}"
            case ex.And(items=items):
                return "(" + " && ".join(self.condition(item, of, seen_through) for item in items) + ")"
            case ex.Or(items=items):
                return "(" + " || ".join(self.condition(item, of, seen_through) for item in items) + ")"

    def trigger(self, node: ex.Trigger, now: str = "n->", before: str = "b->") -> str:
        """Give a trigger: a condition, an event, or both joined by ``or``."""
        match node:
            case ex.PowerUp():
                return "f->power_up"
            case ex.Edge(of=of, word="expires"):
                assert isinstance(of, ex.Name)
                return self.over(self.shape.logic.timing_of_name(of.name))
            case ex.Edge(of=of, word=word):
                new, old = self.condition(of, now), self.condition(of, before)
                if word in {"begins", "closes"}:
                    return f"({new} && !{old})"
                if word in {"ends", "opens"}:
                    return f"({old} && !{new})"
                return f"({new} != {old})"
            case ex.EventOr(items=events):
                return "(" + " || ".join(self.trigger(item, now, before) for item in events) + ")"
            case ex.TriggerOr(items=items):
                return "(" + " || ".join(self.trigger(item, now, before) for item in items) + ")"
            case ex.EventWhile(event=event, condition=condition):
                return f"({self.trigger(event, now, before)} && {self.condition(condition, now)})"
            case ex.LessThanAfter():
                raise AssertionError("less than ... after stands in requirements only, and those are left out")
        return self.condition(node, now)

    def standing(self, node: ex.Trigger) -> str:
        """Give what of a trigger stands for longer than an instant: its conditions, or nothing."""
        if ex.is_event(node):
            return "false"
        if isinstance(node, ex.TriggerOr):
            parts = [self.condition(item) for item in node.items if not _event(item)]  # type: ignore[arg-type]  # no event
            return "(" + " || ".join(parts) + ")" if parts else "false"
        return self.trigger(node)

    def comparison(self, node: ex.Comparison, reading: str, held: str) -> str:
        """Give a comparison of a whole-number reading with the limits; ``held`` is what it was."""
        scale = 10 ** self.shape.decimals[node.name]
        first, *rest = [limit * scale for limit in self.shape.limits(node)]
        takes = _compared(reading, node.op, first)
        if not rest or node.until_op is None:
            return takes
        return f"({held} ? !{_compared(reading, node.until_op, rest[0])} : {takes})"


def when(expression: str) -> str:
    """Give an expression in the brackets of an ``if``, and in no second pair."""
    depths = list(accumulate((letter == "(") - (letter == ")") for letter in expression))
    closed = expression.startswith("(") and depths.index(0) == len(expression) - 1
    return expression if closed else f"({expression})"


def _event(node: ex.Expression) -> bool:
    return ex.is_event(node)


def _compared(reading: str, op: Comparator, limit: Fraction) -> str:
    # Between two readings that there can be, any limit does as well as another.
    number = ceil(limit) if op in {"<", ">="} else floor(limit)
    return f"({reading} {op} INT32_C({number}))" if number >= 0 else f"({reading} {op} -INT32_C({-number}))"

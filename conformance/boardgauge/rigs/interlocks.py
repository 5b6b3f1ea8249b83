"""Interlocks: what is never driven, whatever a plan says.

Law of this module: a combination of inputs is refused where a requirement of the spec, or the rig file, forbids it, as
far as inputs alone decide. An exception that hangs on the board (``except_while``) is no excuse: nobody can be sure of
it beforehand. A change of several inputs never passes through a forbidden combination on its way.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from fractions import Fraction
from itertools import combinations
from operator import ge, gt, le, lt

from attrs import define, field, frozen

from boardgauge.language import expressions as ex
from boardgauge.language.model import Always, Board, Never, Spot
from boardgauge.language.quantities import Quantity
from boardgauge.language.scope import ON_WORDS
from boardgauge.language.units import in_unit
from boardgauge.rigs.rig import Value
from boardgauge.rigs.rig_file import Interlock

Levels = Mapping[str, Value]
_COMPARED: dict[ex.Comparator, Callable[[Fraction, Fraction], bool]] = {"<": lt, "<=": le, ">": gt, ">=": ge}
MOST_TOGETHER = 8
"""So many inputs of interlocks change in one step at most."""


@frozen
class Forbidden:
    """One combination that is never driven: while ``condition`` is ``holds``; said ``at`` that place, by ``who``."""

    condition: ex.Condition
    holds: bool
    text: str
    at: Spot
    inputs: frozenset[str]


@define
class Interlocks:
    """All interlocks of a board on a rig."""

    board: Board
    more: tuple[Interlock, ...] = ()
    forbidden: tuple[Forbidden, ...] = field(init=False)

    def __attrs_post_init__(self) -> None:
        self.forbidden = tuple(self._all())

    def _all(self) -> Iterator[Forbidden]:
        for row in self.board.requirements.values():
            demand = row.demand
            if isinstance(demand, (Never, Always)) and not ex.is_event(demand.what):
                condition: ex.Condition = demand.what  # type: ignore[assignment]  # an event was ruled out
                used = self._inputs_of(condition)
                if used:
                    never = isinstance(demand, Never)
                    yield Forbidden(condition, never, f"requirement {row.id} of {self.board.id}", row.at, used)
        for interlock in self.more:
            used = self._inputs_of(interlock.condition)
            yield Forbidden(interlock.condition, True, f"never {interlock.text!r} of the rig", interlock.at, used)

    def _inputs_of(self, condition: ex.Expression) -> frozenset[str]:
        """Give the inputs a condition hangs on; none where it hangs on anything else too."""
        found: set[str] = set()
        for name, _ in ex.names(condition):
            if name in self.board.inputs:
                found.add(name)
            elif name in self.board.conditions:
                inner = self._inputs_of(self.board.conditions[name].is_)
                if not inner:
                    return frozenset()
                found |= inner
            else:
                return frozenset()
        return frozenset(found)

    def broken(self, levels: Levels) -> Forbidden | None:
        """Give the interlock that these levels of the inputs are against; None if there is none.

        An input without a level is not known, and what hangs on it is not held against anybody.
        """
        for row in self.forbidden:
            if self._holds(row.condition, levels) is row.holds:
                return row
        return None

    def stages(self, now: Levels, change: Levels) -> list[dict[str, Value]]:
        """Give a change as the steps in which it is driven, each at once, that pass through nothing forbidden.

        What is driven at once may come in any order at the relays. So inputs of one interlock that change together are
        driven one after another, what goes off first, unless no order of them matters. Where every order passes through
        what an interlock forbids, ValueError tells which.
        """
        moved = {name: value for name, value in change.items() if now.get(name) != value}
        joint = [
            name
            for name in sorted(moved, key=lambda name: moved[name] is not False)
            if any(name in row.inputs and len(row.inputs & moved.keys()) > 1 for row in self.forbidden)
        ]
        rest = {name: value for name, value in change.items() if name not in joint}
        if len(joint) > MOST_TOGETHER:
            raise ValueError(f"{len(joint)} inputs of interlocks change in one step; change fewer at a time")
        orders = {frozenset(part) for size in range(len(joint) + 1) for part in combinations(joint, size)}
        against = {part: self.broken({**now, **{name: moved[name] for name in part}}) for part in orders}
        if all(found is None for found in against.values()):
            return [dict(change)]
        order = _order(joint, against, frozenset())
        if order is None:
            found = next(row for part, row in against.items() if row is not None)
            raise ValueError(f"on the way it passes through what {found.text} ({found.at}) forbids")
        stages: list[dict[str, Value]] = [{name: moved[name]} for name in order]
        return [rest, *stages] if rest else stages

    def _holds(self, node: ex.Condition, levels: Levels) -> bool | None:
        match node:
            case ex.Name(name=name):
                return self._level(name, levels)
            case ex.InState(name=name, state=state):
                value = levels.get(name)
                return None if value is None else bool(value) is (state in ON_WORDS)
            case ex.Comparison():
                return self._compared(node, levels)
            case ex.Not(item=item):
                inner = self._holds(item, levels)
                return None if inner is None else not inner
            case ex.And(items=items):
                values = [self._holds(item, levels) for item in items]
                return False if False in values else None if None in values else True
            case ex.Or(items=items):
                values = [self._holds(item, levels) for item in items]
                return True if True in values else None if None in values else False
            case ex.For(condition=condition):
                # Not even for a moment: how long it would last is not waited for.
                return self._holds(condition, levels)
        return None

    def _level(self, name: str, levels: Levels) -> bool | None:
        if name in self.board.conditions:
            return self._holds(self.board.conditions[name].is_, levels)
        value = levels.get(name)
        return None if value is None else bool(value)

    def _compared(self, node: ex.Comparison, levels: Levels) -> bool | None:
        value = levels.get(node.name)
        if value is None:
            return None
        if self._beyond(node, node.op, node.limit, value):
            return True
        if node.until is None or node.until_op is None or self._beyond(node, node.until_op, node.until, value):
            return False
        # Between its two limits it is what it was before.
        return None

    def _beyond(self, node: ex.Comparison, op: ex.Comparator, limit: Quantity, value: Value) -> bool:
        there = in_unit(limit, self.board.inputs[node.name].unit or "").number
        return _COMPARED[op](Fraction(value), there)


def _order(
    joint: list[str], against: Mapping[frozenset[str], Forbidden | None], done: frozenset[str]
) -> list[str] | None:
    """Find an order in which inputs change one after another through nothing forbidden; None if there is none."""
    if len(done) == len(joint):
        return []
    for name in joint:
        after = done | {name}
        if name not in done and against[after] is None:
            rest = _order(joint, against, after)
            if rest is not None:
                return [name, *rest]
    return None

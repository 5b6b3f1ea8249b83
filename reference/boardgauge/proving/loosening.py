"""A board of which only some rules are kept, and what the others do is left open.

Law of this module: whatever the board can do, the looser board can. What a rule that is not kept would say is taken for
a signal at a terminal of its own, which may do anything at any time. So what no looser board does, the board does not.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from typing import Any, cast

from attrs import define, evolve, field

from boardgauge.language import expressions as ex
from boardgauge.language import model
from boardgauge.language.quantities import TimeRange
from boardgauge.machine.compile import expressions_of
from boardgauge.proving.clockwork import FREE
from boardgauge.proving.slicing import names_in, read_by, settings_of


def kept_in_rounds(part: model.Board, requirement: str) -> list[frozenset[str]]:
    """Give the rules and outputs that a requirement names, those they name beside, and so on; the last are all."""
    table: dict[str, list[ex.Expression]] = {}
    for owner, expression in expressions_of(part):
        table.setdefault(owner, []).append(expression)
    steps = _steps(part)
    kept = _ruled(part, steps, table, table.get(requirement, ()))
    rounds = [kept]
    while True:
        more = kept | _ruled(part, steps, table, [e for name in kept for e in table.get(name, ())])
        if more == kept:
            return rounds
        kept = more
        rounds.append(kept)


def _steps(part: model.Board) -> dict[str, str]:
    rules = [rule for rule in part.rules.values() if isinstance(rule, model.Sequence)]
    return {step.name: rule.id for rule in rules for step in rule.steps}


def _ruled(
    part: model.Board,
    steps: dict[str, str],
    table: dict[str, list[ex.Expression]],
    expressions: Iterable[ex.Expression],
) -> frozenset[str]:
    """Give the rules and outputs that expressions name, conditions seen through."""
    found: set[str] = set()
    seen: set[str] = set()
    waiting = list(names_in(expressions))
    while waiting:
        name = waiting.pop()
        if name in seen:
            continue
        seen.add(name)
        if name in part.conditions:
            waiting += names_in(table.get(name, ()))
        elif name in steps:
            found.add(steps[name])
        elif name in part.rules or name in part.outputs:
            found.add(name)
    return frozenset(found)


def _used(board: model.Board) -> set[str]:
    """Give every name that stands in a board, but for what stands in conditions only that nothing uses."""
    return read_by(board, (e for owner, e in expressions_of(board) if owner not in board.conditions))


def loosened(part: model.Board, kept: frozenset[str], inputs: frozenset[str]) -> model.Board:
    """Give the board with these rules and outputs only, and these inputs; the others are left open with the rest."""
    return _Loosening(part, kept, inputs).board()


def inputs_kept(part: model.Board, kept: frozenset[str]) -> list[frozenset[str]]:
    """Give which inputs may be kept with some rules: none, those that two of them read, or one and what is asked, and
    all. What a single rule reads need not be the same for another."""
    table: dict[str, list[ex.Expression]] = {}
    for owner, expression in expressions_of(part):
        table.setdefault(owner, []).append(expression)
    owners = kept | part.requirements.keys() | part.speed_ups.keys()
    readers = Counter(name for owner in owners for name in read_by(part, table.get(owner, ())))
    shared = frozenset(name for name, number in readers.items() if number > 1 and name in part.inputs)
    return list(dict.fromkeys((frozenset(), shared, frozenset(part.inputs))))


@define
class _Loosening:
    part: model.Board
    kept: frozenset[str]
    inputs: frozenset[str]
    signals: dict[ex.Expression, str] = field(factory=dict)
    _steps: dict[str, str] = field(init=False)
    _free: dict[str, bool] = field(factory=dict)

    def __attrs_post_init__(self) -> None:
        self._steps = _steps(self.part)

    def board(self) -> model.Board:
        part = self.part
        rules = {name: self._rule(row) for name, row in part.rules.items() if name in self.kept}
        outputs = {
            name: evolve(row, on=self._maybe(row.on), starts=self._maybe(row.starts), stops=self._maybe(row.stops))
            for name, row in part.outputs.items()
            if name in self.kept
        }
        requirements = {name: self._requirement(row) for name, row in part.requirements.items()}
        conditions = {
            name: evolve(row, is_=self._condition(row.is_))
            for name, row in part.conditions.items()
            if not self._is_free(ex.Name(name))
        }
        board = evolve(
            part,
            rules=rules,
            outputs=outputs,
            requirements=requirements,
            conditions=conditions,
            speed_ups={
                key: evolve(row, while_=self._condition(row.while_), what=what)
                for key, row in part.speed_ups.items()
                if (what := tuple(name for name in row.what if name in self.kept))
            },
        )
        taken = {setting for rule in rules.values() for setting in settings_of(rule)}
        board = evolve(board, settings={name: row for name, row in part.settings.items() if name in taken})
        used = _used(board)
        inputs = {name: row for name, row in part.inputs.items() if name in used}
        open_, within = TimeRange(), self.part.responds_within
        for name in self.signals.values():
            if name in used:
                inputs[name] = model.Input(name, model.InputKind.SIGNAL, open_, within)
        conditions = {name: row for name, row in conditions.items() if name in used}
        return evolve(board, inputs=inputs, conditions=conditions)

    # -- what is left open -------------------------------------------------------------------------------------------

    def _is_free(self, expression: ex.Expression) -> bool:
        """Tell whether nothing in it is kept."""
        if any(isinstance(node, (ex.PowerUp, ex.LessThanAfter)) for node in ex.walk(expression)):
            return False
        return all(self._name_is_free(name) for name in names_in([expression]))

    def _name_is_free(self, name: str) -> bool:
        if name in self.part.inputs:
            return name not in self.inputs
        if name in self.part.conditions:
            if name not in self._free:
                self._free[name] = self._is_free(self.part.conditions[name].is_)
            return self._free[name]
        return self._steps.get(name, name) not in self.kept

    def _signal(self, expression: ex.Expression) -> str:
        return self.signals.setdefault(expression, f"{FREE}{len(self.signals) + 1}")

    def _open(self, condition: ex.Condition) -> ex.Condition:
        # Before power-up a signal is off: of a condition that holds then, it stands for the contrary.
        name = ex.Name(self._signal(condition))
        return ex.Not(name) if self._at_rest(condition) else name

    def _at_rest(self, condition: ex.Condition) -> bool:
        """Tell whether a condition holds with every input at rest and every rule and output off."""
        match condition:
            case ex.InState(name=name, state=state):
                row = self.part.inputs[name]
                closed = row.rests_on
                return state in (("closed",) if closed else ("off", "open", "released"))
            case ex.Not(item=item):
                return not self._at_rest(item)
            case ex.And(items=items):
                return all(self._at_rest(item) for item in items)
            case ex.Or(items=items):
                return any(self._at_rest(item) for item in items)
            case ex.Name(name=name) if name in self.part.conditions:
                return self._at_rest(self.part.conditions[name].is_)
        return False

    # -- expressions -------------------------------------------------------------------------------------------------

    def _maybe(self, condition: ex.Condition | None) -> ex.Condition | None:
        return None if condition is None else self._condition(condition)

    def _condition(self, condition: ex.Condition) -> ex.Condition:
        if self._is_free(condition):
            return self._open(condition)
        match condition:
            case ex.Not(item=item):
                return ex.Not(self._condition(item))
            case ex.And(items=items):
                return ex.And(tuple(self._grouped(items, ex.And)))
            case ex.Or(items=items):
                return ex.Or(tuple(self._grouped(items, ex.Or)))
            case ex.For(condition=inner, lasts=lasts):
                return ex.For(self._condition(inner), lasts)
        return condition

    def _grouped(
        self, items: Sequence[ex.Condition], of: Callable[[tuple[ex.Condition, ...]], ex.Condition]
    ) -> list[ex.Condition]:
        free = tuple(item for item in items if self._is_free(item))
        rest = [self._condition(item) for item in items if not self._is_free(item)]
        if free:
            rest.append(self._open(free[0] if len(free) == 1 else of(free)))
        return rest

    def _event(self, event: ex.Event) -> ex.Event:
        match event:
            case ex.Edge(of=of, word=word) if word in ("begins", "ends", "changes"):
                return ex.Edge(self._condition(of), word)
            case ex.EventOr(items=items):
                return ex.EventOr(tuple(self._event(item) for item in items))
            case ex.EventWhile(event=inner, condition=condition):
                return ex.EventWhile(self._event(inner), self._condition(condition))
            case ex.LessThanAfter(event=inner, time=time, after=after):
                return ex.LessThanAfter(self._event(inner), time, self._event(after))
        if self._is_free(event):
            return ex.Edge(ex.Name(self._signal(event)), "begins")
        return event

    def _trigger(self, trigger: ex.Trigger) -> ex.Trigger:
        if isinstance(trigger, ex.TriggerOr):
            items = tuple(self._trigger(item) for item in trigger.items)
            return ex.TriggerOr(cast("tuple[ex.Condition | ex.Event, ...]", items))
        if ex.is_event(trigger):
            return self._event(cast("ex.Event", trigger))
        return self._condition(cast("ex.Condition", trigger))

    # -- tables ------------------------------------------------------------------------------------------------------

    def _rule(self, rule: model.Rule) -> model.Rule:
        changes: dict[str, Any] = {}
        for key in (
            "begins",
            "cut_by",
            "trips",
            "clears",
            "counts",
            "forgets",
            "adds_while",
            "resets",
            "ends",
            "flips",
        ):
            written = getattr(rule, key, None)
            if written is not None:
                changes[key] = self._trigger(written)
        if isinstance(rule, model.Sequence):
            changes["steps"] = tuple(evolve(step, until=self._maybe(step.until)) for step in rule.steps)
        return evolve(rule, **changes)

    def _requirement(self, row: model.Requirement) -> model.Requirement:
        demand = row.demand
        match demand:
            case model.Never(what=what):
                demand = model.Never(cast("ex.Condition | ex.Event", self._trigger(what)))
            case model.Always(what=holds):
                demand = model.Always(self._condition(holds))
            case model.Follows(after=after, then=then, within=within):
                demand = model.Follows(self._event(after), self._trigger(then), within)
        return evolve(row, demand=demand, except_while=self._maybe(row.except_while))

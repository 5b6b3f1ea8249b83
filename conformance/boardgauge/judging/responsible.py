"""Find the part of a spec that an output hangs on: the rule or condition that alone decides it.

Law of this module: it goes down from the output's own condition as long as one part alone is responsible for its value,
and gives the last thing on the way that cites a clause (or has a name, where none does).
"""

from __future__ import annotations

from attrs import field, frozen

from boardgauge.language import expressions as ex
from boardgauge.language import model
from boardgauge.language.model import Board, Spot
from boardgauge.machine.config import Config
from boardgauge.machine.settle import Engine


@frozen
class Part:
    """A named part of a spec, with the clause it cites."""

    id: str
    clause: str | None
    at: Spot | None


def part_of(board: Board, name: str) -> Part:
    """Give the part of this id (an output, a rule, a step's sequence, a condition, a requirement, a lamp)."""
    tables = (board.rules, board.conditions, board.outputs, board.requirements, board.lamps, board.inputs)
    for table in tables:
        row = table.get(name)
        if row is not None:
            return Part(name, row.note.clause, row.at)
    for rule in board.rules.values():
        if isinstance(rule, model.Sequence) and any(step.name == name for step in rule.steps):
            return Part(rule.id, rule.note.clause, rule.at)
    return Part(name, None, None)


def responsible(
    engine: Engine, config: Config, output: int, wanted: bool, before: Config | None = None, by_rule: bool = False
) -> Part:
    """Give the part that decides about an output being ``wanted`` in a configuration.

    If the output is as wanted there, that is what makes it so (with ``before``, what changed since then and made it
    so); if not, what alone stands in the way. ``by_rule``: go on into the rule that moved, to what moved it.
    """
    board = engine.machine.board
    row = board.outputs[engine.machine.outputs[output].output]
    own = Part(row.id, row.note.clause, row.at)
    node = row.on if row.on is not None else row.starts if wanted else row.stops
    assert node is not None
    search = _Search(engine, config, before, by_rule)
    search.down(node)
    cited = [part for part in search.found if part.clause is not None]
    if cited:
        return cited[-1]
    return own if own.clause is not None or not search.found else search.found[-1]


@frozen
class _Search:
    engine: Engine
    config: Config
    before: Config | None
    by_rule: bool
    found: list[Part] = field(factory=list)

    def _truth(self, node: ex.Condition) -> bool:
        return bool(self.engine.logic.condition(node)(self.engine.picture(self.config)))

    def _changed(self, node: ex.Condition) -> bool:
        assert self.before is not None
        return bool(self.engine.logic.condition(node)(self.engine.picture(self.before))) != self._truth(node)

    def down(self, node: ex.Trigger) -> None:
        match node:
            case ex.Not(item=item):
                self.down(item)
            case ex.And(items=items) | ex.Or(items=items):
                # What decides an "and" that fails is what fails in it; what decides an "or" that holds, what holds.
                truth = self._truth(node)
                decisive = truth is isinstance(node, ex.Or)
                parts = [item for item in items if not decisive or self._truth(item) is truth]
                if len(parts) > 1 and self.before is not None:
                    parts = [item for item in parts if self._changed(item)]
                if len(parts) == 1:
                    self.down(parts[0])
            case ex.Name(name=name) | ex.Reached(name=name):
                self._name(name)

    def _name(self, name: str) -> None:
        board = self.engine.machine.board
        if name in board.conditions:
            self.found.append(part_of(board, name))
            self.down(board.conditions[name].is_)
            return
        rule = board.rules.get(name)
        if rule is not None and self.by_rule:
            self.found.append(part_of(board, name))
            trigger = _moved_by(rule, self.engine.holds(self.config, name))
            part = None if trigger is None else self._cause_in(trigger)
            if part is not None:
                self.found.append(part)
        elif name not in board.inputs and not any(part.clause for part in self.found):
            self.found.append(part_of(board, name))

    def _cause_in(self, trigger: ex.Trigger) -> Part | None:
        """Give the condition with a clause by which a rule moved: the trigger itself, or the one part that holds."""
        board = self.engine.machine.board
        items = trigger.items if isinstance(trigger, (ex.Or, ex.TriggerOr)) else (trigger,)
        cited = [
            part_of(board, item.name)
            for item in items
            if isinstance(item, ex.Name) and item.name in board.conditions and self._truth(item)
        ]
        return cited[0] if len(cited) == 1 and cited[0].clause is not None else None


def _moved_by(rule: model.Rule, on: bool) -> ex.Trigger | None:
    match rule:
        case model.Mode() | model.Sequence():
            return rule.begins if on else rule.ends
        case model.Lockout():
            return rule.trips if on else rule.clears
    return None

"""Find the part of a spec that an output hangs on: the rule or condition that alone decides it.

Law of this module: it goes down from the output's own condition as long as one part alone is responsible for its value,
and gives the last thing on the way that has a name.
"""

from __future__ import annotations

from attrs import frozen

from boardgauge.language import expressions as ex
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
    for table in (board.rules, board.conditions, board.outputs, board.requirements, board.lamps, board.inputs):
        row = table.get(name)
        if row is not None:
            return Part(name, row.note.clause, row.at)
    for rule in board.rules.values():
        if any(step.name == name for step in getattr(rule, "steps", ())):
            return Part(rule.id, rule.note.clause, rule.at)
    return Part(name, None, None)


def responsible(engine: Engine, config: Config, output: int, wanted: bool) -> Part:
    """Give the part that decides about an output being ``wanted`` in a configuration.

    If the output is as wanted there, that is what makes it so; if not, what alone stands in the way.
    """
    board = engine.machine.board
    row = board.outputs[engine.machine.outputs[output].output]
    best = Part(row.id, row.note.clause, row.at)
    if row.on is not None:
        node: ex.Condition = row.on
    else:
        start = row.starts if wanted else row.stops
        assert start is not None
        node = start
    found: list[Part] = []
    _descend(engine, config, node, found)
    cited = [part for part in found if part.clause is not None]
    if cited:
        return cited[-1]
    return best if best.clause is not None or not found else found[-1]


def _descend(engine: Engine, config: Config, node: ex.Condition, found: list[Part]) -> None:
    board = engine.machine.board
    truth = engine.logic.condition(node)(engine.picture(config))
    match node:
        case ex.Not(item=item):
            _descend(engine, config, item, found)
        case ex.And(items=items) | ex.Or(items=items):
            # What decides an "and" that fails is what fails in it; what decides an "or" that holds, what holds.
            decisive = truth is isinstance(node, ex.Or)
            picture = engine.picture(config)
            parts = [i for i in items if not decisive or engine.logic.condition(i)(picture) is truth]
            if len(parts) == 1:
                _descend(engine, config, parts[0], found)
        case ex.Name(name=name) | ex.Reached(name=name):
            if name in board.conditions:
                found.append(part_of(board, name))
                _descend(engine, config, board.conditions[name].is_, found)
            elif name not in board.inputs and not any(part.clause for part in found):
                found.append(part_of(board, name))

"""The part of a board that one question hangs on.

Law of this module: what is left out can change nothing that is asked about. A rule reads what its expressions name,
and they what theirs name; nothing else reaches it.
"""

from __future__ import annotations

from collections.abc import Iterable

from attrs import evolve

from boardgauge.language import expressions as ex
from boardgauge.language.model import Board, Rule, Sequence, SettingRef
from boardgauge.language.scope import rule_times
from boardgauge.machine.compile import expressions_of


def names_in(expressions: Iterable[ex.Expression]) -> set[str]:
    """Give every name that stands in some expressions."""
    found: set[str] = set()
    for expression in expressions:
        for node in ex.walk(expression):
            if isinstance(node, (ex.Name, ex.InState, ex.Comparison, ex.Reached)):
                found.add(node.name)
    return found


def read_by(board: Board, expressions: Iterable[ex.Expression]) -> set[str]:
    """Give every name that expressions read, conditions seen through."""
    read: set[str] = set()
    more = names_in(expressions)
    while more:
        read |= more
        more = names_in(board.conditions[name].is_ for name in more if name in board.conditions) - read
    return read


def slice_of(board: Board, *requirements: str) -> Board:
    """Give the board with these requirements only and what they hang on, by the rules, and no lamp."""
    table: dict[str, list[ex.Expression]] = {}
    for owner, expression in expressions_of(board):
        table.setdefault(owner, []).append(expression)
    steps = {step.name: rule.id for rule in board.rules.values() if isinstance(rule, Sequence) for step in rule.steps}
    reached: set[str] = set()
    waiting = list(requirements)
    while waiting:
        name = waiting.pop()
        name = steps.get(name, name)
        if name in reached:
            continue
        reached.add(name)
        waiting += names_in(table.get(name, ()))
        for speed_up in board.speed_ups.values():
            if name in speed_up.what:
                waiting += names_in([speed_up.while_])
        waiting += [setting for setting in board.settings if setting in settings_of(board.rules.get(name))]
    speed_ups = {
        key: evolve(row, what=tuple(name for name in row.what if name in reached))
        for key, row in board.speed_ups.items()
        if any(name in reached for name in row.what)
    }
    return evolve(
        board,
        inputs={key: row for key, row in board.inputs.items() if key in reached},
        settings={key: row for key, row in board.settings.items() if key in reached},
        conditions={key: row for key, row in board.conditions.items() if key in reached},
        rules={key: row for key, row in board.rules.items() if key in reached},
        outputs={key: row for key, row in board.outputs.items() if key in reached},
        lamps={},
        requirements={key: row for key, row in board.requirements.items() if key in requirements},
        speed_ups=speed_ups,
        not_judged=(),
    )


def settings_of(rule: Rule | None) -> set[str]:
    """Give the settings that a rule takes times from."""
    lasting = {} if rule is None else rule_times(rule)
    return {lasts.setting for lasts in lasting.values() if isinstance(lasts, SettingRef)}

"""Which parts of a board have a say in what shows at a terminal.

Law of this module: nothing that has a say is left out; what has none may be in.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

from boardgauge.faults.editing import sites
from boardgauge.language.expressions import names
from boardgauge.language.model import Board, Sequence, SettingRef
from boardgauge.language.scope import rule_times

_SECTIONS = ("inputs", "settings", "conditions", "rules", "outputs", "lamps", "speed_ups")


def cone(board: Board, signal: str) -> frozenset[str]:
    """Give the names of all parts of a board that a signal hangs on, itself among them."""
    reads = _reads(board)
    found, waiting = set[str](), [signal]
    while waiting:
        name = waiting.pop()
        if name not in found:
            found.add(name)
            waiting += reads[name]
    return frozenset(found)


def _reads(board: Board) -> dict[str, set[str]]:
    reads: dict[str, set[str]] = defaultdict(set)
    for site in sites(board):
        reads[site.id] |= {name for name, _ in names(site.expression)}
    for id_, rule in board.rules.items():
        times = [*rule_times(rule).values()]
        reads[id_] |= {lasting.setting for lasting in times if isinstance(lasting, SettingRef)}
        if isinstance(rule, Sequence):
            for step in rule.steps:
                reads[step.name].add(id_)
    for id_, setting in board.settings.items():
        reads[id_] |= {name for p in setting.positions if p.when is not None for name, _ in names(p.when)}
    for id_, row in board.speed_ups.items():
        reads[id_] |= {name for name, _ in names(row.while_)}
        for rule_id in row.what:
            reads[rule_id].add(id_)
    return reads


def changed(board: Board, edited: Board) -> frozenset[str]:
    """Give the names of the parts in which an edited board differs from a board."""
    found = set[str]()
    for section in _SECTIONS:
        here, there = getattr(board, section), getattr(edited, section)
        if here is not there:
            found |= {name for name in {*here, *there} if here.get(name) != there.get(name)}
    for row in {*here_only(board.speed_ups, edited.speed_ups)}:
        found |= set(board.speed_ups[row].what)
    return frozenset(found)


def here_only(here: Iterable[str], there: Iterable[str]) -> frozenset[str]:
    """Give the names that are in the first and not in the second."""
    return frozenset(here) - frozenset(there)


def may_show(board: Board, edited: Board, signal: str) -> bool:
    """Tell whether an edited board can differ from a board in what shows at a signal."""
    parts = changed(board, edited)
    return bool(parts & cone(board, signal)) or bool(parts & cone(edited, signal))

"""The same board with its terminals called otherwise.

Law of this module: only names change. What is called like a new name of a terminal gets out of the way.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, TypeVar, cast

import attrs
from attrs import evolve, field, frozen

from boardgauge.language import expressions as ex
from boardgauge.language.model import Board, NotJudged, SettingRef, SpeedUp, Step, Together
from boardgauge.machine.run import Value

T = TypeVar("T")
SECTIONS = ("inputs", "outputs", "lamps")
ALL_SECTIONS = (*SECTIONS, "settings", "conditions", "rules", "requirements", "speed_ups")
_NAMED = (ex.Name, ex.InState, ex.Comparison, ex.Reached)


@frozen
class Renaming:
    """What the terminals of one board are called on another: for each section the first board's name -> the other's.

    ``first_only`` and ``second_only`` are the terminals that the other board lacks, section by section; an input among
    them stands at the value given all the time.
    """

    names: Mapping[str, Mapping[str, str]] = field(factory=dict)
    first_only: Mapping[str, Mapping[str, Value | None]] = field(factory=dict)
    second_only: Mapping[str, Mapping[str, Value | None]] = field(factory=dict)

    def in_first_words(self, board: Board) -> Board:
        """Give the second board with its terminals called as on the first."""
        names = {new: old for section in self.names.values() for old, new in section.items()}
        return renamed(board, names)

    def in_second_words(self, name: str) -> str:
        """Give what the second board calls a terminal of the first."""
        return next((section[name] for section in self.names.values() if name in section), name)


def renamed(board: Board, names: Mapping[str, str]) -> Board:
    """Give the board with things called otherwise (old name -> new)."""
    names = {old: new for old, new in names.items() if old != new}
    if not names:
        return board
    here = {name for section in ALL_SECTIONS for name in getattr(board, section)}
    here |= {step.name for rule in board.rules.values() for step in getattr(rule, "steps", ())}
    moved = dict(names)
    for new in names.values():
        if new in here and new not in moved:
            free = new + "_"
            while free in here or free in names.values():
                free += "_"
            moved[new] = free
    tables: dict[str, Any] = {}
    for section in ALL_SECTIONS:
        rows = getattr(board, section)
        tables[section] = {
            moved.get(key, key): evolve(_in(row, moved), id=moved.get(key, key)) for key, row in rows.items()
        }
    return evolve(board, not_judged=tuple(_in(row, moved) for row in board.not_judged), **tables)


def _in(value: T, names: Mapping[str, str]) -> T:
    """Give a value with every name in it changed."""
    found: Any = value
    if isinstance(value, _NAMED):
        return cast(T, evolve(found, name=names.get(value.name, value.name)))
    if isinstance(value, SettingRef):
        return cast(T, evolve(found, setting=names.get(value.setting, value.setting)))
    if isinstance(value, Step):
        found = evolve(value, name=names.get(value.name, value.name), then=names.get(value.then, value.then))
        if value.if_not is not None:
            found = evolve(found, if_not=names.get(value.if_not, value.if_not))
    elif isinstance(value, SpeedUp):
        found = evolve(value, what=tuple(names.get(name, name) for name in value.what))
    elif isinstance(value, Together):
        found = evolve(value, outputs=tuple(names.get(name, name) for name in value.outputs))
    elif isinstance(value, NotJudged):
        found = evolve(value, signals=tuple(names.get(name, name) for name in value.signals))
    if isinstance(found, tuple):
        return cast(T, tuple(_in(item, names) for item in found))
    if attrs.has(type(found)):
        fields = [row.name for row in attrs.fields(type(found)) if row.init and row.name != "at"]
        changed = {name: _in(getattr(found, name), names) for name in fields}
        changed = {name: new for name, new in changed.items() if new is not getattr(found, name)}
        found = evolve(found, **changed) if changed else found
    return cast(T, found)

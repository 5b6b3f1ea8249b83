"""What is called otherwise inside the second spec and is the same: called as in the first.

Law of this module: names of rules, conditions and settings are labels, so nothing but them changes; a wrong guess makes
more differ than must, and never less.
"""

from __future__ import annotations

from typing import Any

from attrs import evolve

from boardgauge.language.model import Board
from boardgauge.machine.compile import compile_board
from boardgauge.pairing.differences import without_prose
from boardgauge.pairing.renaming import renamed

SECTIONS = ("settings", "conditions", "rules", "speed_ups", "requirements")


def aligned(first: Board, second: Board) -> Board:
    """Give the second board with its inner names as in the first, where what they stand for is the same."""
    for likely in (False, True):
        while (pair := _pair(first, second, likely)) is not None:
            second = renamed(second, {pair[1]: pair[0]})
    return second


def _pair(first: Board, second: Board, likely: bool) -> tuple[str, str] | None:
    for section in SECTIONS:
        ours = {name: row for name, row in getattr(first, section).items() if name not in getattr(second, section)}
        theirs = [name for name in getattr(second, section) if name not in getattr(first, section)]
        for mine, row in ours.items():
            if likely:
                alike = [name for name in theirs if _looks_like(first, mine, second, name, section)]
                if len(alike) == 1:
                    return mine, alike[0]
                continue
            for name in theirs:
                there = getattr(renamed(second, {name: mine}), section)[mine]
                if without_prose(there) == without_prose(row):
                    return mine, name
    return None


def _looks_like(first: Board, mine: str, second: Board, name: str, section: str) -> bool:
    """Tell whether two rules are of one kind and have the same times, at least one."""
    if section != "rules" or type(first.rules[mine]) is not type(second.rules[name]):
        return False
    ours, theirs = _times(first, mine), _times(second, name)
    return bool(ours) and ours == theirs


def _times(board: Board, rule: str) -> list[Any]:
    rows = compile_board(evolve(board, requirements={})).timings_of(rule)
    return [(row.role, [without_prose(duration) for duration in row.choices]) for row in rows]

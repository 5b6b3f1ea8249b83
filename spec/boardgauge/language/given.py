"""Conditions that may hang on what is given only: on inputs.

Law of this module: a setting is read, and a speed-up works, without regard to what the board is doing; so their
conditions name inputs, or conditions made of
inputs, and nothing with a memory. The rates of timings would otherwise hang on timings.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from boardgauge.language.expressions import Comparison, Condition, For, InState, Name, Reached, names, walk
from boardgauge.language.model import Board, Setting
from boardgauge.language.places import Places
from boardgauge.language.problems import Problem
from boardgauge.language.propositions import Assignment, Propositions, TooMany

INPUTS_ONLY = "inputs, or conditions made of inputs alone"


def _not_given(condition: Condition, propositions: Propositions, seen: set[str]) -> tuple[int, str] | None:
    """Give the offset and the reason where a condition hangs on more than inputs, or None."""
    for node in walk(condition):
        match node:
            case For():
                return node.at, '"for" remembers since when something has held'
            case Comparison(until=until) if until is not None:
                return node.at, '"until" remembers which limit was passed last'
            case Reached(name=name):
                return node.at, f"{name!r} is no input"
            case Name(name=name) | InState(name=name) | Comparison(name=name):
                reason = _name_not_given(name, propositions, seen)
                if reason is not None:
                    return node.at, reason
    return None


def _name_not_given(name: str, propositions: Propositions, seen: set[str]) -> str | None:
    board = propositions.board
    if name in board.conditions and name not in seen:
        seen.add(name)
        inner = _not_given(board.conditions[name].is_, propositions, seen)
        return None if inner is None else f"{name!r} hangs on more than inputs: {inner[1]}"
    if name in board.rules or name in board.outputs or name in propositions.steps:
        return f"{name!r} is no input"
    return None


def check_given(board: Board, places: Places) -> Iterator[Problem]:
    """Check the conditions of speed-ups and of settings, and that exactly one position of a setting holds in every
    case.
    """
    propositions = Propositions(board)
    for id_, speed_up in board.speed_ups.items():
        key = f"speed_ups.{id_}.while"
        found = _not_given(speed_up.while_, propositions, set())
        if found is not None:
            why = f"how fast times run may hang on inputs only, and {found[1]}"
            yield Problem(places.inside(key, found[0]), key, why, INPUTS_ONLY)
    for id_, setting in board.settings.items():
        yield from _check_setting(id_, setting, propositions, places)


def _check_setting(id_: str, setting: Setting, propositions: Propositions, places: Places) -> Iterator[Problem]:
    board = propositions.board
    whens: list[Condition] = []
    wrong = False
    for index, position in enumerate(setting.positions):
        if position.when is None:
            continue
        whens.append(position.when)
        found = _not_given(position.when, propositions, set())
        if found is not None:
            wrong = True
            key = f"settings.{id_}.positions[{index + 1}].when"
            why = f"a setting may hang on inputs only, and {found[1]}"
            yield Problem(places.inside(key, found[0]), key, why, INPUTS_ONLY)
    known = all(name in board.inputs or name in board.conditions for when in whens for name, _ in names(when))
    if whens and known and not wrong:
        yield from _check_cover(f"settings.{id_}.positions", whens, propositions, places)


def _check_cover(key: str, whens: list[Condition], propositions: Propositions, places: Places) -> Iterator[Problem]:
    overlapping: set[tuple[int, int]] = set()
    gap = False
    try:
        for case in propositions.cases(whens):
            holding = [index for index, when in enumerate(whens) if propositions.holds(when, case)]
            if not holding and not gap:
                gap = True
                yield Problem(places.of(key), key, f"no position is chosen with {_told(case)}")
            if len(holding) > 1 and (holding[0], holding[1]) not in overlapping:
                overlapping.add((holding[0], holding[1]))
                at = f"{key}[{holding[1] + 1}].when"
                yield Problem(
                    places.of(at),
                    at,
                    f"positions {holding[0] + 1} and {holding[1] + 1} are both chosen with {_told(case)}",
                )
    except TooMany:
        yield Problem(places.of(key), key, "the positions hang on too many inputs to try every combination")


def _told(case: Assignment) -> str:
    return ", ".join(_told_of(name, value) for (sort, name), value in case.items() if sort != "known")


def _told_of(name: object, value: object) -> str:
    return f"{name} at {float(value):g}" if isinstance(value, Fraction) else f"{name} {value}"

"""What is written differently in two specs, entry by entry, and the board with one difference alone.

Law of this module: prose, places and the order of entries are no difference; everything else is. What an entry leads to
is not asked here.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from typing import Any, Literal

import attrs
from attrs import evolve, field, frozen

from boardgauge.language.model import NO_NOTE, Board, LampLine, Note, Rule, Sequence, Spot
from boardgauge.language.quantities import Duration, TimeRange
from boardgauge.language.quantity_writer import write_plain_time
from boardgauge.language.writer import write_board
from boardgauge.machine.compile import compile_board, expressions_of
from boardgauge.pairing.pair import inside
from boardgauge.pairing.renaming import ALL_SECTIONS
from boardgauge.proving.slicing import names_in, settings_of

BOARD_KEYS = ("same_moment", "clock", "rides_through")
Where = Literal["inside", "around", "overlaps", "apart"]


@frozen
class Change:
    """One key of an entry that is written differently: its text in either spec, None where it is not there."""

    key: str
    first: str | None
    second: str | None


@frozen
class TimeChange:
    """A time that differs: its ranges in microseconds, and where the second's lies against the first's."""

    name: str
    first: tuple[int, int]
    second: tuple[int, int]
    lies: Where


@frozen
class Difference:
    """An entry that differs. ``only`` tells that one spec alone has it; ``times`` the ranges where a time differs."""

    section: str
    name: str
    only: Literal["first", "second"] | None
    changes: tuple[Change, ...]
    times: tuple[TimeChange, ...] = ()
    watches: bool = field(default=False)
    """It judges, and changes nothing that the board does."""
    at: Spot | None = field(default=None, eq=False)
    clause: str | None = field(default=None, eq=False)


def without_prose(value: Any) -> Any:
    """Give a value without what is for people."""
    if isinstance(value, Note):
        return NO_NOTE
    if isinstance(value, Duration):
        return evolve(value, span=False)
    if isinstance(value, LampLine):
        value = evolve(value, clause=None, means=None, do=None)
    if isinstance(value, tuple):
        return tuple(without_prose(item) for item in value)
    if isinstance(value, dict):
        return {key: without_prose(item) for key, item in value.items()}
    if not attrs.has(type(value)):
        return value
    rows = [row.name for row in attrs.fields(type(value)) if row.init and row.eq]
    changed = {name: without_prose(getattr(value, name)) for name in rows}
    return evolve(value, **changed)


def differences(first: Board, second: Board) -> tuple[Difference, ...]:
    """Give the entries that differ; the second board's terminals are called as on the first."""
    return tuple(_differences(first, second))


def _differences(first: Board, second: Board) -> Iterator[Difference]:
    texts = (_texts(first), _texts(second))
    board = tuple(
        Change(key, _board_key(first, key), _board_key(second, key))
        for key in BOARD_KEYS
        if getattr(first, key) != getattr(second, key)
    )
    if board:
        yield Difference("board", first.id, None, board, at=second.at)
    for section in ALL_SECTIONS:
        ours, theirs = getattr(first, section), getattr(second, section)
        for name in (*ours, *(n for n in theirs if n not in ours)):
            one, other = ours.get(name), theirs.get(name)
            if one is not None and other is not None and without_prose(one) == without_prose(other):
                continue
            only: Literal["first", "second"] | None = None if one and other else "first" if one else "second"
            changes = tuple(_changes(*(text.get(section, {}).get(name, {}) for text in texts)))
            row = other or one
            times = tuple(_times(first, second, section, name)) if one and other else ()
            watches = section == "requirements"
            yield Difference(section, name, only, changes, times, watches, row.at, row.note.clause)
    if without_prose(first.not_judged) != without_prose(second.not_judged):
        rows = [", ".join(str(row) for row in text.get("not_judged", [])) or None for text in texts]
        yield Difference("not_judged", "not_judged", None, (Change("not_judged", *rows),), (), True)


def _board_key(board: Board, key: str) -> str:
    value = getattr(board, key)
    if isinstance(value, TimeRange):
        return f"{write_plain_time(value.least)} to {write_plain_time(value.greatest)}"
    return value if isinstance(value, str) else write_plain_time(value)


def _texts(board: Board) -> dict[str, Any]:
    # With no tolerance, filter and response of the board to leave out, each entry says its own.
    alone = evolve(without_prose(board), tolerance=None, filter=TimeRange(0, 1), responds_within=1)
    return tomllib.loads(write_board(alone))


def _changes(one: Mapping[str, Any], other: Mapping[str, Any]) -> Iterator[Change]:
    for key in (*one, *(k for k in other if k not in one)):
        if one.get(key) == other.get(key):
            continue
        if isinstance(one.get(key), list) and isinstance(other.get(key), list):
            yield from _row_changes(key, one[key], other[key])
        else:
            yield Change(key, _said(one.get(key)), _said(other.get(key)))


def _row_changes(key: str, one: list[Any], other: list[Any]) -> Iterator[Change]:
    """Give the rows of a list that only one of them has, else their new order."""
    gone = [row for row in one if row not in other]
    new = [row for row in other if row not in one]
    for number in range(max(len(gone), len(new))):
        a, b = (rows[number] if number < len(rows) else None for rows in (gone, new))
        yield Change(key, _said(a), _said(b))
    if not gone and not new:
        yield Change(key, "in one order", "in another order")


def _said(value: Any) -> str | None:
    if value is None:
        return None
    if isinstance(value, dict):
        return ", ".join(f"{key} {inner}" for key, inner in value.items())
    if isinstance(value, list):
        return "; ".join(_said(item) or "" for item in value)
    if isinstance(value, bool):
        return "true" if value else "false"
    return str(value)


def _times(first: Board, second: Board, section: str, name: str) -> Iterator[TimeChange]:
    mine, its = _durations(first, section, name), _durations(second, section, name)
    for label, duration in mine.items():
        there = its.get(label)
        if there is None or (duration.shortest, duration.longest) == (there.shortest, there.longest):
            continue
        a, b = (duration.shortest, duration.longest), (there.shortest, there.longest)
        yield TimeChange(label, a, b, _lies(duration, there))


def _lies(one: Duration, other: Duration) -> Where:
    if inside(other, one, False):
        return "inside"
    if inside(one, other, False):
        return "around"
    return "apart" if other.longest < one.shortest or one.longest < other.shortest else "overlaps"


def _durations(board: Board, section: str, name: str) -> dict[str, Duration]:
    """Give the times of an entry by their names; those of a setting by its positions."""
    if section == "settings":
        rows = enumerate(board.settings[name].positions, 1)
        return {f"{name} {row.name or number}": row.is_ for number, row in rows}
    machine = compile_board(board)
    return {row.name: row.choices[0] for row in machine.timings_of(name) if row.setting is None}


# -- one difference alone --------------------------------------------------------------------------------------------


def with_only(first: Board, second: Board, row: Difference) -> tuple[Board, tuple[str, ...]]:
    """Give the first board with one entry as the second has it, and what had to come along with it."""
    if row.section == "board":
        return evolve(first, **{change.key: getattr(second, change.key) for change in row.changes}), ()
    if row.section == "not_judged":
        return evolve(first, not_judged=second.not_judged), ()
    tables: dict[str, dict[str, Any]] = {section: dict(getattr(first, section)) for section in ALL_SECTIONS}
    along: list[str] = []
    _take(tables, second, row.section, row.name)
    for _ in range(1000):
        board = evolve(first, **tables)  # type: ignore[arg-type]
        missing = _missing(board)
        if missing is None:
            known = _known(board)
            heard = tuple(r for r in board.not_judged if names_in([r.after]) | set(r.signals) <= known)
            return evolve(board, not_judged=heard), tuple(along)
        owner, name = missing
        there = _entry_of(second, name)
        if there is None:
            # The second board has done without: so whoever speaks of it is taken from there too.
            there = _entry_of(first, owner) or ("rules", owner)
        along.append(there[1])
        _take(tables, second, *there)
    raise AssertionError("taking over entries comes to no end")


def _take(tables: dict[str, dict[str, Any]], second: Board, section: str, name: str) -> None:
    row = getattr(second, section).get(name)
    if isinstance(row, Sequence):
        # Steps have one name each, so the first board's sequence with the same ones makes way.
        for other, rule in list(tables["rules"].items()):
            if _steps(rule) & _steps(row):
                del tables["rules"][other]
    for other in ALL_SECTIONS:
        tables[other].pop(name, None) if other != section else None
    if row is None:
        tables[section].pop(name, None)
    else:
        tables[section][name] = row


def _entry_of(board: Board, name: str) -> tuple[str, str] | None:
    """Give the entry that a name stands for, as section and name: of a step its sequence."""
    for section in ALL_SECTIONS:
        if name in getattr(board, section):
            return section, name
    for rule in board.rules.values():
        if name in _steps(rule):
            return "rules", rule.id
    return None


def _steps(rule: Rule) -> set[str]:
    return {step.name for step in rule.steps} if isinstance(rule, Sequence) else set()


def _known(board: Board) -> set[str]:
    found = {name for section in ALL_SECTIONS for name in getattr(board, section)}
    return found.union(*(_steps(rule) for rule in board.rules.values()))


def _missing(board: Board) -> tuple[str, str] | None:
    """Give an entry that speaks of what is not there, and the name."""
    known = _known(board)
    for owner, expression in expressions_of(board):
        for name in sorted(names_in([expression])):
            if name not in known and owner in known:
                return owner, name
    for speed_up in board.speed_ups.values():
        for name in speed_up.what:
            if name not in known:
                return speed_up.id, name
    for rule in board.rules.values():
        for setting in sorted(settings_of(rule) - set(board.settings)):
            return rule.id, setting
    return None

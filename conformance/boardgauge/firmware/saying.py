"""What a test says to a firmware's bench, in the words of its board's spec.

Law of this module: what the spec has no such word for is refused with what it has; nothing is guessed.
"""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from boardgauge.language import in_unit
from boardgauge.language.model import Board, InputKind
from boardgauge.language.problems import nearest_of
from boardgauge.language.quantity_reader import read_plain_time, read_quantity
from boardgauge.language.scope import ON_WORDS, STATES
from boardgauge.machine.run import POWER, Value

Time = int | str
"""Microseconds, or text as a spec has it."""
Said = Value | int | float | str


def value_said(board: Board, name: str, said: Said) -> Value:
    """Give the value of an input, or of the supply, that is said. Raises ValueError."""
    if name == POWER:
        return bool(said)
    check_known(board, name, board.inputs, "input")
    row = board.inputs[name]
    if row.kind is InputKind.SENSOR:
        if isinstance(said, str):
            return in_unit(read_quantity(said), row.unit or "").number
        return Fraction(str(said)) if isinstance(said, float) else Fraction(said)
    words = STATES[row.kind.value]
    if isinstance(said, str):
        if said not in words:
            raise ValueError(f"{name} is a {row.kind.value}: {' or '.join(words)}, not {said!r}")
        return said in ON_WORDS
    return bool(said)


def check_position(board: Board, name: str, position: str) -> None:
    """Raise ValueError where a setting has no such position."""
    check_known(board, name, board.settings, "setting")
    names = [p.name for p in board.settings[name].positions]
    if position not in names:
        raise ValueError(f"{name} has no position {position!r}; it has {', '.join(str(n) for n in names)}")


def check_known(board: Board, name: str, known: Iterable[str], what: str) -> None:
    """Raise ValueError where a name is not among those that are known."""
    names = list(known)
    if name not in names:
        near = nearest_of(name, names)
        raise ValueError(
            f"{board.id} has no {what} {name!r}; " + (f"did you mean {near!r}?" if near else ", ".join(names))
        )


def time_said(time: Time) -> int:
    """Give a time that is said, in microseconds."""
    return read_plain_time(time) if isinstance(time, str) else time

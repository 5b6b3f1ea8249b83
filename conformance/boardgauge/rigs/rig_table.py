"""A table of a rig file, and the values that stand in one.

Law of this module: whatever is wrong is noted with its place, and reading goes on.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from fractions import Fraction
from typing import TypeVar, cast

from attrs import define

from boardgauge.language.model import Spot
from boardgauge.language.nodes import Node
from boardgauge.language.problems import Problem, Unreadable, nearest_of
from boardgauge.language.quantity_reader import read_plain_time, read_quantity
from boardgauge.language.units import WrongUnit, in_unit

T = TypeVar("T")


@define
class Table:
    """One table of a rig file; what is wrong in it is noted and reading goes on."""

    path: str
    node: Node
    values: dict[str, Node]
    problems: list[Problem]

    def wrong(self, at: Spot, key: str, message: str, expected: str | None = None, nearest: str | None = None) -> None:
        """Note something wrong with a key."""
        self.problems.append(Problem(at, f"{self.path}.{key}" if self.path else key, message, expected, nearest))

    def only(self, keys: Iterable[str]) -> None:
        """Note every key that is not one of these."""
        known = tuple(keys)
        for name, node in self.values.items():
            if name not in known:
                near = nearest_of(name, known)
                expected = None if near else "one of " + ", ".join(known)
                self.wrong(node.key_at, name, "there is no such key here", expected, near)

    def take(self, name: str, default: T, read: Callable[[object], T], expected: str) -> T:
        """Read the value of a key, the default where it is absent or wrong."""
        node = self.values.get(name)
        if node is None:
            return default
        try:
            return read(node.value)
        except Unreadable as error:
            self.wrong(node.inside(error.at), name, error.message, error.expected or expected)
        except (TypeError, ValueError):
            self.wrong(node.at, name, f"{said(node.value)} cannot stand here", expected)
        return default

    def need(self, name: str, default: T, read: Callable[[object], T], expected: str) -> T:
        """Read the value of a key that must be there."""
        if name not in self.values:
            self.wrong(self.node.key_at, name, "the key is missing", expected)
        return self.take(name, default, read, expected)

    def inner(self, name: str) -> Table:
        """Give the table at a key; an empty one where there is none."""
        node = self.values.get(name)
        path = f"{self.path}.{name}" if self.path else name
        if node is None:
            return Table(path, self.node, {}, self.problems)
        if not isinstance(node.value, dict):
            self.wrong(node.at, name, f"{said(node.value)} stands where a table is needed", f"[{path}]")
            return Table(path, node, {}, self.problems)
        return Table(path, node, cast("dict[str, Node]", node.value), self.problems)


def said(value: object) -> str:
    """Give a value of a file as a message can show it."""
    return "a table" if isinstance(value, dict) else "a list" if isinstance(value, list) else repr(value)


def one_of(words: Iterable[str]) -> str:
    """Say what one may choose from."""
    return "one of " + ", ".join(f'"{word}"' for word in words)


def text(value: object) -> str:
    """Take a text that is not empty."""
    if not isinstance(value, str) or not value:
        raise TypeError
    return value


def texts(value: object) -> tuple[str, ...]:
    """Take a list of texts."""
    if not isinstance(value, list) or not value:
        raise TypeError
    return tuple(text(cast(Node, row).value) for row in value)


def yes(value: object) -> bool:
    """Take true or false."""
    if not isinstance(value, bool):
        raise TypeError
    return value


def whole(value: object) -> int:
    """Take a whole number, 0 or more."""
    if isinstance(value, bool) or not isinstance(value, int) or value < 0:
        raise TypeError
    return value


def between(least: int, most: int) -> Callable[[object], int]:
    """Take a whole number from ``least`` to ``most``."""

    def read(value: object) -> int:
        found = whole(value)
        if not least <= found <= most:
            raise ValueError
        return found

    return read


BAUD = between(1, 100_000_000)
"""Take how many bits a second go over a line; no port is faster than that."""


def number(value: object) -> Fraction:
    """Take a number, by its digits as written."""
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise TypeError
    return Fraction(repr(value))


def not_zero(value: object) -> Fraction:
    """Take a number other than 0."""
    found = number(value)
    if found == 0:
        raise ValueError
    return found


def above_zero(value: object) -> Fraction:
    """Take a number above 0."""
    found = number(value)
    if found <= 0:
        raise ValueError
    return found


def time(value: object) -> int:
    """Take a time, in microseconds."""
    return read_plain_time(text(value))


def quantity(unit: str, value: object) -> Fraction | None:
    """Take a number with its unit, in another unit."""
    try:
        return in_unit(read_quantity(text(value)), unit).number
    except WrongUnit as error:
        raise Unreadable(str(error)) from None


def part(value: object) -> Fraction:
    """Take a part, in ppm or percent, below a half."""
    found = re.fullmatch(r"\s*(\d+(?:\.\d+)?)\s*(ppm|%)\s*", text(value))
    if not found:
        raise ValueError
    error = Fraction(found.group(1)) / (100 if found.group(2) == "%" else 10**6)
    if error >= Fraction(1, 2):
        raise ValueError
    return error

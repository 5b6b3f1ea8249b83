"""Reading a short text from left to right: numbers, units, words, times.

Law of this module: a cursor moves over what it recognises and stands still otherwise, so its place is where reading
stopped. Every number is exact and of bounded length.
"""

from __future__ import annotations

import re
from fractions import Fraction

from boardgauge.language.problems import Unreadable
from boardgauge.language.quantities import MIN, MS, H, S

TIME_UNITS = {"ms": MS, "s": S, "min": MIN, "h": H}
LONGEST_TIME = 100_000 * H
LONGEST_NUMBER = 20

_NUMBER = re.compile(r"[0-9]+(?:\.[0-9]+)?")
_SIGNED = re.compile(r"[-+−]?[0-9]+(?:\.[0-9]+)?")
_UNIT = re.compile(r"[%°A-Za-zµμΩ][A-Za-z0-9%°µμΩ/²³]*")
_WORD = re.compile(r"[A-Za-z]+")
_A_TIME = 'a time, "90 s" or "5 min"'


class Cursor:
    """A place in a text that moves on over what it recognises."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.skip()

    def skip(self) -> None:
        while self.at < len(self.text) and self.text[self.at].isspace():
            self.at += 1

    @property
    def ended(self) -> bool:
        return self.at >= len(self.text)

    @property
    def rest(self) -> str:
        left = self.text[self.at :]
        return left if len(left) <= 30 else left[:27] + "..."

    def take(self, pattern: re.Pattern[str]) -> str | None:
        found = pattern.match(self.text, self.at)
        if found is None:
            return None
        self.at = found.end()
        self.skip()
        return found.group()

    def sign(self, *signs: str) -> str | None:
        for sign in signs:
            if self.text.startswith(sign, self.at):
                self.at += len(sign)
                self.skip()
                return sign
        return None

    def word(self, word: str) -> bool:
        found = _WORD.match(self.text, self.at)
        if found is None or found.group() != word:
            return False
        self.at = found.end()
        self.skip()
        return True

    def end(self, expected: str | None = None) -> None:
        if not self.ended:
            raise Unreadable(f"{self.rest!r} is left over", self.at, expected)


def take_number(cursor: Cursor, expected: str, *, signed: bool = False) -> Fraction:
    start = cursor.at
    text = cursor.take(_SIGNED if signed else _NUMBER)
    if text is None:
        raise Unreadable(_not_a_number(cursor), start, expected)
    if len(text) > LONGEST_NUMBER:
        raise Unreadable(f"the number has {len(text)} characters; {LONGEST_NUMBER} is the most", start)
    if cursor.text.startswith(",", cursor.at) and cursor.text[cursor.at + 1 : cursor.at + 2].isdecimal():
        raise Unreadable("a number is written with a point, 0.5, not with a comma", cursor.at)
    return Fraction(text.replace("−", "-"))


def _not_a_number(cursor: Cursor) -> str:
    return "a number is missing at the end" if cursor.ended else f"{cursor.rest!r} does not begin with a number"


def take_unit(cursor: Cursor, expected: str) -> str:
    start = cursor.at
    unit = cursor.take(_UNIT)
    if unit is None:
        raise Unreadable("the unit is missing", start, expected)
    return unit


def microseconds(number: Fraction, unit: str, at: int, unit_at: int) -> int:
    if unit not in TIME_UNITS:
        raise Unreadable(f"{unit!r} is no unit of time", unit_at, "ms, s, min or h")
    value = number * TIME_UNITS[unit]
    if value.denominator != 1:
        raise Unreadable("a time is a whole number of microseconds", at)
    if value > LONGEST_TIME:
        raise Unreadable("the time is longer than 100000 h", at)
    return int(value)


def take_time(cursor: Cursor, expected: str = _A_TIME) -> int:
    at = cursor.at
    number = take_number(cursor, expected)
    unit_at = cursor.at
    return microseconds(number, take_unit(cursor, "ms, s, min or h"), at, unit_at)

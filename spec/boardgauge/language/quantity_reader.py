"""Text to times, tolerances, quantities and lamp patterns.

Law of this module: what is read is exact (whole microseconds, fractions), or it is refused with a message and the
offset at which reading stopped. Nothing here knows a board.
"""

from __future__ import annotations

import re
from fractions import Fraction

from boardgauge.language.model import Blink, Dark, Flashes, Pattern, Steady
from boardgauge.language.problems import Unreadable
from boardgauge.language.quantities import EXACTLY, MIN, MS, Duration, H, Quantity, S, TimeRange, Tolerance
from boardgauge.language.units import convertible, difference_in_unit, in_unit

__all__ = [
    "convertible",
    "difference_in_unit",
    "in_unit",
    "read_accuracy",
    "read_blink",
    "read_dark_part",
    "read_pattern",
    "read_plain_time",
    "read_quantity",
    "read_time",
    "read_time_range",
    "read_tolerance",
]

TIME_UNITS = {"ms": MS, "s": S, "min": MIN, "h": H}
LONGEST_TIME = 100_000 * H
MOST_FLASHES = 100

_NUMBER = re.compile(r"[0-9]+(?:\.[0-9]+)?")
_SIGNED = re.compile(r"[-+−]?[0-9]+(?:\.[0-9]+)?")
UNIT_PATTERN = r"[%°A-Za-zµμΩ][A-Za-z0-9%°µμΩ/²³]*"
_UNIT = re.compile(UNIT_PATTERN)
_WORD = re.compile(r"[A-Za-z]+")
_A_TIME = 'a time, "90 s" or "5 min"'
_A_TOLERANCE = '"± 10 %", "± (4 % + 0.3 s)", "+15 s -5 s" or "exactly"'
_TWO_TOLERANCES = (
    "two ± in a row have two readings: add them, ± (4 % + 0.3 s), or take the greater, ± the greater of 4 % and 0.3 s? "
    "Only the first is in version 1"
)


class _Cursor:
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


def _number(cursor: _Cursor, expected: str, *, signed: bool = False) -> Fraction:
    start = cursor.at
    text = cursor.take(_SIGNED if signed else _NUMBER)
    if text is None:
        raise Unreadable(_not_a_number(cursor), start, expected)
    if len(text) > 20:
        raise Unreadable(f"the number has {len(text)} characters; 20 is the most", start)
    if cursor.text.startswith(",", cursor.at) and cursor.text[cursor.at + 1 : cursor.at + 2].isdecimal():
        raise Unreadable("a number is written with a point, 0.5, not with a comma", cursor.at)
    return Fraction(text.replace("−", "-"))


def _not_a_number(cursor: _Cursor) -> str:
    return "a number is missing at the end" if cursor.ended else f"{cursor.rest!r} does not begin with a number"


def _unit(cursor: _Cursor, expected: str) -> str:
    start = cursor.at
    unit = cursor.take(_UNIT)
    if unit is None:
        raise Unreadable("the unit is missing", start, expected)
    return unit


def _microseconds(number: Fraction, unit: str, at: int, unit_at: int) -> int:
    if unit not in TIME_UNITS:
        raise Unreadable(f"{unit!r} is no unit of time", unit_at, "ms, s, min or h")
    value = number * TIME_UNITS[unit]
    if value.denominator != 1:
        raise Unreadable("a time is a whole number of microseconds", at)
    if value > LONGEST_TIME:
        raise Unreadable("the time is longer than 100000 h", at)
    return int(value)


def _time(cursor: _Cursor, expected: str = _A_TIME) -> int:
    at = cursor.at
    number = _number(cursor, expected)
    unit_at = cursor.at
    return _microseconds(number, _unit(cursor, "ms, s, min or h"), at, unit_at)


def _percent(number: Fraction, at: int) -> Fraction:
    if number > 100:
        raise Unreadable("a tolerance of more than 100 % would let a time be less than nothing", at)
    return number / 100


def _part(cursor: _Cursor) -> tuple[Fraction, int]:
    """Read ``4 %`` or ``0.3 s``."""
    at = cursor.at
    number = _number(cursor, "a percentage or a time")
    if cursor.sign("%"):
        return _percent(number, at), 0
    unit_at = cursor.at
    return Fraction(0), _microseconds(number, _unit(cursor, "%, ms, s, min or h"), at, unit_at)


def _tolerance(cursor: _Cursor) -> Tolerance | None:
    """Read a tolerance if one begins here."""
    if cursor.word("exactly"):
        return EXACTLY
    if cursor.sign("±", "+-"):
        tolerance = _plus_minus(cursor)
        if cursor.text.startswith(("±", "+-"), cursor.at):
            raise Unreadable(_TWO_TOLERANCES, cursor.at)
        return tolerance
    if cursor.sign("+"):
        percent_more, more = _part(cursor)
        if not cursor.sign("-", "−"):
            raise Unreadable('the "-" part is missing', cursor.at, '"+15 s -5 s"')
        percent_less, less = _part(cursor)
        return Tolerance(percent_less, percent_more, less, more)
    return None


def _plus_minus(cursor: _Cursor) -> Tolerance:
    if cursor.word("the"):
        raise Unreadable('"the greater of" is not in version 1', cursor.at - 4, "parts that add, ± (4 % + 0.3 s)")
    if not cursor.sign("("):
        percent, time = _part(cursor)
        return Tolerance(percent, percent, time, time)
    at = cursor.at
    percent = _percent(_number(cursor, "a percentage"), at)
    if not cursor.sign("%"):
        raise Unreadable("the percentage comes first in the brackets", at, '"± (4 % + 0.3 s)"')
    if not cursor.sign("+"):
        raise Unreadable('the parts in the brackets are joined by "+"', cursor.at, '"± (4 % + 0.3 s)"')
    time = _time(cursor)
    if not cursor.sign(")"):
        raise Unreadable('the closing ")" is missing', cursor.at)
    return Tolerance(percent, percent, time, time)


def read_time(text: str) -> Duration:
    """Read a time, with its tolerance if it states one: ``"45 s ± (4 % + 0.3 s)"``. Raises Unreadable."""
    cursor = _Cursor(text)
    at = cursor.at
    first = _time(cursor)
    if cursor.word("to"):
        last = _time(cursor)
        cursor.end()
        return span(first, last, at)
    tolerance = _tolerance(cursor)
    cursor.end(_A_TOLERANCE if tolerance is None else None)
    return Duration(first, tolerance)


def span(first: int, last: int, at: int = 0) -> Duration:
    """Give the duration of a range; its nominal time is the middle (the lower of two, where there is no middle)."""
    if first > last:
        raise Unreadable("the first time of a range is the lesser", at)
    middle = (first + last) // 2
    return Duration(middle, Tolerance(less=middle - first, more=last - middle), span=True)


def read_plain_time(text: str) -> int:
    """Read a time that takes no tolerance, a limit such as ``responds_within``; microseconds. Raises Unreadable."""
    cursor = _Cursor(text)
    time = _time(cursor)
    at = cursor.at
    if not cursor.ended and (_tolerance(cursor) is not None or cursor.word("to")):
        raise Unreadable("this time is a limit and takes no tolerance", at)
    cursor.end()
    return time


def read_time_range(text: str) -> TimeRange:
    """Read two times, ``"40 ms to 150 ms"``. Raises Unreadable."""
    cursor = _Cursor(text)
    expected = '"40 ms to 150 ms"'
    at = cursor.at
    least = _time(cursor, expected)
    if not cursor.word("to"):
        raise Unreadable("the second time of the range is missing", cursor.at, expected)
    greatest = _time(cursor, expected)
    cursor.end()
    if least > greatest:
        raise Unreadable("the first time of a range is the lesser", at)
    return TimeRange(least, greatest)


def read_tolerance(text: str) -> Tolerance:
    """Read a tolerance alone, ``"± (4 % + 0.3 s)"``. Raises Unreadable."""
    cursor = _Cursor(text)
    tolerance = _tolerance(cursor)
    if tolerance is None:
        raise Unreadable("this is no tolerance", cursor.at, _A_TOLERANCE)
    cursor.end()
    return tolerance


def read_quantity(text: str) -> Quantity:
    """Read a number with its unit, ``"-2 °C"``. Raises Unreadable."""
    cursor = _Cursor(text)
    number = _number(cursor, 'a number with its unit, "-2 °C"', signed=True)
    unit = _unit(cursor, 'a number with its unit, "-2 °C"')
    cursor.end("a limit without a tolerance (the sensor's accuracy stands in its table)")
    return Quantity(number, unit)


def read_accuracy(text: str) -> Quantity:
    """Read how far a sensor may be off, ``"± 1 K"``. Raises Unreadable."""
    cursor = _Cursor(text)
    if not cursor.sign("±", "+-"):
        raise Unreadable('an accuracy begins with "±"', cursor.at, '"± 1 K"')
    number = _number(cursor, '"± 1 K"')
    unit = _unit(cursor, '"± 1 K"')
    cursor.end()
    return Quantity(number, unit)


def read_pattern(text: str) -> Pattern:
    """Read what a lamp shows: steady, dark, ``"1 s lit, 1 s dark"`` or ``"3 flashes"``. Raises Unreadable."""
    cursor = _Cursor(text)
    for word, pattern in (("steady", Steady()), ("dark", Dark())):
        if cursor.word(word):
            cursor.end()
            return pattern
    flashes = re.fullmatch(r"\s*([0-9]{1,9})\s+(flash|flashes)\s*", text)
    if flashes is None:
        return read_blink(text)
    number = int(flashes.group(1))
    if not 1 <= number <= MOST_FLASHES:
        raise Unreadable(f"a group has 1 to {MOST_FLASHES} flashes", cursor.at)
    return Flashes(number)


def read_blink(text: str) -> Blink:
    """Read ``"0.25 s lit, 0.25 s dark"``. Raises Unreadable."""
    cursor = _Cursor(text)
    expected = '"1 s lit, 1 s dark"'
    times = []
    for word in ("lit", "dark"):
        at = cursor.at
        times.append(_time(cursor, f'"steady", "dark", "3 flashes" or {expected}'))
        if not cursor.word(word):
            raise Unreadable(f"the word {word!r} is missing", cursor.at, expected)
        if times[-1] == 0:
            raise Unreadable(f"a {word} part lasts longer than nothing", at)
        if word == "lit" and not cursor.sign(","):
            raise Unreadable("the comma and the dark part are missing", cursor.at, expected)
    cursor.end()
    return Blink(*times)


def read_dark_part(text: str) -> int:
    """Read the dark between groups of flashes, ``"1.5 s dark"``; microseconds. Raises Unreadable."""
    cursor = _Cursor(text)
    time = _time(cursor, '"1.5 s dark"')
    if not cursor.word("dark"):
        raise Unreadable("the word 'dark' is missing", cursor.at, '"1.5 s dark"')
    cursor.end()
    if time == 0:
        raise Unreadable("the dark between groups lasts longer than nothing", 0)
    return time

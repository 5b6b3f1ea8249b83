"""Text to times, tolerances and quantities.

Law of this module: what is read is exact (whole microseconds, fractions), or it is refused with a message and the
offset at which reading stopped. Nothing here knows a board.
"""

from __future__ import annotations

from fractions import Fraction

from boardgauge.language.cursor import Cursor, microseconds, take_number, take_time, take_unit
from boardgauge.language.problems import Unreadable
from boardgauge.language.quantities import EXACTLY, Duration, Quantity, TimeRange, Tolerance

_A_TOLERANCE = '"± 10 %", "± (4 % + 0.3 s)", "+15 s -5 s" or "exactly"'
_TWO_TOLERANCES = (
    "two ± in a row have two readings: add them, ± (4 % + 0.3 s), or take the greater, ± the greater of 4 % and 0.3 s? "
    "Only the first is in version 1"
)


def _percent(number: Fraction, at: int) -> Fraction:
    if number > 100:
        raise Unreadable("a tolerance of more than 100 % would let a time be less than nothing", at)
    return number / 100


def _part(cursor: Cursor) -> tuple[Fraction, int]:
    """Read ``4 %`` or ``0.3 s``."""
    at = cursor.at
    number = take_number(cursor, "a percentage or a time")
    if cursor.sign("%"):
        return _percent(number, at), 0
    unit_at = cursor.at
    return Fraction(0), microseconds(number, take_unit(cursor, "%, ms, s, min or h"), at, unit_at)


def _tolerance(cursor: Cursor) -> Tolerance | None:
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


def _plus_minus(cursor: Cursor) -> Tolerance:
    if cursor.word("the"):
        raise Unreadable('"the greater of" is not in version 1', cursor.at - 4, "parts that add, ± (4 % + 0.3 s)")
    if not cursor.sign("("):
        percent, time = _part(cursor)
        return Tolerance(percent, percent, time, time)
    at = cursor.at
    percent = _percent(take_number(cursor, "a percentage"), at)
    if not cursor.sign("%"):
        raise Unreadable("the percentage comes first in the brackets", at, '"± (4 % + 0.3 s)"')
    if not cursor.sign("+"):
        raise Unreadable('the parts in the brackets are joined by "+"', cursor.at, '"± (4 % + 0.3 s)"')
    time = take_time(cursor)
    if not cursor.sign(")"):
        raise Unreadable('the closing ")" is missing', cursor.at)
    return Tolerance(percent, percent, time, time)


def read_time(text: str) -> Duration:
    """Read a time, with its tolerance if it states one: ``"45 s ± (4 % + 0.3 s)"``. Raises Unreadable."""
    cursor = Cursor(text)
    at = cursor.at
    first = take_time(cursor)
    if cursor.word("to"):
        last = take_time(cursor)
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
    cursor = Cursor(text)
    time = take_time(cursor)
    at = cursor.at
    if not cursor.ended and (_tolerance(cursor) is not None or cursor.word("to")):
        raise Unreadable("this time is a limit and takes no tolerance", at, 'one time, such as "200 ms"')
    cursor.end()
    return time


def read_time_range(text: str) -> TimeRange:
    """Read two times, ``"40 ms to 150 ms"``. Raises Unreadable."""
    cursor = Cursor(text)
    expected = '"40 ms to 150 ms"'
    at = cursor.at
    least = take_time(cursor, expected)
    if not cursor.word("to"):
        raise Unreadable("the second time of the range is missing", cursor.at, expected)
    greatest = take_time(cursor, expected)
    cursor.end()
    if least > greatest:
        raise Unreadable("the first time of a range is the lesser", at)
    return TimeRange(least, greatest)


def read_tolerance(text: str) -> Tolerance:
    """Read a tolerance alone, ``"± (4 % + 0.3 s)"``. Raises Unreadable."""
    cursor = Cursor(text)
    tolerance = _tolerance(cursor)
    if tolerance is None:
        raise Unreadable("this is no tolerance", cursor.at, _A_TOLERANCE)
    cursor.end()
    return tolerance


def read_quantity(text: str) -> Quantity:
    """Read a number with its unit, ``"-2 °C"``. Raises Unreadable."""
    cursor = Cursor(text)
    number = take_number(cursor, 'a number with its unit, "-2 °C"', signed=True)
    unit = take_unit(cursor, 'a number with its unit, "-2 °C"')
    cursor.end("a limit without a tolerance (the sensor's accuracy stands in its table)")
    return Quantity(number, unit)


def read_accuracy(text: str) -> Quantity:
    """Read how far a sensor may be off, ``"± 1 K"``. Raises Unreadable."""
    cursor = Cursor(text)
    if not cursor.sign("±", "+-"):
        raise Unreadable('an accuracy begins with "±"', cursor.at, '"± 1 K"')
    number = take_number(cursor, '"± 1 K"')
    unit = take_unit(cursor, '"± 1 K"')
    cursor.end()
    return Quantity(number, unit)

"""Numbers as they are written in a table, and exact times.

Law of this module: a time is taken from its digits, never through a float, so 0.1 s is 100,000 µs and nothing else.
"""

from __future__ import annotations

import math
import re
from datetime import date
from decimal import Decimal, InvalidOperation
from fractions import Fraction

import numpy as np
import numpy.typing as npt

_WORDS = {
    b"": math.nan, b"x": math.nan, b"z": math.nan, b"nan": math.nan,
    b"unknown": math.nan, b"?": math.nan, b"-": math.nan,
    b"0": 0.0, b"false": 0.0, b"off": 0.0, b"low": 0.0, b"l": 0.0,
    b"1": 1.0, b"true": 1.0, b"on": 1.0, b"high": 1.0, b"h": 1.0,
}  # fmt: skip
VALUE_WORDS = "a number, 0/1, true/false, on/off, high/low, or nothing, x, z or nan for not known"
_LONGEST = 100
"""The most characters of a time: exact arithmetic on millions of digits would never end."""
_POWERS = np.array([10**k for k in range(19)], dtype=np.int64)


def value_of(cell: bytes, comma: bool) -> float | None:
    """Give the value a cell stands for (NaN: not known), None if it stands for none."""
    text = cell.strip().lower()
    if text in _WORDS:
        return _WORDS[text]
    if comma:
        text = text.replace(b",", b".") if text.count(b",") == 1 and b"." not in text else text
    try:
        value = float(text)
    except ValueError:
        return None
    if b"_" in text:
        return None
    return value if math.isfinite(value) else math.nan


def decimals_to_micros(unit: Fraction) -> int | None:
    """Give how many decimals of a unit make it microseconds, None if it is not so many."""
    return {Fraction(10**6): 6, Fraction(10**3): 3, Fraction(1): 0}.get(unit)


def plain_micros(cell: bytes, digits: int | None) -> int | None:
    """Give the time of a cell quickly if it is a plain decimal and whole in microseconds; None if it may not be.

    ``digits`` is that of ``decimals_to_micros``.
    """
    whole, _, part = cell.partition(b".")
    if digits is None or not whole.isdigit() or len(whole) > 12 or len(part) > digits:
        return None
    if part and not part.isdigit():
        return None
    return int(whole + part.ljust(digits, b"0"))


def micros_of(cell: bytes, unit: Fraction, comma: bool) -> Fraction | None:
    """Give the exact time a cell stands for in microseconds, ``unit`` being microseconds a unit; None if it is none."""
    text = cell.strip().decode("ascii", "replace")
    if comma and "." not in text:
        text = text.replace(",", ".", 1)
    if "_" in text or len(text) > _LONGEST:
        return None
    try:
        number = Decimal(text)
    except InvalidOperation:
        return None
    if not number.is_finite() or number.adjusted() > 18 or number.adjusted() < -40:
        return Fraction(0) if number == 0 else None
    return Fraction(number) * unit


CLOCK = re.compile(
    rb"(?:(\d{4})[-/](\d\d)[-/](\d\d)[T ])?(\d\d):(\d\d):(\d\d)(?:[.,](\d{1,18}))?(?:Z|([+-])(\d\d):?(\d\d))?"
)


DAY = 86_400 * 10**6
"""Microseconds of a day."""


def is_time_of_day(cell: bytes) -> bool:
    """Tell whether a reading of a clock has no date."""
    return cell.strip()[2:3] == b":"


def clock_micros(cell: bytes) -> Fraction | None:
    """Give the exact time of a reading of a clock, ``2026-11-25T08:00:00.5`` or ``08:00:00``; None if it is none.

    With a date it counts from 1970, with an offset from UTC in UTC; the time of day alone counts from midnight.
    """
    found = CLOCK.fullmatch(cell.strip())
    if not found:
        return None
    year, month, day, hours, minutes, seconds, part, sign, off_hours, off_minutes = found.groups()
    if int(hours) > 23 or int(minutes) > 59 or int(seconds) > 59:
        return None
    days = 0
    if year:
        try:
            days = (date(int(year), int(month), int(day)) - date(1970, 1, 1)).days
        except ValueError:
            return None
    whole = ((days * 24 + int(hours)) * 60 + int(minutes)) * 60 + int(seconds)
    if sign:
        away = int(off_hours) * 3600 + int(off_minutes) * 60
        whole += away if sign == b"-" else -away
    return whole * 10**6 + (Fraction(int(part), 10 ** len(part)) * 10**6 if part else 0) * Fraction(1)


def plain_decimals(
    data: npt.NDArray[np.uint8], starts: npt.NDArray[np.int64], ends: npt.NDArray[np.int64], point: int
) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]] | None:
    """Read many plain decimals at once: whole mantissas and numbers of decimals; None if any is not plain.

    Plain is an optional minus, digits, and at most one point among them, at most 18 digits in all.
    """
    lengths = ends - starts
    if not len(starts) or lengths.min() < 1 or lengths.max() > 19:
        return None
    negative = data[starts] == 45
    mantissa = np.zeros(len(starts), dtype=np.int64)
    decimals = np.zeros(len(starts), dtype=np.int64)
    seen_point = np.zeros(len(starts), dtype=bool)
    digits = np.zeros(len(starts), dtype=np.int64)
    for offset in range(int(lengths.max())):
        inside = lengths > offset
        byte = data[np.minimum(starts + offset, len(data) - 1)]
        digit = inside & (byte >= 48) & (byte <= 57)
        dot = inside & (byte == point)
        sign = inside & negative if offset == 0 else np.zeros(len(starts), dtype=bool)
        if np.any(inside & ~digit & ~dot & ~sign) or np.any(dot & seen_point):
            return None
        mantissa = np.where(digit, mantissa * 10 + (byte.astype(np.int64) - 48), mantissa)
        digits += digit
        decimals += digit & seen_point
        seen_point |= dot
    if digits.min() < 1 or digits.max() > 18:
        return None
    return np.where(negative, -mantissa, mantissa), decimals


def floats_of(mantissa: npt.NDArray[np.int64], decimals: npt.NDArray[np.int64]) -> npt.NDArray[np.float64] | None:
    """Give the floats nearest to plain decimals; None where a mantissa is too long for one division to be exact."""
    if np.any(np.abs(mantissa) > 2**53):
        return None
    return np.asarray(mantissa / (10.0**decimals), dtype=np.float64)


def scaled_micros(
    mantissa: npt.NDArray[np.int64], decimals: npt.NDArray[np.int64], unit: Fraction
) -> tuple[npt.NDArray[np.int64], bool] | None:
    """Give whole microseconds, rounded down, and whether any was rounded; None where integers would not hold it."""
    most = int(decimals.max())
    scale = _POWERS[most - decimals]
    if np.any(np.abs(mantissa) > 2**60 // (scale * max(unit.numerator, 1))):
        return None
    whole = mantissa * scale * unit.numerator
    divisor = 10**most * unit.denominator
    if divisor >= 2**62:
        return None
    return whole // divisor, bool(np.any(whole % divisor))

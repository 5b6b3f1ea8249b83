"""Times and values that come as objects and not as text: from JSON, Parquet and Arrow.

Law of this module: a time is as exact as it was written down. A float stands for its shortest decimal, as it does in a
table of text, and what is finer than a microsecond is taken down to it and said to be.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from decimal import Decimal
from fractions import Fraction

import numpy as np
import numpy.typing as npt

from boardgauge.traces.decimals import clock_micros, micros_of, value_of
from boardgauge.traces.recording import MOST_TIME, Times, Values


def time_in(found: object, unit: Fraction) -> Fraction | None:
    """Give the exact time that an object stands for in microseconds; None if it stands for none.

    ``unit`` is microseconds a unit. A text is a number or, with a unit of seconds, the reading of a clock.
    """
    if isinstance(found, bool) or found is None:
        return None
    if isinstance(found, int):
        return found * unit if abs(found) < 10**30 else None
    if isinstance(found, (float, Decimal)):
        return micros_of(repr(found).encode() if isinstance(found, float) else str(found).encode(), unit, False)
    if isinstance(found, str):
        text = found.encode("utf-8", "replace")
        exact = micros_of(text, unit, False)
        return clock_micros(text) if exact is None and unit == 10**6 else exact
    return None


def value_in(found: object) -> float | None:
    """Give the value that an object stands for, NaN for not known; None if it stands for none."""
    if found is None:
        return math.nan
    if isinstance(found, str):
        return value_of(found.encode("utf-8", "replace"), False)
    if isinstance(found, (bool, int, float, Decimal)):
        return number_in(found)
    return None


def number_in(found: bool | int | float | Decimal) -> float:
    """Give a number as a channel holds it: one too long to be exact, or not finite, is not known."""
    if isinstance(found, int) and abs(found) > 2**53:
        return math.nan
    value = float(found)
    return value if math.isfinite(value) else math.nan


def floor_of(exact: Fraction) -> tuple[int, bool]:
    """Give whole microseconds, rounded down, and whether it was rounded."""
    whole = exact.numerator // exact.denominator
    return whole, whole != exact


def within(whole: int) -> bool:
    """Tell whether a recording may hold this time."""
    return -MOST_TIME <= whole <= MOST_TIME


def float_micros(times: npt.NDArray[np.float64], unit: Fraction) -> tuple[Times, bool] | None:
    """Give times in floats as whole microseconds, rounded down, and whether any was; None if one is no time.

    ``times`` may be 32-bit floats: these stand for their own shortest decimals.
    """
    if not len(times):
        return np.zeros(0, dtype=np.int64), False
    wide = times.astype(np.float64)
    if not np.all(np.isfinite(wide)) or float(np.abs(wide).max()) * float(unit) > MOST_TIME:
        return None
    rounded = False
    scale = float(unit)
    whole = np.rint(wide * scale)
    # A whole number of microseconds divided once is the float nearest to that decimal: then the decimal is meant.
    quick = (unit.denominator == 1) & (whole / scale == wide) & (np.abs(whole) < 2**52) & (times.dtype == np.float64)
    found: Times = whole.astype(np.int64)
    for index in np.flatnonzero(~quick).tolist():
        exact = time_in(float(str(times[index])), unit)
        if exact is None:
            return None
        found[index], inexact = floor_of(exact)
        rounded = rounded or inexact
    return found, rounded


def whole_micros(counts: npt.NDArray[np.int64], unit: Fraction) -> tuple[Times, bool] | None:
    """Give times counted in a unit as whole microseconds, rounded down, and whether any was; None beyond 64 bits."""
    if len(counts) and max(abs(int(counts.min())), abs(int(counts.max()))) > MOST_TIME * 10**3:
        return None
    if not len(counts):
        return counts, False
    most = max(abs(int(counts.min())), abs(int(counts.max())))
    if most * unit > MOST_TIME:
        return None
    if most * unit.numerator >= 2**62:
        exact = [floor_of(int(count) * unit) for count in counts.tolist()]
        return np.array([whole for whole, _ in exact], dtype=np.int64), any(inexact for _, inexact in exact)
    scaled = counts * unit.numerator
    return scaled // unit.denominator, bool(np.any(scaled % unit.denominator))


def values_in(found: Iterable[object]) -> Values | object:
    """Give the values that objects stand for, or the first object that stands for none."""
    known: dict[object, float] = {}
    values: list[float] = []
    for each in found:
        value = known.get(each)
        if value is None:
            read = value_in(each)
            if read is None:
                return each
            value = known[each] = read
        values.append(value)
    return np.array(values, dtype=np.float64)

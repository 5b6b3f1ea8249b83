"""Times, tolerances, quantities and lamp patterns to text.

Law of this module: reading what was written gives the same value again; a value that no text means is a ValueError.
"""

from __future__ import annotations

from fractions import Fraction

from boardgauge.language.model import Blink, Dark, Flashes, Pattern, Steady
from boardgauge.language.quantities import MIN, MS, Duration, H, Quantity, S, TimeRange, Tolerance


def write_number(number: Fraction | int) -> str:
    """Write a decimal number exactly. Raises ValueError for one that has no end (1/3)."""
    value = Fraction(number)
    rest, twos, fives = value.denominator, 0, 0
    while rest % 2 == 0:
        rest, twos = rest // 2, twos + 1
    while rest % 5 == 0:
        rest, fives = rest // 5, fives + 1
    if rest != 1:
        raise ValueError(f"{value} has no exact decimal form")
    places = max(twos, fives)
    if places == 0:
        return str(value.numerator)
    digits = str(abs(value.numerator) * 10**places // value.denominator).rjust(places + 1, "0")
    return f"{'-' if value < 0 else ''}{digits[:-places]}.{digits[-places:]}"


def write_plain_time(microseconds: int) -> str:
    """Write a time without a tolerance, in the unit people would use."""
    if microseconds and microseconds % H == 0:
        return f"{microseconds // H} h"
    if microseconds >= 2 * MIN and microseconds % MIN == 0:
        return f"{microseconds // MIN} min"
    if microseconds % S and microseconds < S:
        return f"{write_number(Fraction(microseconds, MS))} ms"
    return f"{write_number(Fraction(microseconds, S))} s"


def _part(percent: Fraction, time: int) -> str:
    if percent and time:
        raise ValueError("an uneven tolerance of a percentage and a time has no text")
    return f"{write_number(percent * 100)} %" if percent else write_plain_time(time)


def write_tolerance(tolerance: Tolerance) -> str:
    """Write a tolerance. Raises ValueError for one that the language cannot say."""
    if tolerance.exact:
        return "exactly"
    if (tolerance.percent_less, tolerance.less) != (tolerance.percent_more, tolerance.more):
        more = _part(tolerance.percent_more, tolerance.more)
        return f"+{more} -{_part(tolerance.percent_less, tolerance.less)}"
    if tolerance.percent_more and tolerance.more:
        percent = write_number(tolerance.percent_more * 100)
        return f"± ({percent} % + {write_plain_time(tolerance.more)})"
    return f"± {_part(tolerance.percent_more, tolerance.more)}"


def write_time(duration: Duration, usual: Tolerance | None = None) -> str:
    """Write a time; a tolerance equal to ``usual``, the one that applies by itself, is left out."""
    tolerance = duration.tolerance
    if duration.span and tolerance is not None:
        first, last = duration.nominal - tolerance.less, duration.nominal + tolerance.more
        return f"{write_plain_time(first)} to {write_plain_time(last)}"
    text = write_plain_time(duration.nominal)
    if tolerance is None or tolerance == usual:
        return text
    return f"{text} {write_tolerance(tolerance)}"


def write_time_range(times: TimeRange) -> str:
    """Write two times, ``40 ms to 150 ms``."""
    return f"{write_plain_time(times.least)} to {write_plain_time(times.greatest)}"


def write_quantity(quantity: Quantity) -> str:
    """Write a number with its unit."""
    return f"{write_number(quantity.number)} {quantity.unit}"


def write_accuracy(quantity: Quantity) -> str:
    """Write how far a sensor may be off."""
    return f"± {write_quantity(quantity)}"


def write_blink(blink: Blink) -> str:
    """Write ``0.25 s lit, 0.25 s dark``."""
    return f"{write_plain_time(blink.lit)} lit, {write_plain_time(blink.dark)} dark"


def write_pattern(pattern: Pattern) -> str:
    """Write what a lamp shows."""
    match pattern:
        case Steady():
            return "steady"
        case Dark():
            return "dark"
        case Blink():
            return write_blink(pattern)
        case Flashes(number=number):
            return "1 flash" if number == 1 else f"{number} flashes"

"""Say times and limits as a person with a stopwatch reads them.

Law of this module: a limit is printed as it is. One that is finer than a millisecond is rounded outwards, so that no
time inside it is ever printed as outside, and "about" says so.
"""

from __future__ import annotations

from fractions import Fraction

from boardgauge.language.quantities import MIN, MS, Duration, H, S
from boardgauge.language.quantity_writer import write_number, write_plain_time

_FINE = 10 * MS
UNITS = {MS: "ms", S: "s", MIN: "min", H: "h"}
_ABOUT = "about "


def rough_time(microseconds: int) -> str:
    """Give a time roughly, in one unit: ``42.9 s``, ``57.3 min``, ``250 ms``."""
    unit = unit_of(microseconds)
    places = 2 if unit == S and microseconds < 20 * S else 1 if unit != MS else 0
    return f"{write_number(round(Fraction(microseconds, unit), places))} {UNITS[unit]}"


def at_least(microseconds: int) -> str:
    """Give how long to wait, ``3 min 52.3 s``; never less, if it has to be rounded."""
    return _parts(_outwards(microseconds, True), _on_a_stopwatch(microseconds))


def time_range(shortest: int, longest: int) -> str:
    """Give two limits (microseconds), their unit once where it is the same; one time where they are the same.

    >>> time_range(42_900_000, 47_100_000), time_range(232_300_000, 247_700_000), time_range(25_000, 25_000)
    ('42.9 to 47.1 s', '3 min 52.3 s to 4 min 7.7 s', '25 ms')
    """
    if shortest == longest:
        return write_plain_time(shortest)
    # As a stopwatch is read: in minutes from two on, but seconds where only the greater limit is a little beyond.
    unit = MIN if shortest >= 2 * MIN and longest < 3 * H else unit_of(longest)
    low, high = _outwards(shortest, False), _outwards(longest, True)
    first, last = _parts(low, unit), _parts(high, unit)
    number, _, name = first.partition(" ")
    if not low or (" " not in name and last.count(" ") == 1 and last.endswith(f" {name}")):
        first = number
    return f"{_ABOUT if (low, high) != (shortest, longest) else ''}{first} to {last}"


def limits(duration: Duration) -> str:
    """Give the least and the greatest time, ``42.9 to 47.1 s``; ``exactly 90 s`` where they are the same."""
    if duration.shortest == duration.longest:
        return f"exactly {write_plain_time(duration.nominal)}"
    return time_range(duration.shortest, duration.longest)


def least(microseconds: int) -> str:
    """Give a lower limit by itself, ``3 min 52.3 s``."""
    return _limit(microseconds, False)


def most(microseconds: int) -> str:
    """Give an upper limit by itself, ``4 min 7.7 s``."""
    return _limit(microseconds, True)


def _limit(microseconds: int, up: bool) -> str:
    told = _outwards(microseconds, up)
    unit = S if told >= 100 * MS else MS
    return f"{_ABOUT if told != microseconds else ''}{_parts(told, max(unit, _on_a_stopwatch(told)))}"


def _on_a_stopwatch(microseconds: int) -> int:
    """Give the unit of a time by itself: minutes from two on, as in ``figures.stopwatch``."""
    return MIN if 2 * MIN <= microseconds < 3 * H else unit_of(microseconds)


def _outwards(microseconds: int, up: bool) -> int:
    """Round to what is printed: a millisecond, and a tenth of one below ten."""
    step = MS if microseconds >= _FINE else MS // 10
    return -(-microseconds // step) * step if up else microseconds // step * step


def _parts(microseconds: int, unit: int) -> str:
    """Give a time in a unit and, where it is hours or minutes, the smaller ones for what is over."""
    if unit in (MS, S):
        return f"{write_number(Fraction(microseconds, unit))} {UNITS[unit]}"
    said = []
    for part in (H, MIN):
        if part <= unit and microseconds >= part:
            said.append(f"{microseconds // part} {UNITS[part]}")
            microseconds %= part
    if microseconds or not said:
        said.append(f"{write_number(Fraction(microseconds, S))} s")
    return " ".join(said)


def unit_of(microseconds: int) -> int:
    """Give the unit (in microseconds) that a time is told in."""
    if microseconds >= 3 * H:
        return H
    if microseconds >= 3 * MIN:
        return MIN
    return MS if microseconds < S else S

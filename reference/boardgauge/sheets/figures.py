"""Print times as a person with a stopwatch reads them.

Law of this module: a time is rounded to what it can be measured to and never to less; units are always written. A limit
is never rounded (``drawings/time_words.py``).
"""

from __future__ import annotations

import re
from fractions import Fraction

from attrs import evolve

from boardgauge.drawings.time_words import limits
from boardgauge.language.quantities import MIN, MS, Duration, H, S
from boardgauge.language.quantity_writer import write_number

_WITH_UNIT = re.compile(r"(§|\d) (?=(?:ms|s|min|h|%|°C|°F|K|V)(?![A-Za-z])|\d)")


def stopwatch(microseconds: int) -> str:
    """Give a time as hours, minutes and seconds: ``40 ms``, ``0.25 s``, ``42.9 s``, ``3 min 52.3 s``, ``1 h 2 min``.

    From 20 s on to a tenth of a second, from 1 s on to a hundredth, below to a millisecond.
    """
    if 100 * MS <= microseconds < S:
        return f"{write_number(round(Fraction(microseconds, S), 3))} s"
    if microseconds < S:
        return f"{write_number(round(Fraction(microseconds, MS), 0 if microseconds >= 10 * MS else 1))} ms"
    places = 1 if microseconds >= 20 * S else 2
    step = S // 10**places
    rounded = (microseconds + step // 2) // step * step
    if rounded < 2 * MIN:
        return f"{write_number(Fraction(rounded, S))} s"
    parts = []
    if rounded >= 2 * H or rounded == H:
        parts.append(f"{rounded // H} h")
        rounded %= H
    if rounded >= MIN:
        parts.append(f"{rounded // MIN} min")
        rounded %= MIN
    if rounded:
        parts.append(f"{write_number(Fraction(rounded, S))} s")
    return " ".join(parts)


def with_limits(duration: Duration) -> str:
    """Give a time with its limits in brackets, ``45 s (42.9 to 47.1 s)``."""
    if duration.shortest == duration.longest:
        return f"{stopwatch(duration.nominal)} exactly"
    return f"{stopwatch(duration.nominal)} ({limits(duration)})"


def sped_up(duration: Duration, times_faster: int) -> Duration:
    """Give a duration under a speed-up: nominal time and percentage are shortened, the seconds beside them are not."""
    return evolve(duration, nominal=round(Fraction(duration.nominal, times_faster)))


def sentence(text: str) -> str:
    """Begin a text with a capital letter and end it with a full stop."""
    text = text.strip()
    if not text:
        return text
    begun = text[0].upper() + text[1:]
    return begun if begun[-1] in ".!?:" else f"{begun}."


def kept_together(text: str) -> str:
    """Give a text in which no line ends between a number and its unit, or between § and its clause."""
    return _WITH_UNIT.sub("\\1\u00a0", text)


def many(number: int, word: str) -> str:
    """Count things: ``1 run``, ``2 runs``."""
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


def joined(items: list[str] | tuple[str, ...], word: str = "and") -> str:
    """Join words as in a sentence: ``a, b and c``."""
    if len(items) < 2:
        return "".join(items)
    return f"{', '.join(items[:-1])} {word} {items[-1]}"

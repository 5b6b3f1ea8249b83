"""For how long two patterns of a lamp look alike, and what tells them apart.

Law of this module: an eye may begin to look at any moment, and takes each lit and dark stretch for as long as the
tolerance allows. Two patterns are alike for as long as some timing within it fits both. Times are microseconds.
"""

from __future__ import annotations

from math import ceil, floor

from attrs import frozen

from boardgauge.language.model import Blink, Dark, Flashes, Lamp, Pattern, Steady
from boardgauge.language.quantities import Duration, S

A_SHORT_LOOK = 1 * S
"""Patterns that are alike for so long or longer are told apart on a lamp card."""
_WINDOWS = (5, 10, 15, 20, 30, 60)
_TOO_QUICK = 3
"""More flashes in a second than an eye can count."""


@frozen
class Part:
    """One lit or dark stretch: the least and the greatest time it lasts, None where it has no end."""

    lit: bool
    least: int
    most: int | None


def cycle(lamp: Lamp, pattern: Pattern) -> tuple[Part, ...]:
    """Give the stretches of a pattern until it begins again."""
    match pattern:
        case Steady():
            return (Part(True, 0, None),)
        case Dark():
            return (Part(False, 0, None),)
        case Blink(lit=lit, dark=dark):
            return _part(lamp, True, lit), _part(lamp, False, dark)
        case Flashes(number=number):
            assert lamp.flash is not None, "the reader asks for flash where a line shows flashes"
            assert lamp.between_groups is not None, "the reader asks for between_groups where a line shows flashes"
            flash, gap = _part(lamp, True, lamp.flash.lit), _part(lamp, False, lamp.flash.dark)
            return (*(flash, gap) * (number - 1), flash, _part(lamp, False, lamp.between_groups))


def _part(lamp: Lamp, lit: bool, nominal: int) -> Part:
    lasts = Duration(nominal, lamp.tolerance)
    return Part(lit, lasts.shortest, lasts.longest)


def alike_for(one: tuple[Part, ...], other: tuple[Part, ...]) -> int | None:
    """Give the longest look in which two patterns cannot be told apart; None where no look ever does."""
    longest = 0
    for start in range(len(one)):
        for beside in range(len(other)):
            if one[start].lit == other[beside].lit:
                seen = _together(one, start, other, beside)
                if seen is None:
                    return None
                longest = max(longest, seen)
    return longest


def _together(one: tuple[Part, ...], start: int, other: tuple[Part, ...], beside: int) -> int | None:
    """Follow both from two stretches on; the first may have begun before the look, the last is only seen in part."""
    total = 0
    for step in range(2 * len(one) * len(other) + 1):
        a, b = one[(start + step) % len(one)], other[(beside + step) % len(other)]
        most = _shorter(a.most, b.most)
        if most is None:
            return None
        total += most
        if step and most < max(a.least, b.least):
            return total  # one goes over while the other cannot have ended
        if a.most is None or b.most is None:
            return total
    return None


def _shorter(one: int | None, other: int | None) -> int | None:
    if one is None or other is None:
        return one if other is None else other
    return min(one, other)


@frozen
class Counting:
    """How many flashes begin in a look of ``seconds``: the least and the most of each of two patterns."""

    seconds: int
    one: tuple[int, int]
    other: tuple[int, int]


def counting(one: tuple[Part, ...], other: tuple[Part, ...]) -> Counting | None:
    """Give the shortest look in which counting flashes tells two patterns apart, None where counting does not."""
    for seconds in _WINDOWS:
        a, b = flashes_in(one, seconds * S), flashes_in(other, seconds * S)
        if a[1] < b[0] or b[1] < a[0]:
            return Counting(seconds, a, b)
    return None


def flashes_in(pattern: tuple[Part, ...], time: int) -> tuple[int, int]:
    """Give the least and the most flashes that begin in a look of a time, whenever it begins."""
    if any(part.most is None for part in pattern):
        return (0, 1) if pattern[0].lit else (0, 0)
    number = sum(part.lit for part in pattern)
    shortest, longest = sum(part.least for part in pattern), sum(part.most or 0 for part in pattern)
    if shortest == 0:
        return floor(time / longest) * number, 10**9
    return floor(time / longest) * number, ceil(time / shortest) * number


def too_quick(pattern: tuple[Part, ...]) -> bool:
    """Tell whether the flashes come too quickly to be counted."""
    if any(part.most is None for part in pattern):
        return False
    number = sum(part.lit for part in pattern)
    return number * S > _TOO_QUICK * sum(part.least + (part.most or 0) for part in pattern) / 2 and number == 1


def whole_group(pattern: tuple[Part, ...]) -> int:
    """Give the longest time until one whole group was seen from its first flash on, whenever the look begins."""
    return 2 * sum(part.most or 0 for part in pattern)

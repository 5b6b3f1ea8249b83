"""What the lit and dark parts of a lamp's patterns may last.

Law of this module: each lit and each dark part lies in the lamp's tolerance on its own; nothing is known of the phase.
"""

from __future__ import annotations

from attrs import frozen

from boardgauge.language.model import Blink, Dark, Flashes, Lamp, Pattern, Steady
from boardgauge.language.quantities import Duration

Range = tuple[int, int]
"""Least and greatest length in microseconds."""


@frozen
class Parts:
    """The parts of one pattern. ``lit`` and ``dark`` are the lengths whole parts may have; none for a pattern without.

    For groups, ``number`` is that of the flashes, ``between`` the least dark part between groups, and ``pause`` the
    length from which on a dark part counts as one: two thirds of the pause, but more than any inside a group.
    """

    pattern: Pattern
    lit: tuple[Range, ...] = ()
    dark: tuple[Range, ...] = ()
    number: int | None = None
    between: int = 0
    pause: int = 0

    def longest(self, lit: bool) -> int | None:
        """Give the longest a lit (dark) stretch of it may last; None if for ever, -1 if it has none."""
        if isinstance(self.pattern, Steady if lit else Dark):
            return None
        return max((greatest for _, greatest in (self.lit if lit else self.dark)), default=-1)

    @property
    def shortest(self) -> int | None:
        """The shortest part of it, None if it never changes."""
        return min((least for least, _ in (*self.lit, *self.dark)), default=None)


def parts_of(pattern: Pattern, lamp: Lamp) -> Parts:
    """Give the parts of a pattern on a lamp."""

    def around(nominal: int) -> Range:
        duration = Duration(nominal, lamp.tolerance)
        return duration.shortest, duration.longest

    match pattern:
        case Blink(lit=lit, dark=dark):
            return Parts(pattern, (around(lit),), (around(dark),))
        case Flashes(number=number):
            if lamp.flash is None or lamp.between_groups is None:
                raise ValueError(f"lamp {lamp.id} shows groups of flashes but does not say what a flash is")
            flash, between = around(lamp.flash.dark), around(lamp.between_groups)
            pauses = (between,) if number == 1 else (flash, between)
            pause = min(max(flash[1] + 1, 2 * lamp.between_groups // 3), between[0])
            return Parts(pattern, (around(lamp.flash.lit),), pauses, number, between[0], pause)
    return Parts(pattern)


def seconds(microseconds: int) -> str:
    """Write a length for people: ``0.12 s``."""
    return f"{microseconds / 1_000_000:.3f}".rstrip("0").rstrip(".") + " s"

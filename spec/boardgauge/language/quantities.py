"""Times, tolerances and quantities, exactly.

Law of this module: time is a whole number of microseconds and a percentage is a fraction; no float takes part
in the meaning of a spec, so no rounding can move a limit.
"""

from __future__ import annotations

from fractions import Fraction

from attrs import frozen

US = 1
MS = 1_000
S = 1_000_000
MIN = 60 * S
H = 60 * MIN


@frozen
class Tolerance:
    """How far a time may be off: a percentage of the time, and seconds beside it.

    A time of nominal N may last anything from ``N - N*percent_less - less`` to ``N + N*percent_more + more``.
    ``percent_*`` are fractions of one (4 % is ``Fraction(4, 100)``); ``less`` and ``more`` are microseconds.
    A speed-up shortens the nominal time and the percentage with it, never ``less`` and ``more``.
    """

    percent_less: Fraction = Fraction(0)
    percent_more: Fraction = Fraction(0)
    less: int = 0
    more: int = 0

    @property
    def exact(self) -> bool:
        """Tell whether this allows nothing but the nominal time."""
        return self == EXACTLY


EXACTLY = Tolerance()


@frozen
class Duration:
    """A stretch of time with its tolerance.

    ``tolerance`` is None where the text states none of its own: the board's then applies (the reader puts it in,
    so a board that was read has none left). ``span`` keeps that the text was a range (``"28 s to 33 s"``).
    """

    nominal: int
    tolerance: Tolerance | None = None
    span: bool = False

    def _known(self) -> Tolerance:
        if self.tolerance is None:
            raise ValueError("a duration without a tolerance has no range; the board's must be put in first")
        return self.tolerance

    @property
    def percent_shortest(self) -> Fraction:
        """The least nominal part, in microseconds: what a speed-up shortens."""
        return self.nominal * (1 - self._known().percent_less)

    @property
    def percent_longest(self) -> Fraction:
        """The greatest nominal part, in microseconds."""
        return self.nominal * (1 + self._known().percent_more)

    @property
    def shortest(self) -> int:
        """The least the time may last, in whole microseconds (rounded down, so the range is never narrowed)."""
        value = self.percent_shortest - self._known().less
        return max(0, value.numerator // value.denominator)

    @property
    def longest(self) -> int:
        """The most the time may last, in whole microseconds (rounded up)."""
        value = self.percent_longest + self._known().more
        return -(-value.numerator // value.denominator)


@frozen
class Quantity:
    """A number with its unit, as written: ``-2 °C``, ``70 %``, ``480 mV``."""

    number: Fraction
    unit: str


@frozen
class TimeRange:
    """Two times, least and greatest, in microseconds: ``"40 ms to 150 ms"``."""

    least: int = 0
    greatest: int = 0

"""The four ways in which a sensor's curve is given: beta, Steinhart-Hart, a table, platinum.

Law of this module: every form gives ohms from a temperature in decimal arithmetic of 40 digits, so that a limit can be
bounded outward on far less than any meter or file can tell apart; the way back, for people and charts, is by floats.
All forms are monotone where they are used, and go on past their ends.

Formulas, T in kelvin, L the natural logarithm of R in ohms: beta R = R0 exp(B (1/T - 1/T0)); Steinhart and Hart
(Deep-Sea Research 15, 1968) 1/T = a + b L + c L³; platinum IEC 60751, t in °C, R = R0 (1 + A t + B t² + C (t - 100) t³)
with C below 0 °C only.
"""

from __future__ import annotations

from decimal import Decimal, localcontext
from fractions import Fraction
from typing import Protocol

import numpy as np
import numpy.typing as npt
from attrs import field, frozen

from boardgauge.sensors.amounts import ABSOLUTE_ZERO

Floats = npt.NDArray[np.float64]
DIGITS = 40
_ZERO = float(-ABSOLUTE_ZERO)


def decimal_of(number: Fraction) -> Decimal:
    """Give a fraction as a decimal of the precision in force."""
    return Decimal(number.numerator) / Decimal(number.denominator)


def _kelvin(celsius: Fraction) -> Decimal:
    return decimal_of(celsius - ABSOLUTE_ZERO)


class Form(Protocol):
    """What every form can do."""

    @property
    def falls(self) -> bool:
        """Tell whether the resistance falls as it gets warmer."""
        ...

    def ohms(self, celsius: Fraction) -> Decimal:
        """Give the resistance at a temperature."""
        ...

    def celsius(self, ohms: Floats) -> Floats:
        """Give the temperatures of resistances above nothing."""
        ...


@frozen
class Beta:
    """``at_ohms`` at the temperature ``at`` (°C), and beta (K) as measured between two temperatures (°C)."""

    at_ohms: Fraction
    at: Fraction
    beta: Fraction
    between: tuple[Fraction, Fraction]

    @property
    def falls(self) -> bool:
        """A thermistor with a beta falls."""
        return True

    def ohms(self, celsius: Fraction) -> Decimal:
        """Give the resistance at a temperature."""
        with localcontext(prec=DIGITS):
            inverse = 1 / _kelvin(celsius) - 1 / _kelvin(self.at)
            return decimal_of(self.at_ohms) * (decimal_of(self.beta) * inverse).exp()

    def celsius(self, ohms: Floats) -> Floats:
        """Give the temperatures of resistances."""
        inverse = np.log(ohms / float(self.at_ohms)) / float(self.beta) + 1 / (float(self.at) + _ZERO)
        return np.asarray(1 / inverse - _ZERO)


@frozen
class SteinhartHart:
    """The three coefficients, for ohms and kelvin; ``b`` above 0 and ``c`` not below, so the curve falls throughout."""

    a: Fraction
    b: Fraction
    c: Fraction

    @property
    def falls(self) -> bool:
        """A thermistor falls."""
        return True

    def ohms(self, celsius: Fraction) -> Decimal:
        """Give the resistance at a temperature."""
        with localcontext(prec=DIGITS):
            a, b, c = (decimal_of(number) for number in (self.a, self.b, self.c))
            wanted = 1 / _kelvin(celsius) - a
            # b L + c L³ rises throughout, and steeper the further from 0: Newton's steps from the outside close in.
            logarithm = wanted / b
            for _ in range(200):
                step = (b * logarithm + c * logarithm**3 - wanted) / (b + 3 * c * logarithm**2)
                logarithm -= step
                if abs(step) < Decimal(10) ** (5 - DIGITS):
                    break
            return logarithm.exp()

    def celsius(self, ohms: Floats) -> Floats:
        """Give the temperatures of resistances."""
        logarithm = np.log(ohms)
        return np.asarray(1 / (float(self.a) + float(self.b) * logarithm + float(self.c) * logarithm**3) - _ZERO)


@frozen
class Table:
    """Points (°C, ohms) from cold to warm. Between two points runs the beta line through them, or a straight one.

    The resistance rises throughout or falls throughout; the outermost lines go on past the ends.
    """

    points: tuple[tuple[Fraction, Fraction], ...]
    straight: bool
    _warm: tuple[Fraction, ...] = field(init=False, eq=False, repr=False)

    @_warm.default
    def _(self) -> tuple[Fraction, ...]:
        return tuple(celsius for celsius, _ in self.points)

    @property
    def falls(self) -> bool:
        """Tell which way the table runs."""
        return self.points[0][1] > self.points[-1][1]

    def ohms(self, celsius: Fraction) -> Decimal:
        """Give the resistance at a temperature; at a point, the point's own."""
        index = next((i for i, warm in enumerate(self._warm[1:], 1) if celsius <= warm), len(self._warm) - 1)
        (cold, first), (warm, last) = self.points[index - 1], self.points[index]
        with localcontext(prec=DIGITS):
            if self.straight:
                return decimal_of(first + (last - first) * (celsius - cold) / (warm - cold))
            if celsius == warm:
                return decimal_of(last)
            # A beta line: the logarithm is straight over 1/T.
            part = (1 / _kelvin(celsius) - 1 / _kelvin(cold)) / (1 / _kelvin(warm) - 1 / _kelvin(cold))
            return decimal_of(first) * (part * (decimal_of(last) / decimal_of(first)).ln()).exp()

    def celsius(self, ohms: Floats) -> Floats:
        """Give the temperatures of resistances, NaN beyond the ends."""
        celsius = np.array([float(c) for c, _ in self.points])
        known = np.array([float(r) for _, r in self.points])
        wanted = np.asarray(ohms, dtype=np.float64)
        if not self.straight:
            celsius, known, wanted = 1 / (celsius + _ZERO), np.log(known), np.log(wanted)
        order = np.argsort(known)
        found = np.interp(wanted, known[order], celsius[order], np.nan, np.nan)
        return np.asarray(found if self.straight else 1 / found - _ZERO)


IEC_A, IEC_B, IEC_C = Fraction("3.9083e-3"), Fraction("-5.775e-7"), Fraction("-4.183e-12")
"""The coefficients of IEC 60751, t in °C."""


@frozen
class Platinum:
    """A platinum sensor of ``at_zero`` ohms at 0 °C."""

    at_zero: Fraction

    @property
    def falls(self) -> bool:
        """Platinum rises."""
        return False

    def exactly(self, celsius: Fraction) -> Fraction:
        """Give the resistance, which is a fraction here."""
        below = IEC_C * (celsius - 100) * celsius**3 if celsius < 0 else Fraction(0)
        return self.at_zero * (1 + IEC_A * celsius + IEC_B * celsius**2 + below)

    def ohms(self, celsius: Fraction) -> Decimal:
        """Give the resistance at a temperature."""
        with localcontext(prec=DIGITS):
            return decimal_of(self.exactly(celsius))

    def celsius(self, ohms: Floats) -> Floats:
        """Give the temperatures of resistances: solved above 0 °C, closed in on from there below."""
        a, b, c = float(IEC_A), float(IEC_B), float(IEC_C)
        ratio = np.asarray(ohms, dtype=np.float64) / float(self.at_zero)
        with np.errstate(invalid="ignore"):
            found = (-a + np.sqrt(a * a - 4 * b * (1 - ratio))) / (2 * b)
        cold = ratio < 1
        t = found[cold] if found.ndim else found
        for _ in range(8):
            value = 1 + a * t + b * t**2 + c * (t - 100) * t**3 - ratio[cold]
            t = t - value / (a + 2 * b * t + c * (4 * t**3 - 300 * t**2))
        found[cold] = t
        return np.asarray(found)

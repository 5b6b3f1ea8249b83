"""A sensor's curve: its form, how far it reaches, and how far a sensor may be off it.

Law of this module: a bound is never on the inner side of the truth. What a formula gives is irrational, so least and
greatest are put outward by a part in 10**25, far below what a file's numbers can tell apart.
"""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np
from attrs import frozen

from boardgauge.sensors.amounts import ABSOLUTE_ZERO, Allowance
from boardgauge.sensors.forms import Beta, Floats, Form

_OUTWARD = Fraction(1, 10**25)
PAST = 20
"""So many kelvin past its ends a curve can still be asked for its limits."""


@frozen
class Curve:
    """A curve from ``low`` to ``high`` (°C).

    ``tolerance`` is the maker's for a new sensor. ``in_service`` is what one that has been in use may be off before it
    is condemned, None if nothing is said of that. ``beta_share`` is how far the beta itself may be off, as a fraction.
    """

    id: str
    title: str
    source: str
    form: Form
    low: Fraction
    high: Fraction
    tolerance: Allowance
    in_service: Allowance | None = None
    beta_share: Fraction = Fraction(0)
    file: str = ""

    @property
    def falls(self) -> bool:
        """Tell whether the resistance falls as it gets warmer, as an NTC's does."""
        return self.form.falls

    @property
    def condemns(self) -> Allowance:
        """What a sensor in use may be off before it is condemned."""
        return self.tolerance if self.in_service is None else self.in_service

    def ohms(self, celsius: Fraction) -> float:
        """Give the resistance at a temperature, for people."""
        return float(self.form.ohms(celsius))

    def bounds(self, celsius: Fraction, allowance: Allowance | None = None) -> tuple[Fraction, Fraction]:
        """Give the least and greatest ohms a sensor within an allowance (the maker's) has at a temperature."""
        allowed = self.tolerance if allowance is None else allowance
        shift = allowed.shift(celsius)
        ends = [celsius - shift, celsius + shift]
        lowest = ABSOLUTE_ZERO + 1
        values = [Fraction(self.form.ohms(max(lowest, end))) for end in ends]
        # So far past its colder end that a formula gives none, a sensor still has some resistance.
        least, greatest = max(Fraction(0), min(values)), max(values)
        if allowance is None and self.beta_share:
            spread = self._of_beta(celsius)
            least, greatest = least / spread, greatest * spread
        return least * (1 - allowed.share) * (1 - _OUTWARD), greatest * (1 + allowed.share) * (1 + _OUTWARD)

    def _of_beta(self, celsius: Fraction) -> Fraction:
        """Give the factor by which the resistance may be off because beta is; none where the resistance is stated."""
        assert isinstance(self.form, Beta)
        kelvin, at = celsius - ABSOLUTE_ZERO, self.form.at - ABSOLUTE_ZERO
        away = abs(1 / kelvin - 1 / at) * self.form.beta * self.beta_share
        return Fraction(math.exp(away)) * (1 + Fraction(1, 10**12))

    def celsius(self, ohms: Floats) -> Floats:
        """Give temperatures from resistances, NaN beyond the ends of the curve."""
        with np.errstate(all="ignore"):
            given = np.asarray(ohms, dtype=np.float64)
            found = self.form.celsius(np.where(given > 0, given, np.nan))
        slack = 1e-9
        outside = (found < float(self.low) - slack) | (found > float(self.high) + slack)
        return np.where(outside, np.nan, found)

    def celsius_of(self, ohms: Fraction) -> float | None:
        """Give the temperature that one resistance stands for, None beyond the ends of the curve."""
        found = float(self.celsius(np.array([float(ohms)]))[0])
        return None if math.isnan(found) else found

    def beta(self, first: Fraction, second: Fraction) -> float:
        """Give the beta (K) of the curve between two temperatures; another pair gives another."""
        over = float(1 / (first - ABSOLUTE_ZERO) - 1 / (second - ABSOLUTE_ZERO))
        return math.log(self.ohms(first) / self.ohms(second)) / over

"""A voltage divider: a fixed resistor and a sensor between the supply and ground, measured where they meet.

Law of this module: exact both ways. The sensor stands at the top (to the supply) or at the bottom (to ground); the
voltage is told in volts, or in counts of a converter whose full scale is the divider's own supply.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import product
from typing import Literal

from attrs import frozen

Position = Literal["top", "bottom"]


@frozen
class Divider:
    """``fixed`` ohms and ``supply`` volts, each with how far it may be off as a fraction of itself.

    With ``counts`` what is measured is counts: so many stand for the whole supply, whatever that is.
    """

    fixed: Fraction
    sensor: Position
    supply: Fraction = Fraction(1)
    fixed_share: Fraction = Fraction(0)
    supply_share: Fraction = Fraction(0)
    counts: int | None = None

    @property
    def whole(self) -> Fraction:
        """What is measured where the whole supply is across one part: volts, or counts."""
        return self.supply if self.counts is None else Fraction(self.counts)

    @property
    def rises(self) -> bool:
        """Tell whether what is measured rises with the sensor's resistance."""
        return self.sensor == "bottom"

    def measured(self, ohms: Fraction) -> Fraction:
        """Give the volts or counts at a resistance of the sensor."""
        return self._measured(ohms, self.fixed, self.whole)

    def measured_between(self, least: Fraction, greatest: Fraction) -> tuple[Fraction, Fraction]:
        """Give the least and greatest volts or counts of a sensor between two resistances, all parts in tolerance."""
        fixed = (self.fixed * (1 - self.fixed_share), self.fixed * (1 + self.fixed_share))
        off = Fraction(0) if self.counts is not None else self.supply_share
        whole = (self.whole * (1 - off), self.whole * (1 + off))
        found = [self._measured(*one) for one in product((least, greatest), fixed, whole)]
        return min(found), max(found)

    def _measured(self, ohms: Fraction, fixed: Fraction, whole: Fraction) -> Fraction:
        part = ohms if self.sensor == "bottom" else fixed
        return whole * part / (ohms + fixed)

    def ohms(self, measured: Fraction) -> Fraction | None:
        """Give the sensor's resistance from volts or counts, None where none gives that (at the rails and beyond)."""
        share = measured / self.whole
        if not 0 < share < 1:
            return None
        return self.fixed * (share / (1 - share) if self.sensor == "bottom" else (1 - share) / share)

    @property
    def unit(self) -> str:
        """What is measured: V, or counts."""
        return "V" if self.counts is None else "counts"

    def nominal(self) -> Divider:
        """Give the same divider with every part as marked."""
        return Divider(self.fixed, self.sensor, self.supply, counts=self.counts)

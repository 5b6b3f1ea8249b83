"""From what a channel holds of a sensor to its temperature, by the sensor's curve.

Law of this module: a limit is turned into the numbers of the channel, never the samples into degrees: then a comparison
rounds nothing. The curve's tolerance, the parts of the divider and the converter's steps widen the limit to two such
numbers, put outward; beyond both the comparison is certain, between them it is not known.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from fractions import Fraction
from typing import Literal

import numpy as np
import numpy.typing as npt
from attrs import evolve, frozen

from boardgauge.language.quantities import Quantity
from boardgauge.language.units import convertible, in_unit
from boardgauge.sensors.amounts import Allowance
from boardgauge.sensors.curve import PAST, Curve
from boardgauge.sensors.divider import Divider
from boardgauge.traces.recording import Times, Values

Bound = Fraction | float
"""A number of a channel; a float only where it is infinite: no number of the curve lies there."""

NOTHING = Allowance()


@frozen
class BySensor:
    """How numbers of a channel stand for a temperature in ``unit``: ohms, or volts or counts of a ``divider``.

    ``allowance`` stands in place of the tolerance of the curve. ``resolution`` is how far a number may be off, either
    way; ``leads`` are ohms in series with the sensor.
    """

    curve: Curve
    unit: str
    divider: Divider | None = None
    allowance: Allowance | None = None
    resolution: Fraction = Fraction(0)
    leads: Fraction = Fraction(0)

    @property
    def rises(self) -> bool:
        """Tell whether the numbers rise with the temperature."""
        return (self.divider is None or self.divider.rises) != self.curve.falls

    def nominal(self) -> BySensor:
        """Give the same with every part as marked, and nothing rounded."""
        divider = None if self.divider is None else self.divider.nominal()
        return evolve(self, divider=divider, allowance=NOTHING, resolution=Fraction(0))

    def bounds(self, limit: Fraction) -> tuple[Bound, Bound]:
        """Give the least and greatest number that a temperature (in ``unit``) may show as."""
        celsius = in_unit(Quantity(limit, self.unit), "°C").number
        if self.curve.low - PAST <= celsius <= self.curve.high + PAST:
            return self._numbers(celsius)
        beyond = math.inf if (celsius > self.curve.high) == self.rises else -math.inf
        return beyond, beyond

    def ends(self) -> tuple[Fraction, Fraction]:
        """Give the numbers at the two ends of the curve, the lesser first, every part as marked."""
        nominal = self.nominal()
        numbers = [number for end in (self.curve.low, self.curve.high) for number in nominal._numbers(end)]
        return min(numbers), max(numbers)

    def _numbers(self, celsius: Fraction) -> tuple[Fraction, Fraction]:
        least, greatest = self.curve.bounds(celsius, self.allowance)
        least, greatest = least + self.leads, greatest + self.leads
        if self.divider is not None:
            least, greatest = self.divider.measured_between(least, greatest)
        return least - self.resolution, greatest + self.resolution

    def values(self, numbers: Values) -> Values:
        """Give temperatures in ``unit`` for people and charts, NaN beyond the ends of the curve."""
        ohms = numbers
        if self.divider is not None:
            with np.errstate(all="ignore"):
                share = numbers / float(self.divider.whole)
                inside = (share > 0) & (share < 1)
                ratio = np.where(inside, share / (1 - share), np.nan)
                ohms = float(self.divider.fixed) * (ratio if self.divider.sensor == "bottom" else 1 / ratio)
        celsius = self.curve.celsius(ohms - float(self.leads))
        # Both scales are straight, so two of their temperatures fix the way between them.
        zero, one = (float(in_unit(Quantity(Fraction(t), "°C"), self.unit).number) for t in (0, 1))
        return np.asarray(celsius * (one - zero) + zero)

    def number(self, value: Fraction) -> float:
        """Give the number that a temperature (in ``unit``) shows as, every part as marked."""
        least, _ = self.nominal().bounds(value)
        return float(least)


def fits(unit: str | None) -> bool:
    """Tell whether a sensor in this unit can have a curve: it must be a temperature."""
    return unit is not None and convertible(unit, "°C")


@frozen
class Lost:
    """A stretch in which a sensor's number lies beyond its curve; times in microseconds."""

    kind: Literal["open sensor", "shorted sensor"]
    start: int
    end: int


def without_lost(
    times: Times, raw: Values, scale: Fraction, offset: Fraction, by: BySensor, end: int
) -> tuple[Values, tuple[Lost, ...]]:
    """Take numbers beyond the ends of the curve as not known, and tell where they were."""
    kind = beyond_ends(raw, scale, offset, by)
    if not kind.any():
        return raw, ()
    return np.where(kind > 0, np.nan, raw), tuple(_stretches(times, kind, end))


def beyond_ends(raw: Values, scale: Fraction, offset: Fraction, by: BySensor) -> npt.NDArray[np.int8]:
    """Tell where numbers are beyond the ends of a curve: 1 as if the sensor were open, 2 as if it were shorted."""
    first, second = ((bound - offset) / scale for bound in by.ends())
    least, greatest = float(min(first, second)), float(max(first, second))
    with np.errstate(invalid="ignore"):
        under, over = raw < least, raw > greatest
    more = (by.divider is None or by.divider.rises) == (scale > 0)
    return np.where(over if more else under, 1, np.where(under if more else over, 2, 0)).astype(np.int8)


def _stretches(times: Times, kind: npt.NDArray[np.int8], end: int) -> Iterator[Lost]:
    begins = np.flatnonzero(np.concatenate(([True], kind[1:] != kind[:-1])))
    stops = [*times[begins[1:]].tolist(), end]
    for index, stop in zip(begins.tolist(), stops, strict=True):
        if kind[index]:
            yield Lost("open sensor" if kind[index] == 1 else "shorted sensor", int(times[index]), int(stop))

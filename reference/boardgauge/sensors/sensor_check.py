"""Hold a measured resistance against a curve at a temperature.

Law of this module: the zones of ISO 14253-1. Inside the limits by more than the measuring uncertainty is good, outside
by more than it is bad, and between is doubtful: then the measurement is too coarse to say. The uncertainty is that of
the meter and of the thermometer together, each taken at its worst.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Any, Literal

from attrs import frozen

from boardgauge.sensors.amounts import Allowance
from boardgauge.sensors.curve import PAST, Curve

SensorVerdict = Literal["good", "doubtful", "bad", "open", "shorted"]
InsulationVerdict = Literal["good", "doubtful", "bad"]

METER = Fraction(1, 100)
THERMOMETER = Fraction(1, 2)
"""What a meter (a share of the reading) and a thermometer (K) are taken to be off: common practice, no source."""

CONDEMNED_BELOW = Fraction(1_000_000)
INSULATED_ABOVE = Fraction(10_000_000)
"""Ohms from a sensor's leads to the chassis: condemned below the first, sound above the second.

Common practice, no source: a leak of 1 MΩ beside 100 kΩ of sensor shifts its reading by a tenth, and what leaks there
has let water in.
"""


class BeyondTheCurve(ValueError):
    """The curve says nothing of a sensor at that temperature."""


@frozen
class SensorCheck:
    """What came of a check. Ohms and °C; ``ohms`` None is a reading beyond the meter's range.

    ``least`` to ``greatest`` is what a sensor within ``allowance`` has at the temperature; ``surely_least`` to
    ``surely_greatest`` what it must read to be good beyond doubt, empty where the uncertainty is wider than the limits;
    outside ``possibly_least`` to ``possibly_greatest`` it is bad beyond doubt. ``stands_for`` is the temperature that
    the resistance means on the curve, None beyond its ends.
    """

    verdict: SensorVerdict
    curve: str
    celsius: Fraction
    ohms: Fraction | None
    nominal: float
    allowance: Allowance
    least: Fraction
    greatest: Fraction
    surely_least: Fraction
    surely_greatest: Fraction
    possibly_least: Fraction
    possibly_greatest: Fraction
    meter: Fraction
    thermometer: Fraction
    stands_for: float | None

    @property
    def too_coarse(self) -> bool:
        """Tell whether no reading at all could be good beyond doubt."""
        return self.surely_least > self.surely_greatest

    def as_json(self) -> dict[str, Any]:
        """Give the check as plain values for ``json``."""
        return {
            "verdict": self.verdict,
            "curve": self.curve,
            "celsius": float(self.celsius),
            "ohms": None if self.ohms is None else float(self.ohms),
            "ohms_by_curve": self.nominal,
            "tolerance": str(self.allowance),
            "least": float(self.least),
            "greatest": float(self.greatest),
            "good_from": None if self.too_coarse else float(self.surely_least),
            "good_to": None if self.too_coarse else float(self.surely_greatest),
            "bad_below": float(self.possibly_least),
            "bad_above": float(self.possibly_greatest),
            "meter_percent": float(self.meter * 100),
            "thermometer_kelvin": float(self.thermometer),
            "celsius_of_reading": self.stands_for,
        }


def check_sensor(
    curve: Curve,
    celsius: Fraction,
    ohms: Fraction | None,
    allowance: Allowance | None = None,
    meter: Fraction = METER,
    thermometer: Fraction = THERMOMETER,
) -> SensorCheck:
    """Check a resistance measured at a temperature; ``ohms`` None is what a meter shows over its range.

    ``allowance`` is how far the sensor may be off: without one, what the curve says of a sensor in service.
    Raises BeyondTheCurve.
    """
    if not curve.low <= celsius <= curve.high:
        ends = f"{float(curve.low):g} °C to {float(curve.high):g} °C"
        raise BeyondTheCurve(f"{curve.id} says nothing of {float(celsius):g} °C: it runs from {ends}")
    allowed = _of(curve, allowance)
    least, greatest = curve.bounds(celsius, allowed)
    colder = curve.bounds(max(curve.low - PAST, celsius - thermometer), allowed)
    warmer = curve.bounds(min(curve.high + PAST, celsius + thermometer), allowed)
    inner = max(colder[0], warmer[0]), min(colder[1], warmer[1])
    outer = min(colder[0], warmer[0]), max(colder[1], warmer[1])
    surely = inner[0] / (1 - meter), inner[1] / (1 + meter)
    possibly = outer[0] / (1 + meter), outer[1] / (1 - meter)
    return SensorCheck(
        _verdict(curve, allowed, ohms, surely, possibly, meter),
        curve.id, celsius, ohms, curve.ohms(celsius), _shown(curve, allowance), least, greatest, *surely, *possibly,
        meter, thermometer, None if ohms is None else curve.celsius_of(ohms),
    )  # fmt: skip


def _of(curve: Curve, allowance: Allowance | None) -> Allowance | None:
    """Give the allowance to work with; None leaves the maker's, with that of a beta."""
    return allowance if allowance is not None else curve.in_service


def _shown(curve: Curve, allowance: Allowance | None) -> Allowance:
    return allowance if allowance is not None else curve.condemns


def _verdict(
    curve: Curve,
    allowed: Allowance | None,
    ohms: Fraction | None,
    surely: tuple[Fraction, Fraction],
    possibly: tuple[Fraction, Fraction],
    meter: Fraction,
) -> SensorVerdict:
    if ohms is None:
        return "open"
    ends = (curve.bounds(curve.low, allowed), curve.bounds(curve.high, allowed))
    if ohms * (1 - meter) > max(end[1] for end in ends):
        return "open"
    if ohms * (1 + meter) < min(end[0] for end in ends):
        return "shorted"
    if surely[0] <= ohms <= surely[1]:
        return "good"
    return "doubtful" if possibly[0] <= ohms <= possibly[1] else "bad"


def insulation_verdict(ohms: Fraction | None) -> InsulationVerdict:
    """Judge the resistance from a sensor's leads to the chassis; None is a reading over the meter's range."""
    if ohms is None or ohms >= INSULATED_ABOVE:
        return "good"
    return "bad" if ohms < CONDEMNED_BELOW else "doubtful"

"""A curve as a table of rows: what a chart prints and a technician reads.

Law of this module: the rows stand at whole steps of the scale asked for, and each number is rounded for reading, never
for deciding.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Any, Literal

from attrs import frozen

from boardgauge.language.quantities import Quantity
from boardgauge.language.units import in_unit
from boardgauge.sensors.amounts import Allowance
from boardgauge.sensors.curve import Curve
from boardgauge.sensors.divider import Divider
from boardgauge.sensors.forms import Beta

Scale = Literal["°C", "°F"]
MOST_ROWS = 1000
USUAL = (Fraction(-30), Fraction(100))
"""The temperatures (°C) a chart covers unless others are asked for, as far as its curve reaches."""


@frozen
class SensorRow:
    """One temperature: °C, °F, ohms by the curve and at the limits, volts or counts of the divider if there is one."""

    celsius: Fraction
    fahrenheit: Fraction
    ohms: float
    least: float
    greatest: float
    measured: float | None = None


@frozen
class SensorTable:
    """The rows of a curve from cold to warm, at whole steps of ``scale``."""

    curve: Curve
    rows: tuple[SensorRow, ...]
    scale: Scale
    step: Fraction
    allowance: Allowance
    divider: Divider | None = None

    @property
    def notes(self) -> tuple[str, ...]:
        """What a reader of the chart must know of its numbers."""
        found = []
        form = self.curve.form
        if isinstance(form, Beta):
            low, high = (f"{float(end):g} °C" for end in sorted(form.between))
            found.append(
                f"By a beta of {float(form.beta):g} K between {low} and {high}; away from them it is only near."
            )
        elif self.curve.falls:
            pairs = [(0, 25), (25, 50), (25, 85)]
            told = [
                f"{a}/{b} °C {self.curve.beta(Fraction(a), Fraction(b)):.1f} K"
                for a, b in pairs
                if self.curve.low <= a and b <= self.curve.high
            ]
            if told:
                found.append(f"Its beta, by the pair of temperatures: {', '.join(told)}.")
        return tuple(found)

    def as_json(self) -> dict[str, Any]:
        """Give the table as plain values for ``json``."""
        return {
            "curve": self.curve.id,
            "title": self.curve.title,
            "source": self.curve.source,
            "from_celsius": float(self.curve.low),
            "to_celsius": float(self.curve.high),
            "tolerance": str(self.allowance),
            "measured_in": None if self.divider is None else self.divider.unit,
            "rows": [
                {
                    "celsius": float(row.celsius),
                    "fahrenheit": float(row.fahrenheit),
                    "ohms": row.ohms,
                    "least": row.least,
                    "greatest": row.greatest,
                    "measured": row.measured,
                }
                for row in self.rows
            ],
        }


def sensor_table(
    curve: Curve,
    low: Fraction | None = None,
    high: Fraction | None = None,
    step: Fraction | None = None,
    scale: Scale = "°C",
    allowance: Allowance | None = None,
    divider: Divider | None = None,
) -> SensorTable:
    """Give the table of a curve from ``low`` to ``high`` (°C), every ``step`` degrees of ``scale``.

    ``allowance`` stands in place of the tolerance of a new sensor. Raises ValueError where there is nothing to show, or
    too much.
    """
    step = Fraction(5 if scale == "°C" else 10) if step is None else step
    cold = max(curve.low, min(USUAL[0], curve.high)) if low is None else low
    warm = min(curve.high, max(USUAL[1], curve.low)) if high is None else high
    for told, celsius in (("from", cold), ("to", warm)):
        if not curve.low <= celsius <= curve.high:
            ends = f"{in_words(curve.low, scale)} to {in_words(curve.high, scale)}"
            raise ValueError(f"--{told} {in_words(celsius, scale)}: {curve.id} runs from {ends}")
    if step <= 0:
        raise ValueError("--step: a step is above 0 degrees")
    first, last = (in_unit(Quantity(end, "°C"), scale).number for end in (cold, warm))
    if low is None:
        first = -(-first // step) * step
    if first > last:
        raise ValueError("there is no whole step between the two temperatures")
    number = (last - first) // step + 1
    if number > MOST_ROWS:
        raise ValueError(f"--step: this would be {number} rows; {MOST_ROWS} is the most")
    degrees = [in_unit(Quantity(first + index * step, scale), "°C").number for index in range(number)]
    rows = tuple(_row(curve, celsius, allowance, divider) for celsius in degrees)
    return SensorTable(curve, rows, scale, step, curve.tolerance if allowance is None else allowance, divider)


def _row(curve: Curve, celsius: Fraction, allowance: Allowance | None, divider: Divider | None) -> SensorRow:
    least, greatest = curve.bounds(celsius, allowance)
    ohms = Fraction(curve.form.ohms(celsius))
    measured = None if divider is None else float(divider.measured(ohms))
    fahrenheit = in_unit(Quantity(celsius, "°C"), "°F").number
    return SensorRow(celsius, fahrenheit, float(ohms), float(least), float(greatest), measured)


def in_words(celsius: Fraction, scale: Scale) -> str:
    """Say a temperature on a scale."""
    return f"{float(in_unit(Quantity(celsius, '°C'), scale).number):.6g} {scale}"


def ohms_in_words(ohms: float, figures: int = 4) -> str:
    """Say a resistance as it is said in the trade, with so many figures: 109.7 Ω, 9.800 kΩ, 1.200 MΩ."""
    for least, unit in ((1e6, "MΩ"), (1e3, "kΩ"), (0.0, "Ω")):
        # What rounds up to the next unit belongs to it.
        if float(f"{ohms:.{figures}g}") >= least:
            value = ohms / (least or 1)
            whole = len(str(int(float(f"{value:.{figures}g}")))) if value >= 1 else 1
            return f"{value:.{max(0, figures - whole)}f} {unit}"
    return f"{ohms:g} Ω"


def figures_of(curve: Curve) -> int:
    """Give how many figures its ohms are told with: platinum moves by a few thousandths a kelvin, and needs more."""
    return 4 if curve.falls else 5

"""The curve of a sensor as a picture: ohms upward, temperature across in °C and °F.

Law of this module: the line is worked out from the curve itself, not drawn through the rows of its table; the rows are
marked on it. Ohms that span more than two octaves stand by decades.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from fractions import Fraction

from attrs import frozen

from boardgauge.drawings.svg_text import line, path, rect, text, width_of
from boardgauge.sensors.chart_rows import SensorTable
from boardgauge.sensors.sensor_check import SensorCheck

_TEXT, _SMALL = 9.0, 7.5
_STEPS = 160


@frozen
class Plot:
    """The axes: temperature across, ohms upward, by decades where they span more than one."""

    left: float
    top: float
    right: float
    bottom: float
    cold: float
    warm: float
    least: float
    greatest: float
    decades: bool

    @classmethod
    def of(cls, table: SensorTable, left: float, top: float, width: float, height: float) -> Plot:
        """Lay the axes out in a rectangle, so that every row of a table lies between them."""
        cold, warm = float(table.rows[0].celsius), float(table.rows[-1].celsius)
        if cold == warm:
            cold, warm = cold - 1, warm + 1
        values = [value for row in table.rows for value in (row.least, row.greatest)]
        least, greatest = min(values), max(values)
        decades = greatest > 4 * least
        if decades:
            least, greatest = _tick_below(least), _tick_above(greatest)
        else:
            step = _step(greatest - least)
            least, greatest = math.floor(least / step) * step, math.ceil(greatest / step) * step
        return cls(left + 52, top + 12, left + width - 8, top + height - 24, cold, warm, least, greatest, decades)

    def x(self, celsius: float) -> float:
        """Give where a temperature is drawn."""
        return self.left + (celsius - self.cold) / (self.warm - self.cold) * (self.right - self.left)

    def y(self, ohms: float) -> float:
        """Give where a resistance is drawn."""
        low, high, value = (math.log10(v) if self.decades else v for v in (self.least, self.greatest, ohms))
        return self.bottom - (value - low) / (high - low) * (self.bottom - self.top)

    def drawn(self, table: SensorTable, check: SensorCheck | None) -> Iterator[str]:
        """Give the axes, the curve, the rows on it, and the measured point if there is one."""
        yield from self._axes()
        points = []
        for index in range(_STEPS + 1):
            celsius = self.cold + (self.warm - self.cold) * index / _STEPS
            if table.curve.low <= Fraction(celsius) <= table.curve.high:
                points.append((self.x(celsius), self.y(table.curve.ohms(Fraction(celsius)))))
        yield path(points, 'class="curve" fill="none" stroke="black" stroke-width="1.5" stroke-linejoin="round"')
        for row in table.rows:
            x, y = self.x(float(row.celsius)), self.y(row.ohms)
            stroke = 'fill="white" stroke="black" stroke-width="0.8"'
            yield f'<circle class="row" cx="{x:.2f}" cy="{y:.2f}" r="1.7" {stroke}/>'
        if check is not None:
            yield from self._measured(check)

    def _measured(self, check: SensorCheck) -> Iterator[str]:
        """Mark the measured point by a cross, at the edge of the picture where it lies beyond."""
        if not self.cold <= float(check.celsius) <= self.warm:
            return
        ohms = self.greatest if check.ohms is None else float(check.ohms)
        x, y = self.x(float(check.celsius)), self.y(min(max(ohms, self.least), self.greatest))
        for sign in (1, -1):
            yield line(x - 5, y - 5 * sign, x + 5, y + 5 * sign, 1.8, ' class="measured"')
        words = f"measured: {check.verdict}"
        side = -1 if x + 12 + width_of(words, _TEXT) > self.right else 1
        anchor = ' text-anchor="end"' if side < 0 else ""
        yield text(words, x + 9 * side, y - 6, _TEXT, f' font-weight="bold"{anchor}', halo=True)

    def _axes(self) -> Iterator[str]:
        for ohms in _decades(self.least, self.greatest) if self.decades else _evenly(self.least, self.greatest):
            y = self.y(ohms)
            yield line(self.left, y, self.right, y, 0.5, ' class="grid" stroke-opacity="0.25"')
            yield text(_round_ohms(ohms), self.left - 5, y + 2.6, _SMALL, ' text-anchor="end"')
        for celsius in _evenly(self.cold, self.warm):
            x = self.x(celsius)
            yield line(x, self.top, x, self.bottom, 0.5, ' class="grid" stroke-opacity="0.25"')
            yield line(x, self.bottom, x, self.bottom + 3, 0.8)
            yield text(minus(f"{celsius:g}"), x, self.bottom + 11, _SMALL, ' text-anchor="middle"')
        for fahrenheit in _evenly(self.cold * 1.8 + 32, self.warm * 1.8 + 32):
            x = self.x((fahrenheit - 32) / 1.8)
            yield line(x, self.top - 3, x, self.top, 0.8)
            yield text(minus(f"{fahrenheit:g}"), x, self.top - 5, _SMALL, ' text-anchor="middle"')
        frame = 'fill="none" stroke="black" stroke-width="0.8"'
        yield rect(self.left, self.top, self.right - self.left, self.bottom - self.top, frame)
        middle = (self.left + self.right) / 2
        for words, y in (("°C", self.bottom + 21), ("°F", self.top - 14)):
            yield text(words, middle, y, _SMALL, ' text-anchor="middle" font-style="italic"')


def minus(number: str) -> str:
    """Write a number with the sign that is as wide as its digits."""
    return number.replace("-", "−")


def _step(span: float) -> float:
    """Give a round step that parts a span in four to ten."""
    power = 10.0 ** math.floor(math.log10(span / 4))
    return max(digits * power for digits in (1, 2, 5) if digits * power <= span / 4)


def _evenly(low: float, high: float) -> list[float]:
    step = _step(high - low)
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return [round(index * step, 9) for index in range(first, last + 1)]


def _decades(least: float, greatest: float) -> list[float]:
    """Give 1, 2 and 5 of every decade; of many decades, the 1 alone."""
    digits = (1, 2, 5) if math.log10(greatest / least) < 3.5 else (1,)
    powers = range(math.floor(math.log10(least) + 1e-9), math.ceil(math.log10(greatest)) + 1)
    found = [digit * 10.0**power for power in powers for digit in digits]
    return [value for value in found if least * 0.999 <= value <= greatest * 1.001]


def _tick_below(ohms: float) -> float:
    power = 10.0 ** math.floor(math.log10(ohms))
    return max(digit * power for digit in (1, 2, 5) if digit * power <= ohms)


def _tick_above(ohms: float) -> float:
    power = 10.0 ** math.floor(math.log10(ohms))
    return min(digit * power for digit in (1, 2, 5, 10) if digit * power >= ohms)


def _round_ohms(ohms: float) -> str:
    for least, unit in ((1e6, "MΩ"), (1e3, "kΩ"), (0, "Ω")):
        if ohms >= least * 0.9999:
            return f"{ohms / (least or 1):g} {unit}"
    return f"{ohms:g} Ω"

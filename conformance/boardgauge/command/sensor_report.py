"""Say a sensor's check and its chart in words, for a terminal.

Law of this module: it adds nothing to the values; every line of numbers says what they are.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from fractions import Fraction

from boardgauge.sensors.chart_rows import SensorTable, figures_of, ohms_in_words
from boardgauge.sensors.curve import Curve
from boardgauge.sensors.library import curve_names, find_curve
from boardgauge.sensors.sensor_check import SensorCheck, check_sensor
from boardgauge.sensors.sensor_words import CAUTIONS, CHECKING, INSULATING

_MEANS = {
    "good": "within its limits beyond doubt",
    "doubtful": "within the uncertainty of meter and thermometer of a limit",
    "bad": "outside its limits beyond doubt",
    "open": "more resistance than the curve has anywhere: a break, or a bad plug",
    "shorted": "less resistance than the curve has anywhere",
}


def checked(curve: Curve, check: SensorCheck) -> Iterator[str]:
    """Give the lines of a check: the verdict first."""
    figures = figures_of(curve)

    def say(ohms: Fraction | float) -> str:
        return ohms_in_words(float(ohms), figures)

    at = f"{float(check.celsius):g} °C ({float(check.celsius) * 1.8 + 32:z.4g} °F)"
    measured = "over the meter's range" if check.ohms is None else say(check.ohms)
    yield f"{check.verdict}: {_MEANS[check.verdict]}"
    yield f"  measured  {measured} at {at}"
    if check.stands_for is not None:
        yield f"            which stands for {check.stands_for:z.1f} °C ({check.stands_for * 1.8 + 32:z.1f} °F)"
    yield f"  by curve  {say(check.nominal)} ({curve.id})"
    yield f"  limits    {say(check.least)} to {say(check.greatest)} ({check.allowance})"
    if check.too_coarse:
        yield "  good      nothing is, beyond doubt: meter and thermometer are too coarse for these limits;"
        yield "            a closer --meter and --thermometer (stirred ice water is 0 °C), or a wider --tolerance"
    else:
        yield f"  good      {say(check.surely_least)} to {say(check.surely_greatest)}"
    yield f"  bad       below {say(check.possibly_least)}, above {say(check.possibly_greatest)}"
    if others := _others(curve, check):
        yield f"  perhaps   another kind of sensor is fitted: it would be good as {' or '.join(others)}"
    yield f"  taken     meter ± {float(check.meter * 100):g} %, thermometer ± {float(check.thermometer):g} K"


def _others(curve: Curve, check: SensorCheck) -> list[str]:
    """Give the other curves that ship on which a sensor that is bad on this one would be good."""
    if check.verdict != "bad":
        return []
    found = []
    for other in map(find_curve, curve_names()):
        if other.id != curve.id and other.low <= check.celsius <= other.high:
            again = check_sensor(other, check.celsius, check.ohms, None, check.meter, check.thermometer)
            found += [other.id] if again.verdict == "good" else []
    return found


def chart(table: SensorTable) -> Iterator[str]:
    """Give the lines of a chart: the table, how to check the sensor, and the cautions."""
    curve, figures = table.curve, figures_of(table.curve)
    yield curve.title
    yield from filled(f"Source: {curve.source}")
    yield f"Least and greatest: a new sensor, {table.allowance}."
    yield from table.notes
    yield ""
    unit = None if table.divider is None else table.divider.unit
    yield f"{'°C':>7} {'°F':>7} {'by the curve':>13} {'least':>11} {'greatest':>11}" + (f" {unit:>8}" if unit else "")
    for row in table.rows:
        ohms = [ohms_in_words(value, figures) for value in (row.ohms, row.least, row.greatest)]
        line = f"{float(row.celsius):7.1f} {float(row.fahrenheit):7.1f} {ohms[0]:>13} {ohms[1]:>11} {ohms[2]:>11}"
        if row.measured is not None:
            line += f" {row.measured:8.3f}" if unit == "V" else f" {row.measured:8.0f}"
        yield line
    for heading, steps in (("To check the sensor", CHECKING), ("Leads to chassis", INSULATING)):
        yield ""
        yield heading
        for number, step in enumerate(steps, 1):
            yield from filled(step, f"{number}. ")
    yield ""
    yield from filled(f"Caution: {CAUTIONS}")


def filled(words: str, first: str = "") -> Iterator[str]:
    """Give a text in lines of a terminal."""
    yield from textwrap.wrap(
        " ".join(words.split()), 96, initial_indent=first, subsequent_indent=" " * len(first), break_on_hyphens=False
    )

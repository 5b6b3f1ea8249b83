"""Sensors by their resistance: thermistors and platinum, their curves, dividers, checks and charts.

Law of this package: it knows resistance and temperature and no board. A limit is bounded outward; everything else is
for people to read. Importing it is light.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from boardgauge.sensors.amounts import Allowance
    from boardgauge.sensors.chart_rows import SensorTable, sensor_table
    from boardgauge.sensors.curve import Curve
    from boardgauge.sensors.curve_reader import BadCurve, curve_from, read_curve
    from boardgauge.sensors.divider import Divider
    from boardgauge.sensors.library import UnknownCurve, curve_names, find_curve
    from boardgauge.sensors.sensor_check import SensorCheck, check_sensor

__all__ = [
    "Allowance",
    "BadCurve",
    "Curve",
    "Divider",
    "SensorCheck",
    "SensorTable",
    "UnknownCurve",
    "check_sensor",
    "curve_from",
    "curve_names",
    "find_curve",
    "read_curve",
    "sensor_table",
]

_HOMES = {
    "amounts": ("Allowance",),
    "curve": ("Curve",),
    "curve_reader": ("BadCurve", "curve_from", "read_curve"),
    "divider": ("Divider",),
    "library": ("UnknownCurve", "curve_names", "find_curve"),
    "sensor_check": ("SensorCheck", "check_sensor"),
    "chart_rows": ("SensorTable", "sensor_table"),
}


def __getattr__(name: str) -> object:
    for module, names in _HOMES.items():
        if name in names:
            return getattr(import_module(f"{__name__}.{module}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted(__all__)

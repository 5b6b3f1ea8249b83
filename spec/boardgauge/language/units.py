"""Units of what a sensor measures, and exact conversion between those of one kind.

Law of this module: a conversion is a fraction and an offset, never a float. A unit that is not in the table is
allowed on a sensor, but converts to nothing but itself.

Figures: 1 in = 25.4 mm and 1 lb = 0.45359237 kg exactly (international yard and pound agreement, 1959), standard
gravity 9.80665 m/s², 0 °C = 273.15 K, a degree Fahrenheit is 5/9 K with 32 °F = 0 °C.
"""

from __future__ import annotations

from fractions import Fraction

from attrs import frozen

from boardgauge.language.quantities import Quantity


@frozen
class Unit:
    """A unit: ``value in base unit = number * scale + offset``."""

    kind: str
    scale: Fraction
    offset: Fraction = Fraction(0)


_POUND_FORCE = Fraction("0.45359237") * Fraction("9.80665")
_ZERO_CELSIUS = Fraction("273.15")
_FAHRENHEIT = Fraction(5, 9)

UNITS: dict[str, Unit] = {
    "K": Unit("temperature", Fraction(1)),
    "°C": Unit("temperature", Fraction(1), _ZERO_CELSIUS),
    "°F": Unit("temperature", _FAHRENHEIT, _ZERO_CELSIUS - 32 * _FAHRENHEIT),
    "%": Unit("share", Fraction(1)),
    "uV": Unit("voltage", Fraction(1, 1_000_000)),
    "mV": Unit("voltage", Fraction(1, 1000)),
    "V": Unit("voltage", Fraction(1)),
    "uA": Unit("current", Fraction(1, 1_000_000)),
    "mA": Unit("current", Fraction(1, 1000)),
    "A": Unit("current", Fraction(1)),
    "Ω": Unit("resistance", Fraction(1)),
    "kΩ": Unit("resistance", Fraction(1000)),
    "MΩ": Unit("resistance", Fraction(1_000_000)),
    "Hz": Unit("frequency", Fraction(1)),
    "kHz": Unit("frequency", Fraction(1000)),
    "rpm": Unit("frequency", Fraction(1, 60)),
    "W": Unit("power", Fraction(1)),
    "kW": Unit("power", Fraction(1000)),
    "Pa": Unit("pressure", Fraction(1)),
    "hPa": Unit("pressure", Fraction(100)),
    "kPa": Unit("pressure", Fraction(1000)),
    "mbar": Unit("pressure", Fraction(100)),
    "bar": Unit("pressure", Fraction(100_000)),
    "psi": Unit("pressure", _POUND_FORCE / Fraction("0.0254") ** 2),
}

_SPELLINGS = {"µV": "uV", "μV": "uV", "µA": "uA", "μA": "uA", "ohm": "Ω", "Ohm": "Ω", "Ω": "Ω"}


class WrongUnit(ValueError):
    """The quantity cannot be told in the unit asked for."""


def _unit(name: str) -> Unit | None:
    return UNITS.get(_SPELLINGS.get(name, name))


def convertible(from_unit: str, to_unit: str) -> bool:
    """Tell whether quantities of one unit can be told in the other."""
    if from_unit == to_unit:
        return True
    ours, theirs = _unit(from_unit), _unit(to_unit)
    return ours is not None and theirs is not None and ours.kind == theirs.kind


def in_unit(quantity: Quantity, unit: str) -> Quantity:
    """Give the quantity in another unit of its kind, exactly: 14 °C is 287/5 °F. Raises WrongUnit."""
    return Quantity(_convert(quantity, unit, difference=False), unit)


def difference_in_unit(quantity: Quantity, unit: str) -> Quantity:
    """Give a difference (an accuracy, a hysteresis) in another unit: 1 K is 9/5 °F, no 32 added. Raises WrongUnit."""
    return Quantity(_convert(quantity, unit, difference=True), unit)


def _convert(quantity: Quantity, unit: str, *, difference: bool) -> Fraction:
    if quantity.unit == unit:
        return quantity.number
    ours, theirs = _unit(quantity.unit), _unit(unit)
    if ours is None or theirs is None or ours.kind != theirs.kind:
        raise WrongUnit(f"{quantity.unit} cannot be told in {unit}")
    if difference:
        return quantity.number * ours.scale / theirs.scale
    return (quantity.number * ours.scale + ours.offset - theirs.offset) / theirs.scale

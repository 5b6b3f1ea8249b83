"""Tell a board's temperatures in the unit its reader thinks in.

Law of this module: what the board does is not changed, only how its figures read. A temperature is converted exactly
and printed to a tenth of a degree; a difference never gets the 32 added. Other quantities are left as they are written.
"""

from __future__ import annotations

import re
from fractions import Fraction
from typing import Any, Literal, TypeVar, cast

import attrs

from boardgauge.language.expressions import Comparison
from boardgauge.language.model import Input, Note
from boardgauge.language.quantities import Quantity
from boardgauge.language.quantity_writer import write_number
from boardgauge.language.units import difference_in_unit, in_unit

Degrees = Literal["C", "F"]
UNITS: dict[str, str] = {"C": "°C", "F": "°F"}
_TEMPERATURES = {"°C", "°F"}
_IN_PROSE = re.compile(r"(?P<before>± ?|by )?(?<![\d.])(?P<number>[-−]?\d+(?:\.\d+)?) ?(?P<unit>°[CF])")
_T = TypeVar("_T")


def in_degrees(told: _T, degrees: Degrees | None) -> _T:
    """Give a board (or an expression) with its temperatures in the reader's unit; as written where it is None."""
    return told if degrees is None else _told(told, UNITS[degrees])


def _told(value: _T, unit: str) -> _T:
    told: object
    if isinstance(value, Comparison):
        told = attrs.evolve(
            value,
            limit=_temperature(value.limit, unit),
            until=None if value.until is None else _temperature(value.until, unit),
        )
    elif isinstance(value, Input):
        told = _input(value, unit)
    elif isinstance(value, Note):
        told = Note(*(None if text is None else in_prose(text, unit) for text in attrs.astuple(value)))
    elif isinstance(value, str):
        told = in_prose(value, unit)
    elif isinstance(value, tuple):
        told = tuple(_told(item, unit) for item in value)
    elif isinstance(value, dict):
        told = {key: _told(item, unit) for key, item in value.items()}
    elif attrs.has(type(value)):
        made: Any = value
        fields = {field.name: getattr(made, field.name) for field in attrs.fields(type(made))}
        new = {name: _told(item, unit) for name, item in fields.items() if name not in {"at", "id", "digest"}}
        changed = {name: item for name, item in new.items() if item is not fields[name] and item != fields[name]}
        told = attrs.evolve(made, **changed) if changed else value
    else:
        told = value
    return cast("_T", told)


def _input(row: Input, unit: str) -> Input:
    note = _told(row.note, unit)
    if row.unit not in _TEMPERATURES:
        return attrs.evolve(row, note=note)
    accuracy = row.accuracy
    if accuracy is not None and accuracy.unit in {*_TEMPERATURES, "K"}:
        # A difference of a degree Celsius is written in kelvins where it was written so.
        wanted = "K" if unit == "°C" and accuracy.unit == "K" else unit
        accuracy = _rounded(difference_in_unit(accuracy, wanted))
    return attrs.evolve(row, unit=unit, accuracy=accuracy, note=note)


def _temperature(quantity: Quantity, unit: str) -> Quantity:
    return _rounded(in_unit(quantity, unit)) if quantity.unit in _TEMPERATURES else quantity


def _rounded(quantity: Quantity) -> Quantity:
    return Quantity(Fraction(round(quantity.number * 10), 10), quantity.unit)


def in_prose(text: str, unit: str) -> str:
    """Convert the temperatures that a sentence mentions: ``coil at or below -2 °C`` to ``coil at or below 28.4 °F``."""

    def one(found: re.Match[str]) -> str:
        if found["unit"] == unit:
            return found[0]
        number = Quantity(Fraction(found["number"].replace("−", "-")), found["unit"])
        convert = difference_in_unit if found["before"] else in_unit
        told = _rounded(convert(number, unit))
        return f"{found['before'] or ''}{write_number(told.number)} {unit}"

    return _IN_PROSE.sub(one, text)

"""Ohms, temperatures, volts and tolerances as people type them.

Law of this module: what is read is exact, or it is refused with what was expected. A temperature always says its
scale; ohms may go without their sign, as on a meter.
"""

from __future__ import annotations

import re
from fractions import Fraction

from attrs import frozen

from boardgauge.language.problems import Unreadable
from boardgauge.language.quantities import Quantity
from boardgauge.language.units import in_unit

ABSOLUTE_ZERO = Fraction("-273.15")
"""0 K in °C, exactly (the definition of the degree Celsius)."""

A_RESISTANCE = '"10 kΩ", "9.8k", "4k7" or "109.7"'
A_TEMPERATURE = '"25 °C", "25C", "77 °F" or "298.15 K"'
A_VOLTAGE = '"5 V" or "3300 mV"'
A_TOLERANCE = '"± 0.5 K", "± 1 %" or "± (0.3 K + 0.005 |t|)"'
A_SHARE = '"± 1 %"'
A_DIFFERENCE = '"± 0.5 K" or "± 1 °F"'

_NUMBER = r"[-+−]?\d{1,15}(?:\.\d{1,15})?(?:[eE][-+]?\d{1,2})?"
_OHMS = re.compile(rf"\s*({_NUMBER})\s*(m|k|K|M)?\s*(?:Ω|Ω|ohms?|Ohms?|R)?\s*")
_CODE = re.compile(r"\s*(\d{1,6})([RkKM])(\d{1,6})\s*(?:Ω|Ω)?\s*")
_DEGREES = re.compile(rf"\s*({_NUMBER})\s*(°\s*[CF]|deg\s*[CF]|[CFK])\s*", re.IGNORECASE)
_VOLTS = re.compile(rf"\s*({_NUMBER})\s*(m?)V\s*")
_PART = re.compile(rf"({_NUMBER})\s*(K|°C|°F|%|\|t\|)")
_TIMES = {"m": Fraction(1, 1000), "": Fraction(1), "R": Fraction(1), "k": Fraction(10**3), "M": Fraction(10**6)}
MOST_KELVIN = Fraction(100)
MOST_PER_DEGREE = Fraction(1, 5)
OPEN_WORDS = ("ol", "o.l.", "open", "inf", "infinite", "∞")
"""What stands for a reading beyond a meter's range."""


def _number(text: str) -> Fraction:
    return Fraction(text.replace("−", "-"))


def read_ohms(text: str) -> Fraction:
    """Read a resistance in ohms: ``9.8k``, ``10 kΩ``, ``4k7`` (IEC 60062), ``109.7``. Raises Unreadable."""
    code = _CODE.fullmatch(text)
    if code is not None:
        factor = _TIMES["k" if code[2] == "K" else code[2]]
        return Fraction(f"{code[1]}.{code[3]}") * factor
    found = _OHMS.fullmatch(text)
    if found is None:
        raise Unreadable(f"{text!r} is no resistance", 0, A_RESISTANCE)
    times = found[2] or ""
    value = _number(found[1]) * _TIMES["k" if times == "K" else times]
    if value < 0:
        raise Unreadable("a resistance is not negative", 0, A_RESISTANCE)
    return value


def read_celsius(text: str) -> Fraction:
    """Read a temperature in °C: ``25 °C``, ``77F``, ``298.15 K``. Raises Unreadable."""
    found = _DEGREES.fullmatch(text)
    if found is None:
        bare = re.fullmatch(rf"\s*{_NUMBER}\s*", text)
        what = f"{text.strip()} says no scale" if bare else f"{text!r} is no temperature"
        raise Unreadable(what, 0, A_TEMPERATURE)
    scale = {"C": "°C", "F": "°F", "K": "K"}[found[2][-1].upper()]
    value = in_unit(Quantity(_number(found[1]), scale), "°C").number
    if value <= ABSOLUTE_ZERO:
        raise Unreadable("this is below absolute zero", 0, A_TEMPERATURE)
    return value


def read_volts(text: str) -> Fraction:
    """Read a voltage above nothing, in volts. Raises Unreadable."""
    found = _VOLTS.fullmatch(text)
    if found is None or _number(found[1]) <= 0:
        raise Unreadable(f"{text!r} is no voltage above 0 V", 0, A_VOLTAGE)
    return _number(found[1]) * _TIMES[found[2]]


@frozen
class Allowance:
    """How far a sensor may be off its curve; all parts together, either way.

    ``kelvin`` and ``per_degree`` (times the distance from 0 °C) shift the temperature, ``share`` is a fraction of the
    resistance.
    """

    kelvin: Fraction = Fraction(0)
    per_degree: Fraction = Fraction(0)
    share: Fraction = Fraction(0)

    def shift(self, celsius: Fraction) -> Fraction:
        """Give by how many kelvin a sensor at this temperature may read off."""
        return self.kelvin + self.per_degree * abs(celsius)

    def __str__(self) -> str:
        parts = [
            f"{float(number):g} {unit}"
            for number, unit in ((self.kelvin, "K"), (self.per_degree, "|t|"), (self.share * 100, "%"))
            if number
        ]
        if not parts:
            return "exactly"
        return f"± {parts[0]}" if len(parts) == 1 else f"± ({' + '.join(parts)})"


CLASSES = {
    "class AA": Allowance(Fraction("0.1"), Fraction("0.0017")),
    "class A": Allowance(Fraction("0.15"), Fraction("0.002")),
    "class B": Allowance(Fraction("0.3"), Fraction("0.005")),
    "class C": Allowance(Fraction("0.6"), Fraction("0.01")),
}
"""Tolerance classes of platinum thermometers, IEC 60751 table 2; checked against the library rtd-sensor."""


def read_allowance(text: str) -> Allowance:
    """Read a tolerance of a sensor: ``± 0.5 K``, ``± 1 %``, ``± (0.3 K + 0.005 |t|)``, ``class B``, ``exactly``.

    Raises Unreadable.
    """
    plain = " ".join(text.split())
    if plain == "exactly":
        return Allowance()
    if plain in CLASSES:
        return CLASSES[plain]
    expected = f"{A_TOLERANCE}, one of {', '.join(CLASSES)}, or exactly"
    inner = (
        plain.removeprefix("±") if plain.startswith("±") else plain.removeprefix("+-") if plain[:2] == "+-" else None
    )
    if inner is None:
        raise Unreadable('a tolerance begins with "±"', 0, expected)
    inner = inner.strip()
    if inner.startswith("(") and inner.endswith(")"):
        inner = inner[1:-1]
    found = {"K": Fraction(0), "|t|": Fraction(0), "%": Fraction(0)}
    seen: set[str] = set()
    for words in inner.split("+"):
        part = _PART.fullmatch(words.strip())
        if part is None or _number(part[1]) < 0:
            raise Unreadable(f"{words.strip()!r} is no part of a tolerance", 0, expected)
        unit = {"°C": "K", "°F": "K"}.get(part[2], part[2])
        if unit in seen:
            raise Unreadable(f"there are two parts in {part[2]}", 0, expected)
        seen.add(unit)
        found[unit] = _number(part[1]) * (Fraction(5, 9) if part[2] == "°F" else 1)
    if found["K"] > MOST_KELVIN or found["|t|"] > MOST_PER_DEGREE:
        told = f"{float(MOST_KELVIN):g} K and {float(MOST_PER_DEGREE):g} |t|"
        raise Unreadable("a sensor that may be off by so much tells nothing", 0, f"at most {told}")
    if found["%"] >= 100:
        raise Unreadable("a tolerance of 100 % or more leaves nothing of the resistance", 0, expected)
    return Allowance(found["K"], found["|t|"], found["%"] / 100)


def read_share(text: str) -> Fraction:
    """Read a tolerance that is a percentage, as a fraction of one: ``± 1 %``; the sign may go. Raises Unreadable."""
    try:
        found = read_allowance(text if text.strip().startswith(("±", "+-")) else f"± {text}")
    except Unreadable as error:
        raise Unreadable(error.message, 0, A_SHARE) from None
    if found.kelvin or found.per_degree:
        raise Unreadable("this is a percentage, not a temperature", 0, A_SHARE)
    return found.share


def read_kelvin(text: str) -> Fraction:
    """Read a tolerance that is a difference of temperature, in kelvin; the sign may go. Raises Unreadable."""
    try:
        found = read_allowance(text if text.strip().startswith(("±", "+-")) else f"± {text}")
    except Unreadable as error:
        raise Unreadable(error.message, 0, A_DIFFERENCE) from None
    if found.share or found.per_degree:
        raise Unreadable("this is a difference of temperature, not a percentage", 0, A_DIFFERENCE)
    return found.kelvin

"""The keys of a wiring that say how a sensor was measured: its curve, and the divider it stands in.

Law of this module: a curve is named, or its file is, seen from the wiring's own folder; what is wrong is told at the
key that says it.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Literal, TypeVar, cast

from boardgauge.language.nodes import Node
from boardgauge.language.problems import Problem, Unreadable, nearest_of
from boardgauge.sensors.amounts import Allowance, read_allowance, read_ohms, read_share, read_volts
from boardgauge.sensors.curve import Curve
from boardgauge.sensors.curve_reader import BadCurve
from boardgauge.sensors.divider import Divider, Position
from boardgauge.sensors.library import UnknownCurve, find_curve

T = TypeVar("T")
OF_THE_SPEC = "of the spec"
"""In place of a curve's name: the one that the board's spec names for the sensor."""

WireCurve = Curve | Literal["of the spec"]
MOST_COUNTS = 2**32
_KEYS = ("fixed", "sensor", "tolerance", "supply", "supply_tolerance", "counts")


class SensorKeys:
    """Reads the keys of one wire; what is wrong is gathered in ``problems``."""

    def __init__(self, table: dict[str, Node], path: str) -> None:
        self.table = table
        self.path = path
        self.problems: list[Problem] = []

    def wrong(
        self, node: Node, key: str, message: str, expected: str | None = None, nearest: str | None = None
    ) -> None:
        self.problems.append(Problem(node.at, f"{self.path}.{key}", message, expected, nearest))

    def curve(self) -> WireCurve | None:
        """Read ``curve``."""
        node = self.table.get("curve")
        if node is None:
            return None
        if not isinstance(node.value, str):
            self.wrong(node, "curve", "this is no name", f'the name or the file of a curve, or "{OF_THE_SPEC}"')
            return None
        if node.value == OF_THE_SPEC:
            return "of the spec"
        try:
            return find_curve(node.value, beside=Path(node.source.file).parent)
        except UnknownCurve as error:
            known = ", ".join(error.known)
            self.wrong(node, "curve", f"there is no curve {node.value!r}", f"{known}, or a file", error.nearest)
        except BadCurve as error:
            self.problems += error.problems
        return None

    def allowance(self) -> Allowance | None:
        """Read ``curve_tolerance``."""
        return self._text(self.table, "curve_tolerance", read_allowance, None)

    def leads(self) -> Fraction:
        """Read ``leads``."""
        return self._text(self.table, "leads", read_ohms, Fraction(0))

    def divider(self) -> Divider | None:
        """Read ``divider``."""
        node = self.table.get("divider")
        if node is None:
            return None
        if not isinstance(node.value, dict):
            example = '{ fixed = "10 kΩ", tolerance = "± 1 %", supply = "5 V", sensor = "bottom" }'
            self.wrong(node, "divider", "this is not a table", example)
            return None
        table = cast("dict[str, Node]", node.value)
        for name, inner in table.items():
            if name not in _KEYS:
                near = nearest_of(name, _KEYS)
                self.wrong(inner, f"divider.{name}", "there is no such key", ", ".join(_KEYS), near)
        for name, what in (("fixed", "its fixed resistor"), ("sensor", 'where the sensor stands, "top" or "bottom"')):
            if name not in table:
                self.wrong(node, f"divider.{name}", f"this is missing: {what}")
        counts = self._counts(table)
        if ("supply" in table) == ("counts" in table):
            what = "a divider is measured in volts of a supply or in counts of its converter"
            self.wrong(node, "divider", what, 'either supply = "5 V" or counts = 1023, the count at full scale')
        if "supply_tolerance" in table and "supply" not in table:
            what = "counts are shares of the supply, so its tolerance means nothing"
            self.wrong(table["supply_tolerance"], "divider.supply_tolerance", what)
        fixed = self._text(table, "fixed", read_ohms, Fraction(1), "divider.")
        if not fixed:
            self.wrong(table["fixed"], "divider.fixed", "a fixed resistor has some resistance", '"10 kΩ"')
        return Divider(
            fixed,
            self._text(table, "sensor", _position, "bottom", "divider."),
            self._text(table, "supply", read_volts, Fraction(1), "divider."),
            self._text(table, "tolerance", read_share, Fraction(0), "divider."),
            self._text(table, "supply_tolerance", read_share, Fraction(0), "divider."),
            counts,
        )

    def _counts(self, table: dict[str, Node]) -> int | None:
        node = table.get("counts")
        if node is None:
            return None
        value = node.value
        if isinstance(value, bool) or not isinstance(value, int) or not 1 < value <= MOST_COUNTS:
            self.wrong(node, "divider.counts", f"{value!r} cannot stand here", "the count at full scale, such as 1023")
            return None
        return value

    def _text(
        self, table: dict[str, Node], name: str, read: Callable[[str], T], default: T, before: str = ""
    ) -> T:  # fmt: skip
        node = table.get(name)
        if node is None:
            return default
        key = f"{before}{name}"
        if not isinstance(node.value, str):
            self.wrong(node, key, "this is not a text", _EXAMPLES[name])
            return default
        try:
            return read(node.value)
        except Unreadable as error:
            self.wrong(node, key, error.message, error.expected)
            return default


_EXAMPLES = {
    "curve_tolerance": '"± 0.5 K" or "± 1 %"',
    "leads": '"0.5 Ω"',
    "fixed": '"10 kΩ"',
    "sensor": '"top" or "bottom"',
    "tolerance": '"± 1 %"',
    "supply": '"5 V"',
    "supply_tolerance": '"± 2 %"',
}


def _position(text: str) -> Position:
    if text == "top":
        return "top"
    if text == "bottom":
        return "bottom"
    raise Unreadable(f"{text!r} cannot stand here", 0, '"top" (to the supply) or "bottom" (to ground)')

"""Which point of a fixture drives or sees which signal, and how its level is put into the board's words.

Law of this module: an output's level at a point is that at the terminal, so where its contact is normally closed, level
1 is the coil off; a sensor's number is level * scale + offset, as in a wiring.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from attrs import field, frozen

from boardgauge.language.model import NOWHERE, Board, InputKind, Spot
from boardgauge.rigs.rig import Value


@frozen
class Point:
    """One point of a fixture and the signal of the board that it drives or sees.

    ``turned``: level 1 is off (open, dark). ``measured``: the signal is a sensor, and has a number.
    """

    signal: str
    name: str
    turned: bool = False
    measured: bool = False
    scale: Fraction = Fraction(1)
    offset: Fraction = Fraction(0)
    at: Spot = field(default=NOWHERE, eq=False)

    def level(self, value: Value) -> Value:
        """Give the level at the point for a value in the board's words."""
        if self.measured:
            return (Fraction(value) - self.offset) / self.scale
        return bool(value) != self.turned

    def value(self, level: Fraction) -> Value:
        """Give the value in the board's words for a level at the point. Raises ValueError for what is no level."""
        if self.measured:
            return level * self.scale + self.offset
        if level not in (0, 1):
            raise ValueError(f"{self.name} is at {float(level):g}, and is either 0 or 1")
        return bool(level) != self.turned


@frozen
class Points:
    """The points that a rig file names: by signal. Where it names none, the fixture's own names are the board's."""

    drives: Mapping[str, Point] | None = None
    sees: Mapping[str, Point] | None = None


def by_name(board: Board, signal: str) -> Point:
    """Give the point that is called like a signal of the board."""
    row = board.inputs.get(signal)
    output = board.outputs.get(signal)
    turned = output is not None and output.contact == "normally closed"
    return Point(signal, signal, turned, row is not None and row.kind is InputKind.SENSOR)

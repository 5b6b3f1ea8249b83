"""What a hand can do at the bench, one thing at a time, and how long it takes.

Law of this module: every change is left standing long enough to be taken in and answered before the next one; sensors
go to values at which even the least accurate sensor that is allowed decides as the spec says.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fractions import Fraction
from itertools import pairwise

from attrs import define, field, frozen

from boardgauge.language.model import Blink, Board, Flashes, InputKind, Lamp, Pattern
from boardgauge.language.quantities import MS, Duration, S
from boardgauge.language.units import difference_in_unit, in_unit
from boardgauge.machine.input_ways import levels_watched
from boardgauge.machine.run import Value
from boardgauge.machine.table import Machine

OFF_FOR = 5 * S
MARGIN = 500 * MS
_MOVING_A_LINK = 2 * S


@frozen
class Deed:
    """One thing done: inputs brought to ``values`` (all at one moment), or the supply taken away and given back.

    ``pulse``: the one input is brought there and back again at once, shorter than any filter lets through. ``settle``
    is how long it takes to be answered, ``wait`` a stretch that then goes by.
    """

    values: Mapping[str, Value] = field(factory=dict)
    cycle: bool = False
    pulse: int = 0
    settle: int = 0
    wait: int = 0

    @property
    def time(self) -> int:
        """How long it takes."""
        return self.settle + self.wait + self.pulse + (OFF_FOR if self.cycle else 0)


@define(eq=False)
class Hand:
    """What can be done to one board."""

    machine: Machine
    values: dict[str, tuple[Value, ...]] = field(init=False)
    at_power_up: frozenset[str] = field(init=False)

    def __attrs_post_init__(self) -> None:
        board = self.machine.board
        watched, first = levels_watched(self.machine)
        inputs = {level.input for level in self.machine.levels if watched[level.index] or first[level.index]}
        self.at_power_up = frozenset(
            level.input for level in self.machine.levels if first[level.index] and not watched[level.index]
        ) - {level.input for level in self.machine.levels if watched[level.index]}
        self.values = {
            row.id: sensor_values(self.machine, row.id) if row.kind is InputKind.SENSOR else (False, True)
            for row in board.inputs.values()
            if row.id in inputs
        }

    @property
    def board(self) -> Board:
        """The board."""
        return self.machine.board

    def settling(self, name: str) -> int:
        """Give how long a change of an input is left standing before anything else is done."""
        row = self.board.inputs[name]
        time = max(row.filter.greatest, row.responds_within, self.board.same_moment) + MARGIN
        link = row.kind is InputKind.LINK
        return up_to_tenth(time) + (_MOVING_A_LINK if link else 0)

    def sets(self, now: Mapping[str, Value]) -> Iterator[Deed]:
        """Give every change of one input."""
        for name, values in self.values.items():
            if name in self.at_power_up:
                continue
            for value in values:
                if value != now[name]:
                    yield Deed({name: value}, settle=self.settling(name))

    def pulses(self, name: str, now: Mapping[str, Value]) -> Iterator[Deed]:
        """Give every flicker of an input that no board with a filter takes in; none where it has no filter."""
        row = self.board.inputs[name]
        length = row.filter.least * 7 // 10 // MS * MS
        values = self.values.get(name, ()) if row.kind is InputKind.SENSOR else (False, True)
        if length >= MS:
            for value in values:
                if value != now[name]:
                    yield Deed({name: value}, pulse=length, settle=self.settling(name))

    def switched_on(self) -> int:
        """Give how long a board is left after the supply comes on."""
        rows = [max(row.filter.greatest, row.responds_within) for row in self.board.inputs.values()]
        return up_to_tenth(max([self.board.responds_within, *rows]) + MARGIN)


def up_to_tenth(time: int) -> int:
    """Give a time rounded up to a tenth of a second."""
    return -(-time // (100 * MS)) * 100 * MS


def sensor_values(machine: Machine, name: str) -> tuple[Value, ...]:
    """Give values of a sensor that stand for all: clear of every limit, near to it and far off; rising."""
    row = machine.board.inputs[name]
    unit = row.unit or ""
    limits = sorted(
        {
            in_unit(quantity, unit).number
            for level in machine.levels
            if level.input == name and level.comparison is not None
            for quantity in (level.comparison.limit, level.comparison.until)
            if quantity is not None
        }
    )
    if not limits:
        return (Fraction(0),)
    accuracy = Fraction(0) if row.accuracy is None else difference_in_unit(row.accuracy, unit).number
    clear = accuracy + max(accuracy / 4, Fraction(1, 4))
    far = accuracy * 5 + 10
    found = {limits[0] - far, limits[-1] + far}
    for limit in limits:
        found |= {limit - clear, limit + clear}
    for one, other in pairwise(limits):
        if other - one > 2 * clear:
            found.add((one + other) / 2)
    # Not exactly at what rounds badly: a value has to be written down, and set on a bench.
    tenths = {Fraction(round(value * 10), 10) for value in found}
    return tuple(sorted(v for v in tenths if all(abs(v - limit) > accuracy for limit in limits)))


def cycle_of(lamp: Lamp, shows: Pattern | None) -> int:
    """Give how long a lamp takes to show a line once, whole."""
    match shows:
        case Blink(lit=lit, dark=dark):
            return lit + dark
        case Flashes(number=number):
            flash = lamp.flash
            assert flash is not None
            return number * (flash.lit + flash.dark) + 2 * (lamp.between_groups or 0)
    return 0


def looking_time(lamp: Lamp, shows: Pattern) -> int:
    """Give how long to look at a line of a lamp that stands, to read it: two whole turns, and for a steady light longer
    than any part of another line lasts."""
    if isinstance(shows, (Blink, Flashes)):
        return Duration(2 * cycle_of(lamp, shows), lamp.tolerance).longest + S
    parts = [0]
    for line in lamp.lines:
        match line.shows:
            case Blink(lit=lit, dark=dark):
                parts += [lit, dark]
            case Flashes():
                assert lamp.flash is not None
                parts += [lamp.flash.lit, lamp.flash.dark, lamp.between_groups or 0]
    return Duration(max(parts), lamp.tolerance).longest + S


def reading_time(lamp: Lamp, *shows: Pattern | None) -> int:
    """Give how long lines of a lamp have to stand until one is told from another, its grace included."""
    grace = max(lamp.changes_within, lamp.not_judged_for)
    longest = max([0, *(cycle_of(lamp, one) for one in shows)])
    return grace + 2 * longest + S

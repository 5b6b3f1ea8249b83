"""The shape of what is written: what everything is called in C, and every time in ticks.

Law of this module: a time that is no whole number of ticks is refused, never rounded; so is a limit beyond what an
integer holds.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from math import gcd

from attrs import define, evolve, field

from boardgauge.exports.c99.comments import place
from boardgauge.exports.c99.names import Names, c_name
from boardgauge.exports.cannot_export import CannotExport
from boardgauge.language import in_unit
from boardgauge.language.expressions import Comparison
from boardgauge.language.model import Blink, Board, Flashes, InputKind, Lamp, Pattern, Spot
from boardgauge.language.quantities import Duration
from boardgauge.language.quantity_writer import write_plain_time
from boardgauge.machine.compile import compile_board
from boardgauge.machine.logic import Logic
from boardgauge.machine.picture import Painter
from boardgauge.machine.table import Level, Machine, Region, Timing

MOST_32 = 2**31 - 1
_MOST_DECIMALS = 6


@define
class Shape:
    """The names, ticks and types of one board. ``tick`` is the length of a tick in microseconds.

    ``filtered``: a change of an input is taken in once it has lasted as long as the spec's filter asks, and not at
    once.
    """

    board: Board
    tick: int
    filtered: bool
    machine: Machine = field(init=False)
    logic: Logic = field(init=False)
    painter: Painter = field(init=False)
    prefix: str = field(init=False)
    inputs: dict[str, str] = field(factory=dict)
    settings: dict[str, str] = field(factory=dict)
    slots: dict[int, str] = field(factory=dict)
    timings: list[str] = field(factory=list)
    regions: list[str] = field(factory=list)
    outputs: list[str] = field(factory=list)
    lamps: dict[str, str] = field(factory=dict)
    decimals: dict[str, int] = field(factory=dict)
    wide: bool = False
    _constants: dict[tuple[object, ...], str] = field(factory=dict)
    _constant_names: Names = field(factory=Names)

    def __attrs_post_init__(self) -> None:
        # Who judges has no part in a firmware: requirements and stretches not judged are left out.
        self.machine = compile_board(evolve(self.board, requirements={}, not_judged=()))
        self.logic = Logic(self.machine)
        self.painter = Painter(self.machine, self.logic)
        self.prefix = c_name(self.board.id)
        for word in ("H", "TICK_MICROSECONDS", "NEVER"):
            self._constant_names.give(f"{self.prefix}_{word}".upper())
        terminals = Names()
        for name in self.board.inputs:
            self.inputs[name] = terminals.give(name)
        for name in self.board.settings:
            self.settings[name] = terminals.give(name)
        shown = Names()
        self.outputs = [shown.give(row.output) for row in self.machine.outputs]
        self.lamps = {name: shown.give(name) for name in self.board.lamps}
        self._name_slots()
        times = Names()
        self.timings = [times.give(row.name.replace(" ", "_")) for row in self.machine.timings]
        kept = Names()
        self.regions = [kept.give(row.rule) for row in self.machine.regions]
        self.decimals = {n: self._decimals(n) for n, i in self.board.inputs.items() if i.kind is InputKind.SENSOR}
        self._check()

    def _name_slots(self) -> None:
        names = Names()
        for name, slot in self.logic.slots.items():
            self.slots[slot] = names.give(name)
        count: dict[str, int] = {}
        for comparison, slot in self.logic.comparison_slots.items():
            count[comparison.name] = count.get(comparison.name, 0) + 1
            self.slots[slot] = names.give(f"{comparison.name}_limit_{count[comparison.name]}")
        for timing, slot in self.logic.for_slots.items():
            self.slots[slot] = names.give(self.machine.timings[timing].name.replace(" ", "_") + "_held")

    def constant(self, key: tuple[object, ...], wanted: str) -> str:
        """Give the name of a constant, the same for the same key."""
        if key not in self._constants:
            self._constants[key] = self._constant_names.give(f"{self.prefix}_{wanted}".upper())
        return self._constants[key]

    # -- ticks -------------------------------------------------------------------------------------------------------

    def ticks(self, time: int, what: str, at: Spot) -> int:
        """Give a time in ticks; raises CannotExport where it is no whole number of them."""
        if time % self.tick:
            fits = write_plain_time(gcd(time, self.tick))
            raise CannotExport(
                f"{place(at) or what}: {what} takes {write_plain_time(time)}, which is no whole number of ticks of "
                f"{write_plain_time(self.tick)}; ticks of {fits} would do"
            )
        return time // self.tick

    def length(self, timing: Timing, choice: int) -> int:
        """Give the nominal length of a timing in ticks."""
        return self.ticks(timing.choices[choice].nominal, timing.name, timing.at)

    def filter_of(self, level: Level) -> int:
        """Give how many ticks a change of a level must have lasted before it is taken in."""
        if not self.filtered:
            return 0
        rows = [self.board.inputs[level.input]]
        if self.board.same_moment:
            # What is taken in together has waited alike.
            rows = list(self.board.inputs.values())
        return max(-(-row.filter.least // self.tick) for row in rows)

    @property
    def together(self) -> int:
        """How many ticks apart changes may be that are taken in as one moment."""
        return -(-self.board.same_moment // self.tick) if self.filtered else 0

    @property
    def waits(self) -> bool:
        """Tell whether any change of an input is kept waiting before it is taken in."""
        return any(self.filter_of(level) + self.together for level in self.machine.levels)

    def not_kept(self) -> Iterator[str]:
        """Give, in words, what of the taking in of the inputs is not kept."""
        board = self.board
        if not self.filtered:
            return
        for name, row in board.inputs.items():
            levels = [level for level in self.machine.levels if level.input == name]
            waited = max((self.filter_of(level) + self.together for level in levels), default=0) * self.tick
            if waited > row.responds_within:
                yield (
                    f"inputs.{name}: whether a change counts is known {write_plain_time(waited)} after it, and the "
                    f"board has {write_plain_time(row.responds_within)} to act on it"
                )
        if board.rides_through.greatest:
            yield "board.rides_through: the supply is held up outside of this program, or a short gap counts as a loss"

    # -- sensors -----------------------------------------------------------------------------------------------------

    def _decimals(self, name: str) -> int:
        """Give how many decimals a reading of a sensor has: one, or as many as its limits need."""
        most = 1
        for comparison in self.logic.comparison_slots:
            if comparison.name == name:
                for limit in self.limits(comparison):
                    need = next((k for k in range(_MOST_DECIMALS + 1) if (limit * 10**k).denominator == 1), 3)
                    most = max(most, need)
        return most

    def limits(self, comparison: Comparison) -> list[Fraction]:
        """Give the limits of a comparison in the unit of its sensor."""
        unit = self.board.inputs[comparison.name].unit or comparison.limit.unit
        return [in_unit(q, unit).number for q in (comparison.limit, comparison.until) if q is not None]

    # -- what C must count -------------------------------------------------------------------------------------------

    def place_type(self, region: Region) -> str:
        """Give the type of a region's place."""
        return "uint8_t" if len(region.places) <= 255 else "uint16_t"

    def pattern_times(self, lamp: Lamp, pattern: Pattern) -> tuple[int, ...]:
        """Give the times of a pattern in ticks: lit, dark, and for flashes between the groups."""
        what = f"a part of what {lamp.id} shows"
        times: tuple[int, ...] = ()
        if isinstance(pattern, Blink):
            times = (pattern.lit, pattern.dark)
        elif isinstance(pattern, Flashes):
            assert lamp.flash is not None
            assert lamp.between_groups is not None
            times = (lamp.flash.lit, lamp.flash.dark, lamp.between_groups)
        return tuple(self.ticks(time, what, lamp.at) for time in times)

    def period(self, lamp: Lamp, pattern: Pattern) -> int:
        """Give how many ticks a pattern takes from its beginning to its next one; 0 for one without parts."""
        times = self.pattern_times(lamp, pattern)
        if isinstance(pattern, Flashes):
            return pattern.number * times[0] + (pattern.number - 1) * times[1] + times[2]
        return sum(times)

    def durations(self) -> Iterator[tuple[Timing, int, Duration]]:
        """Give every timing with each of its choices."""
        for timing in self.machine.timings:
            for index, duration in enumerate(timing.choices):
                yield timing, index, duration

    def _check(self) -> None:
        most = max((self.length(timing, choice) for timing, choice, _ in self.durations()), default=0)
        for lamp in self.board.lamps.values():
            for line in lamp.lines:
                most = max(most, self.period(lamp, line.shows))
        fastest = max((row.times_faster for row in self.machine.speed_ups), default=1)
        waited = max((self.filter_of(level) + self.together for level in self.machine.levels), default=0)
        self.wide = max(most + fastest, waited) > MOST_32
        for name, decimals in self.decimals.items():
            for comparison in self.logic.comparison_slots:
                if comparison.name == name and any(abs(v * 10**decimals) > MOST_32 for v in self.limits(comparison)):
                    at = self.board.inputs[name].at
                    raise CannotExport(f"{place(at) or name}: a limit of {name} is beyond what 32 bits hold")

    def rate_keys(self) -> list[tuple[int, ...]]:
        """Give every set of speed-ups that some timing is under."""
        return sorted({timing.speed_ups for timing in self.machine.timings if timing.speed_ups})

"""Two machines under the same inputs: their levels as one set, and which timing of one is which of the other.

Law of this module: it says what belongs together and decides nothing. A sensor that both read has one reading, so the
limits of both are looked at together.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from fractions import Fraction

import attrs
from attrs import define, field

from boardgauge.language.model import Board, InputKind
from boardgauge.language.quantities import Duration, Quantity, Tolerance
from boardgauge.language.units import in_unit
from boardgauge.machine.compile import compile_board
from boardgauge.machine.config import Cause, Config
from boardgauge.machine.input_ways import Ways, comes_out, levels_read, levels_watched, readings_of, ways_together
from boardgauge.machine.run import Value
from boardgauge.machine.settle import Engine
from boardgauge.machine.table import Level, Machine, Timing
from boardgauge.proving.slicing import names_in


def engine_of(board: Board) -> Engine:
    """Give an engine of what a board does, without what only watches it."""
    return Engine(compile_board(attrs.evolve(board, requirements={}, not_judged=())))


@define
class Pair:
    """Two engines whose boards call their shared terminals the same.

    ``held`` are the inputs that stand at one value all the time; ``outputs`` and ``lamps`` what both have.
    """

    first: Engine
    second: Engine
    held: Mapping[str, Value] = field(factory=dict)
    outputs: tuple[str, ...] = field(init=False)
    lamps: tuple[str, ...] = field(init=False)
    levels: tuple[Level, ...] = field(init=False)
    both: Machine = field(init=False)
    _places: tuple[tuple[int, ...], tuple[int, ...]] = field(init=False)

    def __attrs_post_init__(self) -> None:
        one, other = self.first.machine.board, self.second.machine.board
        self.outputs = tuple(name for name in one.outputs if name in other.outputs)
        self.lamps = tuple(name for name in one.lamps if name in other.lamps)
        machines = (self.first.machine, self.second.machine)
        limits = [[_limit(machine, level) for level in machine.levels] for machine in machines]
        # One limit may stand in a spec in two units; then they are two, each off in a way of its own.
        twice = {key for rows in limits for key, often in Counter(rows).items() if often > 1}
        keys: dict[object, Level] = {}
        places = []
        for machine, rows in zip(machines, limits, strict=True):
            named = [
                (level.input, level.comparison) if limit in twice else limit
                for level, limit in zip(machine.levels, rows, strict=True)
            ]
            for level, name in zip(machine.levels, named, strict=True):
                keys.setdefault(name, attrs.evolve(level, index=len(keys)))
            places.append(tuple(keys[name].index for name in named))
        self.levels = tuple(keys.values())
        self._places = (places[0], places[1])
        board = attrs.evolve(one, inputs={**other.inputs, **one.inputs})
        self.both = attrs.evolve(self.first.machine, board=board, levels=self.levels)

    def parts(self, levels: tuple[bool, ...]) -> tuple[tuple[bool, ...], tuple[bool, ...]]:
        """Give the levels of either machine."""
        return tuple(levels[i] for i in self._places[0]), tuple(levels[i] for i in self._places[1])

    def own(self, changed: tuple[tuple[int, bool], ...]) -> tuple[tuple[tuple[int, bool], ...], ...]:
        """Give changes of levels as either machine counts them."""
        values = dict(changed)
        return tuple(
            tuple((own, values[index]) for own, index in enumerate(places) if index in values)
            for places in self._places
        )

    def at_rest(self) -> tuple[bool, ...]:
        """Give the levels before anything happens, the held inputs where they are held."""
        levels = [level.at_rest for level in self.levels]
        for name, value in self.held.items():
            for index, new in self.reads(name, value, tuple(levels)):
                levels[index] = new
        return tuple(levels)

    def reads(self, name: str, value: Value, levels: tuple[bool, ...]) -> tuple[tuple[int, bool], ...]:
        """Give what the levels of an input come to at a value."""
        found = []
        for level in self.levels:
            if level.input != name:
                continue
            if level.comparison is None:
                found.append((level.index, bool(value)))
            else:
                unit = self.both.board.inputs[name].unit or ""
                reading = Quantity(Fraction(value), unit)
                found.append((level.index, comes_out(level.comparison, levels[level.index], reading)))
        return tuple(found)

    def values(self) -> dict[str, tuple[Value, ...]]:
        """Give for each input that may change the values that stand for all."""
        found: dict[str, tuple[Value, ...]] = {}
        for name, row in self.both.board.inputs.items():
            rows = [level for level in self.levels if level.input == name]
            if name in self.held or not rows:
                continue
            if row.kind is InputKind.SENSOR:
                found[name] = tuple(reading.number for reading in readings_of(self.both.board, rows))
            else:
                found[name] = (False, True)
        return found

    def ways(self, sped_up: bool = False) -> Ways:
        """Give for each input that may change and is read its levels and the values they can have together.

        Those that only settings and speed-ups read are left out, unless ``sped_up``.
        """
        read = [False] * len(self.levels)
        for engine, places in zip((self.first, self.second), self._places, strict=True):
            rows = levels_watched(engine.machine)[0] if sped_up else levels_read(engine.machine)
            for index, wanted in zip(places, rows, strict=True):
                read[index] = read[index] or (wanted and self.levels[index].input not in self.held)
        return ways_together(self.both, tuple(read))

    def cause(self, side: int, cause: Cause) -> object:
        """Give what set a timing of one board (0 or 1) going, in words of both."""
        machine = (self.first, self.second)[side].machine
        if cause.kind == "inputs":
            return "inputs", tuple(sorted({machine.levels[index].input for index in cause.which}))
        if cause.kind == "outputs":
            names = tuple(sorted(machine.outputs[index].output for index in cause.which))
            # What shows on one board alone is no moment of the other's.
            return ("outputs", names) if set(names) <= set(self.outputs) else ("outputs", names, side)
        return "instant"

    # -- what shows --------------------------------------------------------------------------------------------------

    def shows(self, engine: Engine, config: Config) -> tuple[object, ...]:
        """Give what a bench sees of the shared outputs and lamps."""
        board = engine.machine.board
        on = dict(zip(board.outputs, engine.outputs(config), strict=True))
        lines = dict(zip(board.lamps, engine.lamp_lines(config), strict=True))
        looks = [None if lines[name] < 0 else board.lamps[name].lines[lines[name]].shows for name in self.lamps]
        return (*(on[name] for name in self.outputs), *looks)

    def differ(self, one: Config, other: Config) -> tuple[str, ...]:
        """Give the outputs and lamps on which two configurations differ."""
        ours, theirs = self.shows(self.first, one), self.shows(self.second, other)
        names = (*self.outputs, *self.lamps)
        return tuple(name for name, a, b in zip(names, ours, theirs, strict=True) if a != b)

    # -- timings -----------------------------------------------------------------------------------------------------

    def one_clock(self) -> bool:
        """Tell whether one clock drives the first board: how long one of its times lasts says how long all do."""
        machine = self.first.machine
        tolerances = (each.tolerance or Tolerance() for row in machine.timings for each in row.choices)
        return machine.board.clock == "shared" and any(row.percent_less or row.percent_more for row in tolerances)

    def partners(self, one_way: bool) -> dict[int, int]:
        """Give the timings that belong together (first's -> second's): their ranges equal, or with ``one_way`` the
        second's inside the first's. With one clock for all only those are partners that go with it alike."""
        if not one_way and self.first.machine.board.clock != self.second.machine.board.clock:
            return {}
        one_clock = self.one_clock()
        if one_clock and self.second.machine.board.clock != "shared":
            return {}
        found = {}
        theirs = {(row.name, row.role): row for row in self.second.machine.timings}
        for row in self.first.machine.timings:
            other = theirs.get((row.name, row.role))
            if other is not None and self._allows(row, other, one_way, one_clock) and self._allows_speed(row, other):
                found[row.index] = other.index
        return found

    def _allows(self, row: Timing, other: Timing, one_way: bool, one_clock: bool) -> bool:
        if len(row.choices) != len(other.choices) or (row.setting is None) != (other.setting is None):
            return False
        if row.setting is not None and other.setting is not None:
            mine, its = (
                self.first.machine.board.settings[row.setting],
                self.second.machine.board.settings[other.setting],
            )
            chosen = [[(p.name, p.when) for p in setting.positions] for setting in (mine, its)]
            if chosen[0] != chosen[1] or (mine.read, mine.factory) != (its.read, its.factory):
                return False
        in_parts = bool(row.speed_ups) or one_clock
        return all(
            inside(b, a, in_parts) and ((one_way and not one_clock) or inside(a, b, in_parts))
            for a, b in zip(row.choices, other.choices, strict=True)
        )

    def _allows_speed(self, row: Timing, other: Timing) -> bool:
        mine, its = (
            sorted((repr(m.speed_ups[i].while_), m.speed_ups[i].times_faster) for i in timing.speed_ups)
            for m, timing in ((self.first.machine, row), (self.second.machine, other))
        )
        # Both run at one rate at any moment: what they are sped up by is read from inputs alone.
        inputs = set(self.first.machine.board.inputs) & set(self.second.machine.board.inputs)
        read = [self.first.machine.speed_ups[i].while_ for i in row.speed_ups]
        return mine == its and names_in(read) <= inputs


def inside(one: Duration, other: Duration, in_parts: bool = True) -> bool:
    """Tell whether all that one time may last the other may too; ``in_parts``: its percentage and the seconds beside it
    each for itself, so that it is so however fast they run."""
    if not in_parts:
        return other.shortest <= one.shortest and one.longest <= other.longest
    mine, its = one.tolerance or Tolerance(), other.tolerance or Tolerance()
    return (
        other.percent_shortest <= one.percent_shortest
        and one.percent_longest <= other.percent_longest
        and other.shortest <= one.shortest
        and one.longest <= other.longest
        and mine.less <= its.less
        and mine.more <= its.more
    )


def _limit(machine: Machine, level: Level) -> tuple[object, ...]:
    """Give what a level says of its input, whichever unit it is written in."""
    found = level.comparison
    if found is None:
        return (level.input,)
    unit = machine.board.inputs[level.input].unit or found.limit.unit
    limits = (None if q is None else in_unit(q, unit) for q in (found.limit, found.until))
    return level.input, found.op, found.until_op, *limits

"""Two machines under the same inputs: their levels as one set, and which timing of one is which of the other.

Law of this module: it says what belongs together and decides nothing. A sensor that both read has one reading, so the
limits of both are looked at together.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

import attrs
from attrs import define, field

from boardgauge.language.model import Board, InputKind
from boardgauge.language.quantities import Duration, Quantity, Tolerance
from boardgauge.machine.compile import compile_board
from boardgauge.machine.config import THE_INSTANT, Cause, Config
from boardgauge.machine.input_ways import comes_out, levels_read, readings_of, ways_together
from boardgauge.machine.logic import Happens
from boardgauge.machine.moves import Look
from boardgauge.machine.run import Value
from boardgauge.machine.settle import Engine
from boardgauge.machine.table import Level, Machine, Timing


class _Causeless(Engine):
    """An engine that asks for no causes: where both do the same, both count from the same."""

    def _cause(self, happens: Happens | None, look: Look) -> Cause:
        return THE_INSTANT


def engine_of(board: Board) -> Engine:
    """Give an engine of what a board does, without what only watches it."""
    return _Causeless(compile_board(attrs.evolve(board, requirements={}, not_judged=())))


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
        keys: dict[tuple[str, object], Level] = {}
        for machine in (self.first.machine, self.second.machine):
            for level in machine.levels:
                keys.setdefault(_key(level), attrs.evolve(level, index=len(keys)))
        self.levels = tuple(keys.values())
        first, second = (
            tuple(keys[_key(level)].index for level in machine.levels)
            for machine in (self.first.machine, self.second.machine)
        )
        self._places = (first, second)
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

    def ways(self) -> list[tuple[tuple[int, ...], list[tuple[bool, ...]]]]:
        """Give for each input that may change and is read its levels and the values they can have together."""
        read = [False] * len(self.levels)
        for engine, places in zip((self.first, self.second), self._places, strict=True):
            for index, wanted in zip(places, levels_read(engine.machine), strict=True):
                read[index] = read[index] or (wanted and self.levels[index].input not in self.held)
        return ways_together(self.both, tuple(read))

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

    def partners(self, one_way: bool) -> dict[int, int]:
        """Give the timings that belong together (first's -> second's): their ranges equal, or with ``one_way`` the
        second's inside the first's."""
        found = {}
        theirs = {(row.name, row.role): row for row in self.second.machine.timings}
        for row in self.first.machine.timings:
            other = theirs.get((row.name, row.role))
            if other is not None and self._allows(row, other, one_way) and self._allows_speed(row, other):
                found[row.index] = other.index
        shared = "shared" in {self.first.machine.board.clock, self.second.machine.board.clock}
        if shared and (one_way or len(found) < len(self.first.machine.timings)):
            # One clock drives all times of the first: it can follow in all of them, or in none.
            return found if one_way and found == self.partners(False) else {}
        return found

    def _allows(self, row: Timing, other: Timing, one_way: bool) -> bool:
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
        sped_up = bool(row.speed_ups)
        return all(
            inside(b, a, sped_up) and (one_way or inside(a, b, sped_up))
            for a, b in zip(row.choices, other.choices, strict=True)
        )

    def _allows_speed(self, row: Timing, other: Timing) -> bool:
        mine, its = (
            sorted((repr(m.speed_ups[i].while_), m.speed_ups[i].times_faster) for i in timing.speed_ups)
            for m, timing in ((self.first.machine, row), (self.second.machine, other))
        )
        return mine == its


def inside(one: Duration, other: Duration, sped_up: bool = True) -> bool:
    """Tell whether all that one time may last the other may too; with ``sped_up`` however fast they run."""
    if not sped_up:
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


def _key(level: Level) -> tuple[str, object]:
    return level.input, level.comparison

"""Let boards do again what a recording shows at their inputs, and then something more.

Law of this module: boards are simulated at nominal times; what is said of the future is therefore what a board does
next, give or take its tolerances. Two boards are told apart only where they differ for longer than those.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from fractions import Fraction
from itertools import pairwise

from attrs import define, field, frozen

from boardgauge.faults.lamps import pattern
from boardgauge.language.model import Blink, Board, InputKind, Lamp, Pattern
from boardgauge.language.quantities import MS, H, S
from boardgauge.language.units import in_unit
from boardgauge.machine.compile import compile_board
from boardgauge.machine.config import Config
from boardgauge.machine.picture import CannotSettle
from boardgauge.machine.run import POWER, Entry, Value
from boardgauge.machine.settle import Engine
from boardgauge.machine.simulate import Simulator
from boardgauge.machine.table import Machine
from boardgauge.machine.terminals import MissingValue, TooShort
from boardgauge.traces.trace import Trace

Changes = tuple[tuple[int, Value], ...]
Look = tuple[tuple[bool, ...], tuple[str, ...]]
"""What shows at a moment: the outputs, and the patterns of the lamps."""

_LEAST, _PART = 1200 * MS, Fraction(8, 100)
_OFF_FOR = 5 * S
_MOST_NUMBERS = 2000
_WATCHING = frozenset(("requirement", "not judged", "window"))


@frozen
class Poke:
    """One thing to do at the bench: what it is called, and the changes it brings (after the moment of doing it)."""

    words: str
    changes: Mapping[str, Changes]
    cost: int = 0

    @property
    def takes(self) -> int:
        """How long the doing of it takes: nothing, but where the supply is off meanwhile."""
        return max((time for changes in self.changes.values() for time, _ in changes), default=0)

    def moment(self, after: int) -> str:
        """Say when something shows, ``after`` the poke began; a person counts from when the supply is on again."""
        since = after - self.takes
        if since < 0:
            return "while it is off"
        if since < S:
            return "as soon as it is on again" if self.takes else "at once"
        return f"{since / S:.0f} s after it is on again" if self.takes else f"after {since / S:.0f} s"


@frozen
class Told:
    """Where two boards part: so long after the poke, and what each shows then."""

    after: int
    one: Look
    other: Look


@define
class Rehearsal:
    """Rehearses boards on the inputs of one trace."""

    board: Board
    trace: Trace
    _past: dict[str, Changes] = field(init=False)
    _engines: dict[str, Engine] = field(factory=dict)

    def __attrs_post_init__(self) -> None:
        self._past = _inputs_of(self.trace, self.board)

    @property
    def end(self) -> int:
        """Where the recording ends, counted from its start."""
        return self.trace.end - self.trace.start

    def pokes(self) -> list[Poke]:
        """Give the single things that could be done at the end of the recording, waiting among them."""
        found = [Poke("wait", {})]
        for row in self.board.inputs.values():
            changes = self._past.get(row.id, ())
            if row.kind is InputKind.SENSOR:
                for value in self._beyond(row.id):
                    words = f"bring {row.id} to {float(value):g} {row.unit}"
                    found.append(Poke(words, {row.id: ((0, value),)}, 2))
                continue
            rest = row.rests_on
            now = bool(changes[-1][1]) if changes else rest
            found.append(Poke(_words(row.kind, row.id, not now), {row.id: ((0, not now),)}, 1))
        power = self._past.get(POWER, ())
        if power and power[-1][1]:
            words = "switch the supply off for 5 s and on again"
            found.append(Poke(words, {POWER: ((0, False), (_OFF_FOR, True))}, 3))
        elif power:
            found.append(Poke("switch the supply on", {POWER: ((0, True),)}, 1))
        return found

    def _beyond(self, sensor: str) -> list[Fraction]:
        row = self.board.inputs[sensor]
        assert row.unit is not None
        limits = sorted(
            {
                in_unit(quantity, row.unit).number
                for level in compile_board(self.board).levels
                if level.input == sensor and level.comparison is not None
                for quantity in (level.comparison.limit, level.comparison.until)
                if quantity is not None
            }
        )
        return [limits[0] - 10, limits[-1] + 10] if limits else []

    def looks(self, key: str, board: Board, poke: Poke) -> list[tuple[int, Look]] | None:
        """Give what a board shows after a poke, as (time after it, what shows from then on); None if it cannot be run.

        ``key`` names the board, which is compiled once.
        """
        if key not in self._engines:
            self._engines[key] = Engine(compile_board(board))
        engine = self._engines[key]
        coming = dict(self._past)
        for name, changes in poke.changes.items():
            # A little later than the end, so that nothing recorded is undone in the same moment.
            coming[name] = (*coming.get(name, ()), *((self.end + S + time, value) for time, value in changes))
        simulated = Simulator(engine.machine, engine=engine, positions=self.trace.settings).board()
        try:
            simulated.feed(coming)
            simulated.advance(self.end + S + self.horizon)
        except (CannotSettle, MissingValue, TooShort, KeyError, ValueError):
            return None
        return self._seen(engine, simulated.story())

    def _look(self, engine: Engine, config: Config) -> Look:
        lamps = tuple(
            self._shown(lamp, lamp.lines[engine.lamp_line(config, number)].shows) if config.powered else "dark"
            for number, lamp in enumerate(engine.machine.board.lamps.values())
        )
        return engine.outputs(config), lamps

    def _shown(self, lamp: Lamp, shows: Pattern) -> str:
        """Give what a lamp shows in words, those of the good board for what looks the same to a person."""
        for line in self.board.lamps[lamp.id].lines:
            if _alike(line.shows, shows):
                return pattern(line.shows)
        return pattern(shows)

    def _seen(self, engine: Engine, story: Sequence[Entry]) -> list[tuple[int, Look]]:
        found: list[tuple[int, Look]] = []
        before: Look = (tuple(False for _ in engine.machine.outputs), tuple("dark" for _ in engine.machine.board.lamps))
        for entry in story:
            look = self._look(engine, entry.config)
            time = entry.time - self.end - S
            if time <= 0:
                before = look
            elif not found or found[-1][1] != look:
                found.append((time, look))
        return [(0, before), *found]

    @property
    def horizon(self) -> int:
        """How long after a poke boards are looked at: longer than any time that a good one keeps, an hour at most."""
        machine: Machine = compile_board(self.board)
        times = [c.longest for t in machine.timings if t.role not in _WATCHING for c in t.choices]
        return min(H, max(times, default=0) * 3 // 2 + 30 * S)

    def parts(self, one: Sequence[tuple[int, Look]], other: Sequence[tuple[int, Look]]) -> Told | None:
        """Give where two boards part for longer than their tolerances; None if they do not."""
        times = sorted({time for time, _ in one} | {time for time, _ in other})
        since: int | None = None
        for time, following in pairwise([*times, self.horizon + 2 * _LEAST]):
            a, b = _at(one, time), _at(other, time)
            if a == b:
                since = None
                continue
            since = time if since is None else since
            if following - since > _LEAST + math.ceil(since * _PART):
                return Told(since, _at(one, time), _at(other, time))
        return None


def _at(looks: Sequence[tuple[int, Look]], time: int) -> Look:
    found = looks[0][1]
    for when, look in looks:
        if when > time:
            break
        found = look
    return found


def _alike(one: Pattern, other: Pattern) -> bool:
    if isinstance(one, Blink) and isinstance(other, Blink):
        pairs = ((one.lit, other.lit), (one.dark, other.dark))
        return all(3 * a <= 4 * b and 3 * b <= 4 * a for a, b in pairs)
    return one == other


_DO = {
    InputKind.CALL: ("switch {} on", "switch {} off"),
    InputKind.SIGNAL: ("switch {} on", "switch {} off"),
    InputKind.SWITCH: ("close {}", "open {}"),
    InputKind.LINK: ("fit {}", "take {} off"),
    InputKind.BUTTON: ("press {}", "release {}"),
}


def _words(kind: InputKind, name: str, value: bool) -> str:
    return _DO[kind][0 if value else 1].format(name)


def _inputs_of(trace: Trace, board: Board) -> dict[str, Changes]:
    """Give what came at the terminals, counted from the start of the trace; what is not known stays as it was."""
    found: dict[str, Changes] = {}
    for name in (POWER, *board.inputs):
        wave = trace.waves.get(name)
        if wave is None:
            continue
        changes: list[tuple[int, Value]] = [] if wave.initial is None else [(0, wave.initial)]
        changes += [(time - trace.start, value) for time, value in wave.recorded_changes() if value is not None]
        found[name] = _without_repeats(changes)
    for name, reading in trace.readings.items():
        numbers = [
            (max(0, time - trace.start), Fraction(value).limit_denominator(1000))
            for time, value in zip(reading.times.tolist(), reading.values.tolist(), strict=True)
            if not math.isnan(value) and not math.isinf(value)
        ]
        step = max(1, len(numbers) // _MOST_NUMBERS)
        found[name] = _without_repeats(numbers[::step])
    return found


def _without_repeats(changes: Sequence[tuple[int, Value]]) -> Changes:
    found: list[tuple[int, Value]] = []
    for time, value in changes:
        if found and found[-1][0] == time:
            found[-1] = (time, value)
        elif not found or found[-1][1] != value:
            found.append((time, value))
    return tuple(found)

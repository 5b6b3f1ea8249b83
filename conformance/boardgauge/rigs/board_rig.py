"""A simulated board as a rig, in this process and in virtual time.

Law of this module: it does what the reference machine does, with the free choices made from one seed; no clock is read.
Each start is that of a new board, with the supply off and nothing remembered.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from boardgauge.language.model import Board, InputKind
from boardgauge.machine.chance import Chance, Timings
from boardgauge.machine.compile import compile_board
from boardgauge.machine.config import Config
from boardgauge.machine.picture import CannotSettle
from boardgauge.machine.run import Entry
from boardgauge.machine.scanning import ScanningEngine
from boardgauge.machine.settle import Engine
from boardgauge.machine.simulate import SimulatedBoard, Simulator
from boardgauge.machine.terminals import MissingValue, TooShort
from boardgauge.rigs.lamp_player import LampPlayer
from boardgauge.rigs.rig import POWER, Change, Report, Rig, RigFacts, RigFailure, Value


def safe_levels(board: Board) -> dict[str, Value]:
    """Give what is safe for each input of a board unless a rig says otherwise: off, open, without power.

    A sensor has no value that is off, and is left out.
    """
    found: dict[str, Value] = {POWER: False}
    return found | {row.id: False for row in board.inputs.values() if row.kind is not InputKind.SENSOR}


class BoardRig(Rig):
    """The simulated board of a spec. ``acts`` is the spec that it goes by, where that is not the board's: of a fault.

    ``timings``, ``seed`` and ``durations`` make the free choices, as of ``machine.simulate.Simulator``; ``safe`` has
    what is safe where it is not off, and the sensors that can be driven.
    """

    def __init__(
        self,
        board: Board,
        acts: Board | None = None,
        timings: Timings = "random",
        seed: int = 0,
        durations: Mapping[str, Sequence[int]] | None = None,
        safe: Mapping[str, Value] | None = None,
        name: str = "simulated",
    ) -> None:
        self.board = board
        self._machine = compile_board(acts or board)
        self._engine = Engine(self._machine) if acts is None or acts is board else ScanningEngine(self._machine)
        self._timings: Timings = timings
        self._seed = seed
        self._durations = dict(durations or {})
        sees = (*board.outputs, *board.lamps)
        drives = {**safe_levels(board), **(safe or {})}
        self._facts = RigFacts(name, "simulated", drives, sees, virtual=True, chooses=True, pulses=True)
        self._board: SimulatedBoard | None = None
        self._lamps: dict[str, LampPlayer] = {}
        self._levels: dict[str, Value] = {}
        self._now = 0
        self._reported = -1
        self._starts = 0

    @property
    def facts(self) -> RigFacts:
        return self._facts

    @property
    def levels(self) -> Mapping[str, Value]:
        """What is driven now."""
        return dict(self._levels)

    def start(self, settings: Mapping[str, str] | None = None) -> Report:
        seed = self._seed + self._starts
        self._starts += 1
        simulator = Simulator(self._machine, self._timings, seed, settings, self._engine, durations=self._durations)
        self._board = simulator.board()
        chance = Chance(self._machine, self._timings, seed)
        self._lamps = {lamp.id: LampPlayer(lamp, chance.beside(lamp.id)) for lamp in self._machine.board.lamps.values()}
        self._now, self._reported = 0, -1
        self._levels = {}
        self._feed(dict(self._facts.drives), 0)
        return Report(0, tuple(Change(0, signal, False) for signal in self._facts.sees))

    def set(self, levels: Mapping[str, Value]) -> int:
        self._known(levels)
        moment = self._now + 1
        self._feed(levels, moment)
        return moment

    def pulse(self, levels: Mapping[str, Value], back: Mapping[str, Value], length: int) -> tuple[int, int]:
        self._known(levels)
        begins, ends = self._now + 1, self._now + 1 + length
        fed = {name: [(begins, value), (ends, back[name])] for name, value in levels.items()}
        self._give(fed)
        self._levels.update(back)
        self._now = ends
        return begins, ends

    def _known(self, levels: Mapping[str, Value]) -> None:
        unknown = [name for name in levels if name not in self._facts.drives]
        if unknown:
            raise RigFailure(f"{self._facts.name} does not drive {', '.join(unknown)}")

    def _feed(self, levels: Mapping[str, Value], moment: int) -> None:
        news = {name: value for name, value in levels.items() if self._levels.get(name) != value or moment == 0}
        self._give({name: [(moment, value)] for name, value in news.items()})
        self._levels.update(levels)
        self._now = moment

    def _give(self, changes: Mapping[str, Sequence[tuple[int, Value]]]) -> None:
        try:
            self._running().feed(changes)
        except TooShort as error:
            raise RigFailure(
                f"{error}: a simulated board cannot know beforehand that a change is too short; ask for a pulse"
            ) from None

    def wait(self, until: int) -> Report:
        target = max(until, self._now)
        changes: list[Change] = []
        while not changes and self._now < target:
            changes = self._on_to(target)
        if not changes:
            changes = self._on_to(target)
        return Report(self._now, tuple(changes))

    def _on_to(self, target: int) -> list[Change]:
        """Go on to the next thing that is due, at most to a time, and give what showed there."""
        board, since = self._running(), self._reported
        coming = [time for time, _, _ in board.showing_after(since)[:1]]
        coming += [time for lamp in self._lamps.values() if (time := lamp.next_edge()) is not None]
        due = board.due()
        stop = min([target, *coming, *([] if due is None else [due])])
        stop = max(stop, self._now)
        try:
            board.advance(stop, self._note)
        except (CannotSettle, MissingValue) as error:
            raise RigFailure(f"the simulated board cannot go on: {error}") from None
        self._now = self._reported = stop
        found = [Change(time, name, value) for time, name, value in board.showing_after(since) if time <= stop]
        for name, lamp in self._lamps.items():
            found += [Change(time, name, value) for time, value in lamp.go(stop)]
        order = {name: number for number, name in enumerate(self._facts.sees)}
        return sorted((c for c in found if c.signal in order), key=lambda c: (c.time, order[c.signal]))

    def _note(self, entry: Entry, before: Config) -> bool:
        for index, lamp in enumerate(self._lamps.values()):
            lamp.line(entry.time, self._engine.lamp_line(entry.config, index))
        return False

    def _running(self) -> SimulatedBoard:
        if self._board is None:
            raise RigFailure(f"{self._facts.name} was not started")
        return self._board

    def safe(self) -> None:
        if self._board is None:
            return
        # Without the supply the board acts on nothing that comes after.
        self._feed({POWER: self._facts.drives[POWER]}, self._now + 1)
        self.wait(self._now)
        self._feed(dict(self._facts.drives), self._now + 1)

    def close(self) -> None:
        self._board = None

"""A board on the bench: the simulated board at nominal times, with a hand at its terminals.

Law of this module: what the hand does is known, what the board does is read off its story; nothing is worked out here.
"""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from boardgauge.language.model import InputKind
from boardgauge.language.quantities import H, S
from boardgauge.machine.config import Config
from boardgauge.machine.explore import hidden_timings
from boardgauge.machine.run import POWER, Entry, Run, Value
from boardgauge.machine.simulate import Simulator
from boardgauge.machine.table import Machine
from boardgauge.sheets import readings
from boardgauge.sheets.study import Study

_FAR = 48 * H
_MOST_INSTANTS = 80


class Bench:
    """One simulated board, and what was done to it."""

    def __init__(self, study: Study) -> None:
        self.study = study
        self.machine: Machine = study.machine
        self.board = Simulator(self.machine, engine=study.engine).board()
        filters = [row.filter.greatest + row.responds_within for row in study.board.inputs.values()]
        self.pause = max([2 * S, *(2 * one + S for one in filters)])
        """How long the hand waits between two changes: each is surely seen, and answered, before the next."""
        self._seen = 0
        self._last_change = 0

    @property
    def config(self) -> Config:
        """What the board is in."""
        return self.board.config

    @property
    def now(self) -> int:
        """The time, from the beginning of the bench."""
        return self.board.now

    def power(self, on: bool) -> list[Entry]:
        """Switch the supply; sensors without a reading get a quiet one first."""
        if on and self.now == 0:
            quiet: dict[str, list[tuple[int, Value]]] = {}
            for name, row in self.study.board.inputs.items():
                rows = [level for level in self.machine.levels if level.input == name and level.comparison is not None]
                if row.kind is InputKind.SENSOR:
                    quiet[name] = [(0, readings.quiet(self.study.board, rows) if rows else Fraction(0))]
            self.board.feed(quiet)
        return self._feed({POWER: on})

    def set(self, wanted: Iterable[tuple[int, bool]]) -> list[Entry] | None:
        """Bring levels (index, value) about at one moment; None where no reading of a sensor does."""
        values: dict[str, Value] = {}
        by_input: dict[str, dict[int, bool]] = {}
        for index, value in wanted:
            by_input.setdefault(self.machine.levels[index].input, {})[index] = value
        for name, asked in by_input.items():
            rows = [level for level in self.machine.levels if level.input == name]
            if rows[0].comparison is None:
                values[name] = asked[rows[0].index]
                continue
            now = [self.config.levels[row.index] for row in rows]
            after = [asked.get(row.index, held) for row, held in zip(rows, now, strict=True)]
            found = readings.reading(self.study.board, rows, now, after)
            if found is None:
                return None
            values[name] = found
        return self._feed(values)

    def _feed(self, values: dict[str, Value]) -> list[Entry]:
        at = max(self.now, self._last_change + self.pause) if self.now else 0
        entries = self.until(at)
        self.board.feed({name: [(at, value)] for name, value in values.items()})
        self._last_change = at
        # The board answers no later than it must; a second instant at the same moment belongs to it.
        return entries + self.until(at + max([0, *(row.responds_within for row in self.study.board.inputs.values())]))

    def until(self, time: int) -> list[Entry]:
        """Let time pass; give what happened."""
        self.board.advance(time)
        return self._new()

    def next(self) -> list[Entry]:
        """Let time pass until something happens; nothing comes back if nothing ever does."""
        while (due := self.board.due()) is not None and due <= self.now + _FAR:
            self.board.advance(due)
            if new := self._new():
                return new
        return []

    def runs(self) -> bool:
        """Tell whether a timing of the board runs that will end by itself (the window of a count is none)."""
        return bool(self.config.running & ~hidden_timings(self.machine))

    def settle(self) -> list[Entry]:
        """Let the board come to rest with its inputs as they are; stops where it only repeats itself."""
        entries: list[Entry] = []
        seen = {self.config}
        while self.runs() and len(entries) < _MOST_INSTANTS:
            new = self.next()
            if not new:
                break
            entries += new
            if self.config in seen:
                break
            seen.add(self.config)
        return entries

    def run(self) -> Run:
        """Give all that was at the terminals."""
        return self.board.run()

    def _new(self) -> list[Entry]:
        story = self.board.story()
        entries = list(story[self._seen :])
        self._seen = len(story)
        return entries

"""One machine taken through time with every length fixed: what exists between two steps of the search, as a value.

Law of this module: pictures only, no terminals: what happens is taken in at once. A state is all that the next steps
depend on, so equal states go on equally. What is found here is only a guess; a trial on the simulated board decides.
"""

from __future__ import annotations

from typing import Literal, NamedTuple

from boardgauge.language.quantities import Duration, Tolerance
from boardgauge.machine.config import Config, Outcome
from boardgauge.machine.scanning import SCAN
from boardgauge.machine.settle import Engine

Length = Literal["nominal", "earliest", "latest"]


class Left(NamedTuple):
    """What is left of a timing: board time, and real time after it (microseconds). ``region`` of a count's event."""

    timing: int
    region: int
    board: int
    real: int


class Standing(NamedTuple):
    """A machine at a moment. ``left`` has what runs, and what accumulators that stand still have yet to add up."""

    config: Config
    left: tuple[Left, ...] = ()


class Stepper:
    """Takes one machine through time."""

    def __init__(self, engine: Engine, length: Length, positions: dict[str, str] | None = None) -> None:
        self.engine, self.length = engine, length
        self.positions = positions or {}
        machine = engine.machine
        self._sums = {r.timings[0]: r.index for r in machine.regions if r.kind == "accumulator"}
        self._windows = {r.index: r.timings[0] for r in machine.regions if r.kind == "count" and r.timings}

    def off(self) -> Standing:
        """Give the board before it is switched on for the first time."""
        return Standing(self.engine.off(self.positions))

    def next_end(self, standing: Standing) -> int | None:
        """Give how long it is until the next timing is over, or a board that does not rest goes on; None if neither."""
        times = [self._time_left(standing.config, row) for row in standing.left if self._runs(standing.config, row)]
        if self.engine.scans_again(standing.config):
            times.append(SCAN)
        return min(times, default=None)

    def after(self, standing: Standing, time: int) -> Standing:
        """Give the same, a time later, at which nothing is over yet or just now."""
        if not time:
            return standing
        config = standing.config
        left = tuple(
            row._replace(board=row.board - time * self.rate(config, row.timing)) if self._runs(config, row) else row
            for row in standing.left
        )
        return Standing(config, left)

    def instant(
        self, standing: Standing, levels: tuple[bool, ...], power_up: bool = False
    ) -> tuple[Standing, Outcome | None]:
        """Take in levels and all that is over. Raises CannotSettle."""
        config = standing.config
        over = self.over(standing)
        expired = tuple(sorted(row.timing for row in over if row.region < 0))
        dropped = tuple(sorted({row.region for row in over if row.region >= 0}))
        if not over and levels == config.levels and not power_up and not self.engine.scans_again(config):
            return standing, None
        outcome = self.engine.settle(config, levels, expired, dropped, power_up)
        gone: list[Left] = [row for row in over if row.region < 0]
        gone += [next(row for row in over if row.region == region) for region in dropped]
        left = [row for row in standing.left if row not in gone]
        return Standing(outcome.config, self._left(left, outcome)), outcome

    def over(self, standing: Standing) -> list[Left]:
        """Give what runs and has nothing left."""
        return self.ending(standing, 0)

    def ending(self, standing: Standing, within: int) -> list[Left]:
        """Give what runs and is over within a time."""
        config = standing.config
        return [row for row in standing.left if self._runs(config, row) and self._time_left(config, row) <= within]

    def without_power(self, standing: Standing) -> Standing:
        """Give it after a loss of power."""
        config = self.engine.lose_power(standing.config)
        regions = self.engine.machine.regions
        kept = {t for r in regions if r.kept_without_power for t in r.timings}
        kept |= {d.timing for d in self.engine.machine.delays if d.kept_without_power}
        return Standing(config, tuple(row for row in standing.left if row.timing in kept))

    def _left(self, left: list[Left], outcome: Outcome) -> tuple[Left, ...]:
        config = outcome.config
        begun = {timing for timing, _ in outcome.begun}
        found = []
        for row in left:
            if row.region >= 0:
                if row.region not in outcome.forgot:
                    found.append(row)
            elif row.timing in self._sums:
                if self._sums[row.timing] not in outcome.emptied:
                    found.append(row)
            elif row.timing not in begun and config.running >> row.timing & 1:
                found.append(row)
        have = {row.timing for row in found}
        found += [self._fresh(timing, -1, config) for timing in sorted(begun - have)]
        for region, _ in outcome.counted:
            if region in self._windows:
                found.append(self._fresh(self._windows[region], region, config))
                most = len(self.engine.machine.regions[region].places) - 1
                mine = [row for row in found if row.region == region]
                for row in mine[: max(0, len(mine) - most)]:
                    found.remove(row)
        return tuple(found)

    def _fresh(self, timing: int, region: int, config: Config) -> Left:
        row = self.engine.machine.timings[timing]
        board, real = length_of(row.choices[self.engine.settings.choice(config.chosen, timing)], self.length)
        return Left(timing, region, board, real)

    def _runs(self, config: Config, row: Left) -> bool:
        return config.powered and (row.region >= 0 or bool(config.running >> row.timing & 1))

    def _time_left(self, config: Config, row: Left) -> int:
        rate = self.rate(config, row.timing)
        return max(0, -(-row.board // rate) + row.real)

    def rate(self, config: Config, timing: int) -> int:
        """Give how many times faster than real time a timing runs."""
        rates = [
            self.engine.machine.speed_ups[index].times_faster
            for index in self.engine.machine.timings[timing].speed_ups
            if self.engine.sped_up(config, index)
        ]
        return max(rates, default=1)


def length_of(duration: Duration, length: Length) -> tuple[int, int]:
    """Give the board time and the real time after it."""
    tolerance = duration.tolerance or Tolerance()
    if length == "nominal":
        return duration.nominal, 0
    if length == "earliest":
        return int(duration.percent_shortest), -tolerance.less
    return int(duration.percent_longest), tolerance.more

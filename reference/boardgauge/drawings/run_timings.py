"""Give the timings of a run as ramps: how much of each had run at every moment, and when it may be over.

Law of this module: a ramp counts from the moment at the terminals that set its timing going, at the rate that the
speed-ups give; its window is what the spec's range makes of that, worked out as the simulated board works out its ends.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from functools import partial

from boardgauge.drawings.causes import UNSEEN
from boardgauge.drawings.chart import Ramp
from boardgauge.language.quantities import Duration, Tolerance
from boardgauge.machine.board_time import BoardTime
from boardgauge.machine.chance import Draw
from boardgauge.machine.run import Entry, Run, Stretch
from boardgauge.machine.settle import Engine
from boardgauge.machine.stopwatch import Going, Rates
from boardgauge.machine.table import Timing


class RunTimings:
    """The timings of one run."""

    def __init__(self, engine: Engine, run: Run) -> None:
        self._engine = engine
        self._run = run
        self._rates = Rates(engine.machine)
        self._turns: list[int] = []
        for entry in run.story:
            since = _counts_from(entry)
            if self._rates.update(since, partial(engine.sped_up, entry.config)):
                self._turns.append(since)
        self._configs = [(entry.time, entry.config) for entry in run.story]

    def rows(self) -> Iterator[tuple[Timing, tuple[Ramp, ...]]]:
        """Give each timing that ran, in the order of the machine's table, with its ramps in order."""
        for row in self._engine.machine.timings:
            if row.role not in UNSEEN:
                ramps = tuple(self._ramps(row))
                if ramps:
                    yield row, ramps

    def _ramps(self, row: Timing) -> Iterator[Ramp]:
        ran: list[tuple[int, int]] = []
        stretches = sorted((s for s in self._run.stretches if s.timing == row.index), key=lambda s: (s.origin, s.end))
        emptied = self._emptied(row)
        last = -1
        for stretch in stretches:
            # An accumulator keeps what it has until it is emptied; nothing else goes on where it was cut short.
            if row.role != "target" or any(last < time <= stretch.begun for time in emptied):
                ran = []
            last = stretch.end
            if stretch.end > stretch.origin:
                yield self._ramp(row, stretch, ran)
                ran = [*ran, (stretch.origin, stretch.end)]
            if stretch.how == "expired":
                ran = []

    def _emptied(self, row: Timing) -> list[int]:
        region = self._engine.machine.region_of(row.owner)
        if row.role != "target" or region is None:
            return []
        return [e.time for e in self._run.story if e.outcome is None or region.index in e.outcome.emptied]

    def _ramp(self, row: Timing, stretch: Stretch, ran: list[tuple[int, int]]) -> Ramp:
        duration = self._duration(row, stretch)
        board_time = self._rates.of(row)
        has_run = sum(board_time.at(b) - board_time.at(a) for a, b in ran)
        over = stretch.how == "expired"
        # Speed-ups change the slope, so a ramp turns where they do.
        times = [stretch.origin, *(t for t in self._turns if stretch.origin < t < stretch.end), stretch.end]
        amounts = [has_run + board_time.at(time) - board_time.at(stretch.origin) for time in times]
        whole = max(1, amounts[-1]) if over else max(1, duration.nominal)
        most = 1.0 if over else 0.97
        points = tuple((t, min(most, float(Fraction(a) / whole))) for t, a in zip(times, amounts, strict=True))
        window = self._window(row, duration, stretch, ran, board_time)
        cut = not over and stretch.how != "still running"
        shown = over or window[0] <= stretch.end or not cut
        return Ramp(points, over, cut, window if shown else None)

    def _duration(self, row: Timing, stretch: Stretch) -> Duration:
        config = next((c for time, c in reversed(self._configs) if time <= stretch.begun), self._engine.off())
        return row.choices[self._engine.settings.choice(config.chosen, row.index)]

    def _window(
        self, row: Timing, duration: Duration, stretch: Stretch, ran: list[tuple[int, int]], board_time: BoardTime
    ) -> tuple[int, int]:
        tolerance = duration.tolerance or Tolerance()
        ends = []
        for draw in (
            Draw(duration.percent_shortest, -tolerance.less),
            Draw(duration.percent_longest, tolerance.more),
        ):
            going = Going(row.index, duration, draw, stretch.begun, stretch.origin, list(ran))
            going.work_out(board_time)
            ends.append(going.end)
        return ends[0], ends[1]


def _counts_from(entry: Entry) -> int:
    causes = entry.causes
    only_inputs = causes.changes and not causes.expired and not causes.dropped
    return max(taken.raw for taken in causes.changes) if only_inputs else entry.time

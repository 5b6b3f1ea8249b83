"""What the rules of a board allow, in numbers, on one trace.

Law of this module: every window is as wide as the spec and the trace leave it, rounded outwards to whole microseconds.
"""

from __future__ import annotations

from typing import Protocol

from boardgauge.judging.answers import Answers
from boardgauge.judging.clocks import LONG, REAL_TIME, Clock
from boardgauge.judging.evidence import Evidence
from boardgauge.judging.hypothesis import Bounds, Hypothesis, Sum
from boardgauge.judging.symbols import earlier, later
from boardgauge.machine.config import Config
from boardgauge.machine.inputs import Change
from boardgauge.machine.picture import CannotSettle
from boardgauge.machine.settle import Engine
from boardgauge.machine.table import Machine, Timing

UNKNOWN_CHOICE = -1
"""The position of a setting that was read before the recording began."""

PARTS = 1_000_000_000
"""A clock rate is a whole number of these parts of the nominal time: more than PARTS is a slow clock."""

Range = tuple[int, int, int, int]
"""Board time at least and at most, then the seconds that it may be less and more."""


class State(Protocol):
    """What the limits are read for: a hypothesis, or a draft of one."""

    @property
    def config(self) -> Config: ...

    @property
    def rate(self) -> Bounds: ...


class Limits:
    """Windows of timings, deadlines of outputs and lamps, and who stops what; worked out once each."""

    def __init__(self, engine: Engine, evidence: Evidence, answers: Answers) -> None:
        machine = engine.machine
        self.engine, self.evidence = engine, evidence
        self.lags = [row.lag for row in machine.outputs]
        self.slowest = max([machine.board.responds_within, *evidence.responds])
        # The board acts on a moment as one, so never before the last of it has come; what may be one waits as long.
        self._responds = evidence.responds
        self._responds_together = [max(responds, machine.board.same_moment) for responds in evidence.responds]
        self.shared = machine.board.clock == "shared"
        self._by_our_clock = {t.index for t in machine.timings if t.role in {"requirement", "not judged"}}
        self._nominals = [
            (min(c.nominal for c in t.choices), max(c.nominal for c in t.choices)) for t in machine.timings
        ]
        if not answers.rates:
            answers.ranges += [_ranges(timing) for timing in machine.timings]
            answers.rates += [self._any_rate(machine)]
        self._ranges = answers.ranges
        self._clocks: list[Clock] = [evidence.clocks.get(t.speed_ups, REAL_TIME) for t in machine.timings]
        self.sum_regions = [r.index for r in machine.regions if r.kind == "accumulator"]
        self.sum_timings = [machine.regions[i].timings[0] for i in self.sum_regions]
        self.count_regions = [r.index for r in machine.regions if r.kind == "count"]
        self.window_timings: list[int | None] = [(machine.regions[i].timings or (None,))[0] for i in self.count_regions]
        self.not_interval = {t.index for t in machine.timings if t.role in {"target", "window"}}
        self.moment_last = evidence.moment_last
        output = {row.output: row.index for row in machine.outputs}
        lamps = {lamp: number for number, lamp in enumerate(machine.board.lamps)}
        self._output_masks: dict[int, int] = {}
        self._lamp_masks: dict[int, int] = {}
        self.unmasks: dict[int, list[int]] = {}
        for timing, signals in machine.masks:
            for signal in signals:
                if signal in output:
                    index = output[signal]
                    self._output_masks[index] = self._output_masks.get(index, 0) | 1 << timing
                    self.unmasks.setdefault(timing, []).append(index)
                elif signal in lamps:
                    self._lamp_masks[lamps[signal]] = self._lamp_masks.get(lamps[signal], 0) | 1 << timing
        self.any_rate = answers.rates[0]
        self._stops = answers.stops

    def _any_rate(self, machine: Machine) -> Bounds:
        """Give the clock rates that the percentages of all timings allow, where one clock drives them all."""
        tolerances = [
            c.tolerance
            for t in machine.timings
            for c in t.choices
            if t.index not in self._by_our_clock and c.tolerance is not None
        ]
        if not self.shared or not tolerances:
            return PARTS, PARTS
        low = 1 - min(t.percent_less for t in tolerances)
        high = 1 + min(t.percent_more for t in tolerances)
        return low.numerator * PARTS // low.denominator, -(-high.numerator * PARTS // high.denominator)

    # -- timings -------------------------------------------------------------------------------------------------

    def range_of(self, state: State, timing: int) -> Range:
        """Give the range of a timing: by the position of its setting that it took, and by the board's clock rate."""
        ranges = self._ranges[timing]
        row = ranges[0] if len(ranges) == 1 else ranges[self.engine.settings.choice(state.config.chosen, timing)]
        if not self.shared or timing in self._by_our_clock:
            return row
        slow, fast = self._nominals_of(state, timing)
        low, high = state.rate
        return later(row[0], slow * low // PARTS), earlier(row[1], -(-fast * high // PARTS)), row[2], row[3]

    def over_before_acted_on(self, timing: int) -> bool:
        """Tell whether a timing may be over, counted from the terminal, before the board acts on what begins it."""
        machine = self.engine.machine
        fastest = max([1, *(machine.speed_ups[number].times_faster for number in machine.timings[timing].speed_ups)])
        return any(most // fastest + more < self.slowest for _, most, _, more in self._ranges[timing])

    def rate_of(self, timing: int, board_time: Bounds, nominals: Bounds) -> Bounds:
        """Give the clock rates with which a timing can have lasted so long, in parts of ``PARTS``."""
        slow, fast = nominals
        return board_time[0] * PARTS // max(1, fast), -(-board_time[1] * PARTS // max(1, slow))

    def kept_rate(self, state: State, timing: int, origin: Bounds, end: Bounds) -> Bounds | None:
        """Give the board's clock rate after a timing is known to have lasted from ``origin`` to ``end``.

        None if no rate that is still possible fits. Only where one clock drives all timings is anything learnt.
        """
        if not self.shared or timing in self._by_our_clock:
            return state.rate
        _, _, less, more = self.range_of(state, timing)
        clock = self._clocks[timing]
        # A timing ends on a whole microsecond: up to one more than its rate says, and with a speed-up that is many.
        least = clock.least(origin[1], later(origin[1], end[0] - more - 1))
        most = clock.most(origin[0], later(origin[0], end[1] + 1), less)
        found = self.rate_of(timing, (least, most), self._nominals_of(state, timing))
        low, high = later(state.rate[0], found[0]), earlier(state.rate[1], found[1])
        return (low, high) if low <= high else None

    def _nominals_of(self, state: State, timing: int) -> Bounds:
        choices = self.engine.machine.timings[timing].choices
        choice = self.engine.settings.choice(state.config.chosen, timing)
        if len(choices) == 1 or choice >= 0:
            nominal = choices[0 if len(choices) == 1 else choice].nominal
            return nominal, nominal
        return self._nominals[timing]

    def clock(self, timing: int) -> Clock:
        """Give the clock that a timing runs by."""
        return self._clocks[timing]

    def window(self, state: State, timing: int, origin: Bounds) -> Bounds:
        """Give when a timing begun somewhere in ``origin`` may end."""
        least, most, less, more = self.range_of(state, timing)
        clock = self._clocks[timing]
        return (
            later(origin[0], clock.earliest(origin[0], least, less)),
            clock.latest(origin[1], most) + more,
        )

    def origins(self, state: State, timing: int, end: Bounds) -> Bounds:
        """Give when a timing that ended somewhere in ``end`` may have begun."""
        least, most, less, more = self.range_of(state, timing)
        clock = self._clocks[timing]
        return clock.earliest_origin(end[0] - more, most), clock.latest_origin(end[1], least, less)

    def sum_window(self, state: State, index: int, total: Sum, since: Bounds) -> Bounds:
        """Give when an accumulator may be full if it goes on adding up."""
        timing = self.sum_timings[index]
        least, most, less, more = self.range_of(state, timing)
        clock = self._clocks[timing]
        earliest = clock.earliest(since[0], later(0, least - total.most), less)
        return later(since[0], earliest), clock.latest(since[1], later(0, most - total.least)) + more

    def added(self, index: int, since: Bounds, until: Bounds) -> Bounds:
        """Give how much board time was added up between two moments."""
        clock = self._clocks[self.sum_timings[index]]
        return clock.least(since[1], later(since[1], until[0])), clock.most(since[0], later(since[0], until[1]))

    # -- the stopwatch at the terminals ----------------------------------------------------------------------------

    def stopped_by(self, h: Hypothesis, timing: int) -> int | None:
        """Give the latest moment of a pending input change that will stop (or restart) a timing; None if none will.

        A timing that an input's change stops cannot end after that change at the terminal, whenever the board acts
        on it.
        """
        found: int | None = None
        for number in h.pending:
            change = self.evidence.changes[number]
            if change.value is None:
                continue
            key = (h.config, change.level, change.value, timing)
            stops = self._stops.get(key)
            if stops is None:
                levels = list(h.config.levels)
                levels[change.level] = change.value
                stops = self._stops[key] = self._stops_timing(h.config, tuple(levels), timing)
            if stops:
                found = change.latest if found is None else later(found, change.latest)
        return found

    def _stops_timing(self, config: Config, levels: tuple[bool, ...], timing: int) -> bool:
        try:
            outcome = self.engine.settle(config, levels)
        except CannotSettle:
            return False
        return not outcome.config.running >> timing & 1 or any(t == timing for t, _ in outcome.begun)

    def acted_on_by(self, change: Change) -> int:
        """Give by when the board must have acted on an input change."""
        return change.latest + (self._responds if change.moment == -1 else self._responds_together)[change.level]

    # -- outputs and lamps -----------------------------------------------------------------------------------------

    def masked(self, config: Config, output: int) -> bool:
        """Tell whether the spec says not to judge an output now."""
        return bool(config.running & self._output_masks.get(output, 0))

    def lamp_masked(self, config: Config, lamp: int) -> bool:
        """Tell whether the spec says not to judge a lamp now."""
        return bool(config.running & self._lamp_masks.get(lamp, 0))

    def lamp_deadline(self, lamp: int, line: int, since: int) -> int:
        """Give by when a board that shows this line since then has shown something else; LONG if it never need."""
        watch = self.evidence.deadlines[lamp]
        return LONG if watch is None else watch.by(line, since)


def _ranges(timing: Timing) -> tuple[Range, ...]:
    rows: list[Range] = []
    for duration in timing.choices:
        assert duration.tolerance is not None
        least, most = duration.percent_shortest, duration.percent_longest
        rows.append(
            (
                least.numerator // least.denominator,
                -(-most.numerator // most.denominator),
                duration.tolerance.less,
                duration.tolerance.more,
            )
        )
    if len(rows) > 1:
        # The last row, which a choice of -1 finds, is that of a position nobody knows.
        rows.append(
            (
                min(r[0] for r in rows),
                max(r[1] for r in rows),
                max(r[2] for r in rows),
                max(r[3] for r in rows),
            )
        )
    return tuple(rows)

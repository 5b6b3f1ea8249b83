"""How long what a machine has going may still take: the clocks of a configuration, and what an instant makes of them.

Law of this module: every running timing has a clock, that stands at nought when it begins, and limits between which the
timing is over. Limits are only ever too wide, never too narrow: what is not followed exactly (how long an accumulator
has added up before it stood still, what a speed-up or a loss of power left of a timing) is rounded outwards.
"""

from __future__ import annotations

from collections.abc import Container, Sequence
from fractions import Fraction
from math import ceil, floor
from typing import NamedTuple

from boardgauge.language.quantities import Duration, Tolerance
from boardgauge.machine.config import Cause, Config, Outcome
from boardgauge.machine.settle import Engine

PARTS = 8
"""What is not followed exactly is rounded outwards to this part of the whole time."""

FREE = "free "
"""How the terminals begin that stand for what is left open: no name of a spec has a space in it."""

Span = tuple[int, int]
NOUGHT: Span = (0, 0)


class Clock(NamedTuple):
    """The clock of a timing; ``region`` is the count whose event it keeps, -1 if none. It is over in [least, most].

    ``rate`` is how fast the timing runs; ``used`` what of it had run, in its own time, when the clock was at nought.
    """

    timing: int
    region: int
    least: int
    most: int
    rate: int = 1
    used: Span = NOUGHT


class Node(NamedTuple):
    """A configuration, its clocks in order, and what each accumulator had added up when its clock was at nought."""

    config: Config
    clocks: tuple[Clock, ...] = ()
    sums: tuple[Span, ...] = ()


class Sources(NamedTuple):
    """Where the clocks of a node come from: an old one, counted from 1; nought (0); or a start, counted from -1 down.

    Of each of the ``starts`` it is known how much earlier and how much later than the instant it may lie, and what
    began there (``causes``).
    """

    of: tuple[int, ...] = ()
    starts: tuple[Span, ...] = ()
    causes: tuple[Cause, ...] = ()


class Clockwork:
    """Knows the clocks of one machine."""

    def __init__(
        self,
        engine: Engine,
        timed: Container[int] | None = None,
        any_position: bool = False,
        parts: int = PARTS,
    ) -> None:
        """``timed`` are the timings that are followed; the others have no clock, and may be over at any time.

        With ``any_position`` a time that a setting gives is that of any of its positions. What is not followed exactly
        is rounded outwards to one of so many ``parts`` of the whole time.
        """
        self.engine, self.machine, self.any_position, self.parts = engine, engine.machine, any_position, parts
        timed = range(len(self.machine.timings)) if timed is None else timed
        rows = [row for row in self.machine.regions if row.timings and row.timings[0] in timed]
        self.accumulators = [row.index for row in rows if row.kind == "accumulator"]
        self._sum_of = {self.machine.regions[r].timings[0]: i for i, r in enumerate(self.accumulators)}
        self.windows = {row.index: row.timings[0] for row in rows if row.kind == "count"}
        others = {t for row in self.machine.regions if row.kind in {"accumulator", "count"} for t in row.timings}
        self._followed = [t.index for t in self.machine.timings if t.index in timed and t.index not in others]
        inputs = self.machine.board.inputs
        self._responds = [inputs[level.input].responds_within for level in self.machine.levels]
        self._as_they_are = [1] * len(self.machine.timings)
        self._rates: dict[Config, list[int]] = {}
        self.inexact = False
        """Whether something so far was not followed exactly."""

    def off(self, config: Config) -> Node:
        """Give the node of a board without power."""
        return Node(config, (), (NOUGHT,) * len(self.accumulators))

    def without_power(self, node: Node, bounds: tuple[Span, ...]) -> Node:
        """Give the node after a loss of power; ``bounds`` are those of the clocks at that moment."""
        config = self.engine.lose_power(node.config)
        sums = []
        for place, region in enumerate(self.accumulators):
            kept = self.machine.regions[region].kept_without_power
            sums.append(self._amount(node, place, bounds) if kept else NOUGHT)
        return Node(config, (), tuple(sums))

    def after(
        self, node: Node, outcome: Outcome, gone: tuple[int, ...], bounds: tuple[Span, ...]
    ) -> tuple[Node, Sources]:
        """Give the node after an instant, and for each of its clocks the old one it is, counted from 1 (0: at nought).

        ``gone`` are the clocks that were over in the instant, ``bounds`` those of all old clocks at it.
        """
        starts: dict[Cause, int] = {}
        config = outcome.config
        rates = self.rates(config)
        begun, counted = dict(outcome.begun), dict(outcome.counted)
        clocks: list[tuple[Clock, int]] = []
        sums = list(node.sums)
        going = [(clock, number) for number, clock in enumerate(node.clocks) if number not in gone]
        held = {clock.timing: number for clock, number in going if clock.region < 0}
        for timing in self._followed:
            if not config.running >> timing & 1:
                continue
            if timing in begun:
                clocks.append((self._begun(timing, config, rates[timing]), self._from(begun[timing], starts)))
            elif timing in held:
                number = held[timing]
                clocks.append(self._run_on(node.clocks[number], number, rates[timing], bounds[number]))
            else:
                clocks.append((self._kept_on(timing, config, rates[timing]), 0))
        for place, region in enumerate(self.accumulators):
            timing = self.machine.regions[region].timings[0]
            sums[place] = NOUGHT if region in outcome.emptied else node.sums[place]
            if not config.running >> timing & 1:
                if timing in held and region not in outcome.emptied:
                    sums[place] = self._amount(node, place, bounds)
                if config.places[region]:
                    sums[place] = NOUGHT
            elif timing in held and timing not in begun:
                number = held[timing]
                clocks.append(self._run_on(node.clocks[number], number, rates[timing], bounds[number]))
            else:
                adding = self._begun(timing, config, rates[timing], sums[place])
                clocks.append((adding, self._from(begun[timing], starts) if timing in begun else 0))
        for region, timing in self.windows.items():
            rows = [(clock, n) for clock, n in going if clock.region == region]
            if region in outcome.forgot:
                rows = []
            kept = [self._run_on(clock, n, rates[timing], bounds[n]) for clock, n in rows]
            if region in counted:
                fresh = self._begun(timing, config, rates[timing])
                kept.append((fresh._replace(region=region), self._from(counted[region], starts)))
            limit = len(self.machine.regions[region].places) - 1
            kept = kept[-limit:]
            missing = config.places[region] - len(kept)
            if missing > 0:
                kept = [(self._kept_on(timing, config, rates[timing])._replace(region=region), 0)] * missing + kept
            clocks += kept
        of, away = tuple(source for _, source in clocks), tuple(self._away(cause) for cause in starts)
        sources = Sources(of, away, tuple(starts))
        return Node(config, tuple(clock for clock, _ in clocks), tuple(sums)), sources

    def adds_up(self, timing: int) -> bool:
        """Tell whether a timing is that of an accumulator."""
        return timing in self._sum_of

    # -- limits ------------------------------------------------------------------------------------------------------

    def _durations(self, timing: int, config: Config) -> Sequence[Duration]:
        row = self.machine.timings[timing]
        return row.choices if self.any_position else (row.choices[self.engine.settings.choice(config.chosen, timing)],)

    def rates(self, config: Config) -> Sequence[int]:
        """Give how fast each timing runs."""
        ups, timings = self.machine.speed_ups, self.machine.timings
        if not ups:
            return self._as_they_are
        found = self._rates.get(config)
        if found is None:
            on = {row.index for row in ups if self.engine.sped_up(config, row.index)}
            found = [max((ups[i].times_faster for i in row.speed_ups if i in on), default=1) for row in timings]
            self._rates[config] = found = found if on else self._as_they_are
        return found

    def _begun(self, timing: int, config: Config, rate: int, had: Span = NOUGHT) -> Clock:
        least, most = _left(self._durations(timing, config), rate, had)
        return Clock(timing, -1, least, most, rate, had)

    def _from(self, cause: Cause, starts: dict[Cause, int]) -> int:
        """A timing counts from where the stopwatch stands: its cause at the terminals, not the instant."""
        if self._away(cause) == NOUGHT:
            return 0
        return -starts.setdefault(cause, len(starts) + 1)

    def _away(self, cause: Cause) -> Span:
        """Give how much earlier and how much later than the instant a timing may count from."""
        if cause.kind == "inputs" and any(self.machine.levels[i].input.startswith(FREE) for i in cause.which):
            # It stands for anything: an input, an output, the end of a timing.
            return max(self._responds, default=0), max((row.lag for row in self.machine.outputs), default=0)
        if cause.kind == "inputs":
            return max((self._responds[level] for level in cause.which), default=0), 0
        if cause.kind == "outputs":
            return 0, max((self.machine.outputs[output].lag for output in cause.which), default=0)
        return NOUGHT

    def _kept_on(self, timing: int, config: Config, rate: int) -> Clock:
        """What was kept without power may have all of its time left, or none."""
        self.inexact = True
        durations = self._durations(timing, config)
        most = _left(durations, rate, NOUGHT)[1]
        whole = max(ceil(duration.percent_longest) for duration in durations)
        return Clock(timing, -1, 0, most, rate, (0, whole))

    def _run_on(self, clock: Clock, number: int, rate: int, bounds: Span) -> tuple[Clock, int]:
        if rate == clock.rate:
            return clock, number + 1
        # The rate changed at the terminal, up to a response earlier than the instant.
        self.inexact = True
        early = max(self._responds, default=0) * abs(rate - clock.rate)
        low = clock.used[0] + bounds[0] * clock.rate - (early if rate < clock.rate else 0)
        high = clock.used[1] + bounds[1] * clock.rate + (early if rate > clock.rate else 0)
        durations = self.machine.timings[clock.timing].choices
        whole = max(d.longest for d in durations)
        used = _outwards(max(0, low), high, whole, self.parts)
        return Clock(clock.timing, clock.region, *_left(durations, rate, used), rate, used), 0

    def _amount(self, node: Node, place: int, bounds: tuple[Span, ...]) -> Span:
        """Give what an accumulator has added up, rounded outwards."""
        timing = self.machine.regions[self.accumulators[place]].timings[0]
        number = next((n for n, clock in enumerate(node.clocks) if clock.timing == timing), -1)
        if number < 0:
            return node.sums[place]
        self.inexact = True
        clock = node.clocks[number]
        # Not begun at the terminal yet, it has added up nothing: never less.
        low = max(0, clock.used[0] + bounds[number][0] * clock.rate)
        high = clock.used[1] + bounds[number][1] * clock.rate
        whole = max(d.longest for d in self.machine.timings[timing].choices)
        return _outwards(low, high, whole, self.parts)


def _left(durations: Sequence[Duration], rate: int, used: Span) -> Span:
    """Give the least and the most that a timing still takes at a rate, of which so much has run in its own time."""
    spans = [_left_of(duration, rate, used) for duration in durations]
    return min(least for least, _ in spans), max(most for _, most in spans)


def _left_of(duration: Duration, rate: int, used: Span) -> Span:
    tolerance = duration.tolerance or Tolerance()
    least = duration.percent_shortest - used[1]
    least = (least / rate if least > 0 else least) - tolerance.less
    most = max(Fraction(0), duration.percent_longest - used[0]) / rate + tolerance.more
    return max(0, floor(least)), max(0, ceil(most))


def _outwards(low: int, high: int, whole: int, parts: int) -> Span:
    part = max(1, whole // parts)
    low, high = low // part * part, -(-high // part) * part
    return min(low, whole), min(high, -(-whole // part) * part)

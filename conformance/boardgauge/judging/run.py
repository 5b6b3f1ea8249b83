"""Take a tracker through a whole trace: known or unknown start, deviations, and going on after them.

Law of this module: after a deviation nothing is concluded from what came before it.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import product
from typing import TYPE_CHECKING, Literal

from attrs import define, evolve, field

from boardgauge.judging.clocks import LONG
from boardgauge.judging.columns import Happening, Kind
from boardgauge.judging.coverage import Coverage
from boardgauge.judging.evidence import Evidence
from boardgauge.judging.hypothesis import NOTHING_ADDED, Command, Draft, Hypothesis
from boardgauge.judging.judgement import Deviation
from boardgauge.judging.limits import PARTS
from boardgauge.judging.pool import Pool
from boardgauge.judging.steps import Steps
from boardgauge.judging.tracker import Tracker
from boardgauge.judging.unknown import TooManyStates, Unknown, start
from boardgauge.machine.settle import Engine

if TYPE_CHECKING:
    from boardgauge.judging.explain import Explainer

Start = Literal["power-up", "unknown"]


@define
class Run:
    """One pass over a trace."""

    engine: Engine
    evidence: Evidence
    unknown: Unknown
    begin: Start | None
    steps: Steps
    tracker: Tracker = field(init=False)
    deviations: list[Deviation] = field(factory=list)
    gave_up: tuple[int, str] | None = None
    known_start: bool = False
    _explainer: Explainer | None = None
    coverage: Coverage = field(init=False)
    _footing: int = -LONG
    _excuse_lamps: frozenset[int] = frozenset()

    def __attrs_post_init__(self) -> None:
        self.tracker = Tracker(self.engine, self.evidence, answers=self.steps.answers)
        self.tracker.shown = list(self.evidence.shown)
        self.coverage = Coverage(self.engine, self.tracker.limits)
        self.tracker.coverage = self.coverage

    @property
    def settle_in(self) -> int:
        """How long after a moment all that was under way at it must have shown."""
        limits = self.tracker.limits
        return limits.slowest + max(limits.lags, default=0)

    @property
    def explainer(self) -> Explainer:
        """Who explains the deviations; made (and its words loaded) with the first of them."""
        if self._explainer is None:
            from boardgauge.judging.explain import Explainer

            self._explainer = Explainer(self.engine, self.tracker)
        return self._explainer

    def go(self) -> None:
        """Judge the trace from its start to its end."""
        self._begin()
        walk = self.steps.on(self.tracker, self.coverage)
        happenings, index = self.evidence.happenings, 0
        while index < len(happenings) and self.gave_up is None:
            index = walk.on_from(index)
            if index < len(happenings):
                self._step(happenings[index])
                index += 1

    def rests_on(self) -> list[str]:
        """Give the inputs that the recording does not show and that must have changed for the trace to be allowed."""
        hypotheses = self.tracker.hypotheses
        least = min((h.supposed for h in hypotheses), key=lambda s: (len(s), sorted(s)), default=frozenset[int]())
        return sorted({self.engine.machine.levels[index].input for index in least})

    def clock_rate(self) -> tuple[Fraction, Fraction] | None:
        """Give the bounds of the board's clock rate (1 is nominal, more is slow), if one clock drives its timings."""
        hypotheses = self.tracker.hypotheses
        if not self.tracker.limits.shared or not hypotheses:
            return None
        low, high = min(h.rate[0] for h in hypotheses), max(h.rate[1] for h in hypotheses)
        return Fraction(low, PARTS), Fraction(high, PARTS)

    def _begin(self) -> None:
        evidence, tracker = self.evidence, self.tracker
        tracker.since = evidence.start
        for level, value in enumerate(evidence.initial):
            if value is None:
                tracker.free[level] = evidence.start
        powered = evidence.powered
        if powered is False:
            self.known_start = True
            tracker.hypotheses = [self._off()] if self.begin == "power-up" else self._off_with_what_is_kept()
        elif self.begin == "power-up":
            self.known_start = True
            tracker.hypotheses = tracker.firing.power_up(self._off(), evidence.start, evidence.start)
        else:
            self._restart(evidence.start)

    def _off(self) -> Hypothesis:
        """Give the hypothesis of a board that has been without power."""
        limits, time = self.tracker.limits, self.evidence.start
        config = self.engine.off(self.evidence.trace.settings)
        draft = Draft(config, time, [], {}, [], [], [()] * len(limits.lags), (), [], limits.any_rate)
        draft.sums = [NOTHING_ADDED for _ in limits.sum_timings]
        draft.windows = [() for _ in limits.count_regions]
        draft.lamps = [draft.moment(time, time) for _ in self.evidence.lamps]
        for output, value in enumerate(self.tracker.shown):
            if value:
                cap = time + self.settle_in
                draft.queues[output] = (Command(False, draft.moment(time, cap), cap),)
        return draft.freeze()

    def _off_with_what_is_kept(self) -> list[Hypothesis]:
        """Give the hypotheses of a board without power: what it keeps through that may be anything it can be."""
        machine, limits = self.engine.machine, self.tracker.limits
        kept = [region for region in machine.regions if region.kept_without_power]
        timings = [t for region in kept if region.kind != "accumulator" for t in region.timings]
        timings += [d.timing for d in machine.delays if d.kept_without_power]
        timings = [t for t in timings if t not in limits.not_interval]
        fresh = self._off()
        found = []
        for places in product(*(range(len(region.places)) for region in kept)):
            for bits in product((0, 1), repeat=len(timings)):
                draft = Draft.of(fresh)
                row = list(draft.config.places)
                for region, place in zip(kept, places, strict=True):
                    row[region.index] = place
                running = sum(1 << t for t, bit in zip(timings, bits, strict=True) if bit)
                draft.config = draft.config._replace(places=tuple(row), running=running)
                for index, region_index in enumerate(limits.sum_regions):
                    if machine.regions[region_index].kept_without_power and not row[region_index]:
                        _, most, _, more = limits.range_of(draft, limits.sum_timings[index])
                        draft.sums[index] = NOTHING_ADDED._replace(most=most + more)
                found.append(draft.freeze())
        return found

    def _restart(self, time: int) -> None:
        """Go on as if the recording began here."""
        tracker, evidence = self.tracker, self.evidence
        tracker.unjudged_until = time + self.settle_in
        tracker.since = time
        powered = self._powered_at(time)
        if not powered:
            tracker.hypotheses = self._off_with_what_is_kept()
            return
        tracker.free = {
            level: time for level in range(len(evidence.initial)) if len(tracker.firing.level_at(level, time)) == 2
        }
        levels = [tracker.firing.level_at(level, time) for level in range(len(evidence.initial))]
        try:
            found = start(self.unknown, tracker.limits, evidence, levels, time, tracker.shown, self.settle_in)
        except TooManyStates as error:
            self.gave_up = (time, str(error))
            return
        pool = Pool()
        for hypothesis in self._without_covered(found):
            pool.add(hypothesis)
        tracker.hypotheses = pool.all()

    def _without_covered(self, found: list[Hypothesis]) -> list[Hypothesis]:
        """Leave out the states that another one comes to by a silent end: that may be over already."""
        commuting = self.tracker.commuting
        covered = set()
        for h in found:
            for action in self.tracker.reading.actions(h):
                # An unseen input may change, but need not have: there and back, such states would cover each other.
                if action.kind != "flip" and action.earliest <= h.now and commuting.silent(h.config, action):
                    covered.add(commuting.settled(h.config, (action,)).config)
        return [h for h in found if h.config not in covered]

    def _powered_at(self, time: int) -> bool:
        return self.evidence.trace.power.at(time) is not False

    def _step(self, event: Happening) -> None:
        tracker = self.tracker
        tracker.firing.unsettled = None
        while tracker.unjudged_until > -LONG and event.earliest >= tracker.unjudged_until:
            self._judge_again()
            if self.gave_up is not None:
                return
        if not tracker.step(event):
            self._deviate(event)
        if tracker.overflowed:
            self.gave_up = (event.latest, "more possibilities than can be followed")

    def _judge_again(self) -> None:
        """End an unjudged stretch: keep the states that agree best with the outputs, and excuse what differs."""
        tracker = self.tracker
        time = tracker.unjudged_until
        survivors = tracker.advance(time, time)
        if not survivors:
            self._deviate(Happening(time, Kind.END, 0, time, time))
            return
        tracker.unjudged_until = -LONG
        marked = [(self._differences(h, time), h) for h in survivors]
        fewest = min(len(different) for different, _ in marked)
        pool = Pool()
        for different, hypothesis in marked:
            if len(different) == fewest:
                draft = Draft.of(hypothesis)
                draft.excused = frozenset(different) | self._excuse_lamps
                fresh = draft.freeze()
                for output in range(len(tracker.shown)):
                    if output not in different and not tracker.reading.ignored(fresh, output):
                        fresh = self._caught_up(fresh, output, time)
                pool.add(fresh)
        if fewest and not self.deviations:
            self.deviations.append(self.explainer.no_state(time, *min(marked, key=lambda pair: len(pair[0]))))
        tracker.hypotheses = pool.all()
        self._footing = time if not fewest else LONG
        self._excuse_lamps = frozenset()

    def _differences(self, h: Hypothesis, time: int) -> list[int]:
        tracker = self.tracker
        wanted = self.engine.outputs(h.config)
        found = []
        for output, value in enumerate(tracker.shown):
            if value is None or value == wanted[output] or tracker.limits.masked(h.config, output):
                continue
            queue = h.queues[output]
            if not queue or min(h.vars[queue[-1].act][1] + tracker.limits.lags[output], queue[-1].cap) < time:
                found.append(output)
        return found

    def _caught_up(self, h: Hypothesis, output: int, time: int) -> Hypothesis:
        """Give the hypothesis with only the last command of an output still to come, if it has not shown."""
        wanted, queue = self.engine.outputs(h.config)[output], h.queues[output]
        draft = Draft.of(h)
        draft.queues[output] = () if wanted == self.tracker.shown[output] or not queue else queue[-1:]
        return draft.freeze()

    def _deviate(self, event: Happening) -> None:
        tracker = self.tracker
        if tracker.firing.unsettled is not None and self.known_start and not self.deviations:
            # Where the spec itself does not come to rest, a board cannot be held against it.
            self.gave_up = (event.latest, f"the spec does not come to rest: {tracker.firing.unsettled}")
            return
        if not tracker.deaths:
            # Of such a spec no state was left to go on from, so there is none that a board could have broken.
            self.gave_up = (event.latest, "the spec leaves no state in which a board could be")
            return
        deviation = self.explainer.explain(event, tracker.deaths)
        following = bool(self.deviations) and deviation.time < self._footing
        self.deviations.append(evolve(deviation, following=following))
        if deviation.kind == "lamp":
            lamp = list(self.engine.machine.board.lamps).index(deviation.signal)
            self._excuse_lamps |= {-1 - lamp}
        self._footing = LONG
        time = event.latest
        if event.kind == Kind.OUTPUT:
            tracker.shown[event.which] = event.value
        self._restart(time)

"""Take a tracker through a whole trace: known or unknown start, deviations, and going on after them.

Law of this module: after a deviation nothing is concluded from what came before it.
"""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING, Literal

import numpy as np
from attrs import define, evolve, field

from boardgauge.judging.agreement import caught_up, differences
from boardgauge.judging.clocks import LONG
from boardgauge.judging.columns import Happening, Happenings, Kind
from boardgauge.judging.coverage import Coverage
from boardgauge.judging.evidence import Evidence
from boardgauge.judging.hypothesis import Draft, Hypothesis
from boardgauge.judging.judgement import Deviation
from boardgauge.judging.limits import PARTS
from boardgauge.judging.pool import Pool
from boardgauge.judging.steps import Steps
from boardgauge.judging.supply import SUPPLY, supposing
from boardgauge.judging.tracker import Tracker
from boardgauge.judging.under_way import UnderWay
from boardgauge.judging.unknown import TooManyStates, Unknown, start
from boardgauge.judging.unpowered import Unpowered
from boardgauge.machine.settle import Engine

if TYPE_CHECKING:
    from boardgauge.judging.explain import Explainer

Start = Literal["power-up", "unknown"]

NEVER_SETTLED = "inputs change too soon after one another to tell what the board has acted on"
MOST_TRIES = 1_000
"""So often in a row the judge begins anew between two events."""


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
    found_at: list[int] = field(factory=list)
    """Of each deviation: the end of the event at which no state of the board was left."""
    gave_up: tuple[int, str] | None = None
    not_followed: list[tuple[int, int | None, str]] = field(factory=list)
    """Stretches after a deviation in which the board was not followed: since when, until when (None: the end), why."""
    known_start: bool = False
    _explainer: Explainer | None = None
    coverage: Coverage = field(init=False)
    under_way: UnderWay = field(init=False)
    unpowered: Unpowered = field(init=False)
    _footing: int = -LONG
    _lost: bool = False
    """Too much may have become of the board while nobody knew its supply."""
    _waits: bool = False
    """Begins anew as soon as nothing else changes before the board has acted on what came."""
    _until_off: bool = False
    """Begins anew as soon as the supply is off: what the board may be before that is too much to follow."""
    _excuse_lamps: frozenset[int] = frozenset()

    def __attrs_post_init__(self) -> None:
        self.tracker = Tracker(self.engine, self.evidence, answers=self.steps.answers)
        self.tracker.shown = list(self.evidence.shown)
        self.coverage = Coverage(self.engine, self.tracker.limits)
        self.tracker.coverage = self.coverage
        self.under_way = UnderWay(self.tracker)
        self.unpowered = Unpowered(self.tracker, self.settle_in)

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
        assert isinstance(happenings, Happenings)
        inputs = happenings.kind == Kind.INPUT
        arrived = np.cumsum(inputs) - inputs
        while index < len(happenings) and self.gave_up is None:
            index = walk.on_from(index)
            if index < len(happenings):
                self.tracker.arrived = int(arrived[index])
                self._step(happenings[index])
                index += 1

    def rests_on(self) -> list[str]:
        """Give the inputs that the recording does not show and that must have changed for the trace to be allowed."""
        hypotheses = self.tracker.hypotheses
        least = min((h.supposed for h in hypotheses), key=lambda s: (len(s), sorted(s)), default=frozenset[int]())
        names = {self.engine.machine.levels[index].input for index in least - {SUPPLY}}
        return [*sorted(names), *(["the supply"] if SUPPLY in least or self._lost else [])]

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
        if powered is None:
            tracker.supply.lost_from_view(evidence.start)
        if powered is False:
            self.known_start = True
            tracker.hypotheses = (
                [self.unpowered.bare()] if self.begin == "power-up" else self.unpowered.with_what_is_kept()
            )
        elif self.begin == "power-up":
            self.known_start = True
            tracker.hypotheses = tracker.firing.power_up(self.unpowered.bare(), evidence.start, evidence.start)
        else:
            self._restart(evidence.start)

    def _restart(self, time: int) -> None:
        """Go on as if the recording began here; or, if the board may act on something late, where that is done with."""
        self._waits = not self.under_way.settled_at(time, not self.known_start)
        if self._waits:
            self.tracker.hypotheses, self.tracker.unjudged_until = [], -LONG
        else:
            settle_in = self.settle_in if self.deviations else self.under_way.settle_in(time)
            self._start_unknown(time, self.under_way.coming(time) + settle_in)

    def _start_unknown(self, time: int, settle_in: int) -> None:
        """Begin with all that the board may be at a time; what was under way then shows within ``settle_in``."""
        tracker, evidence = self.tracker, self.evidence
        # What shows in time may show at the last moment, and in the recording with the next sample.
        tracker.unjudged_until = evidence.trace.seen_by(time + settle_in) + 1
        tracker.since = time
        unknown = tracker.supply.unknown
        if not unknown and self.under_way.powered_at(time) is False:
            tracker.hypotheses = self.unpowered.with_what_is_kept()
            return
        tracker.lately = {}
        tracker.free = {
            level: time for level in range(len(evidence.initial)) if len(tracker.firing.level_at(level, time)) == 2
        }
        levels = [tracker.firing.level_at(level, time) for level in range(len(evidence.initial))]
        try:
            found = start(self.unknown, tracker.limits, evidence, levels, time, tracker.shown, settle_in)
        except TooManyStates as error:
            self._follow_no_more(time, str(error))
            return
        pool = Pool()
        for hypothesis in self._without_covered(found):
            pool.add(hypothesis)
        if unknown:
            for hypothesis in self.unpowered.with_what_is_kept():
                pool.add(supposing(hypothesis))
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

    def _step(self, event: Happening) -> None:
        tracker = self.tracker
        tracker.firing.unsettled = None
        if self._until_off:
            self._step_until_off(event)
            return
        if self._lost or self._waits:
            self._step_unfollowed(event)
            return
        unknown = tracker.supply.unknown
        tries = 0
        while tracker.unjudged_until > -LONG and event.earliest >= tracker.unjudged_until:
            self._judge_again()
            tries += 1
            if tries > MOST_TRIES and self.gave_up is None:
                self.gave_up = (tracker.since, "no state of the board comes to agree with what is shown")
            if self.gave_up is not None or self._until_off:
                return
            if tracker.overflowed:
                break
        if self._waits:
            self._step_unfollowed(event)
            return
        # What is left of too many possibilities says nothing of those that were not followed.
        if not tracker.overflowed and not tracker.step(event) and not tracker.overflowed:
            self._deviate(event)
        if tracker.overflowed:
            self._lose_count(event, unknown)

    def _lose_count(self, event: Happening, unknown: bool) -> None:
        """Follow the board no further: to the end, or, if it is the supply that was not known, until it is."""
        tracker = self.tracker
        if not unknown or tracker.left < 0:
            self._follow_no_more(event.latest, "more possibilities than can be followed")
            return
        tracker.overflowed, self._lost = False, True
        tracker.hypotheses, tracker.unjudged_until = [], -LONG
        self._step_unfollowed(event)

    def _follow_no_more(self, time: int, reason: str) -> None:
        """Give the board up; but one that deviated, and was told to, is followed again once it was without supply."""
        tracker = self.tracker
        if not self.deviations:
            self.gave_up = (time, reason)
            return
        self.not_followed.append((time, None, reason))
        if tracker.left < 0:
            self.gave_up = (time, reason)
            return
        self._until_off, tracker.overflowed = True, False
        tracker.hypotheses, tracker.unjudged_until = [], -LONG

    def _step_until_off(self, event: Happening) -> None:
        tracker = self.tracker
        tracker.note(event)
        if event.kind != Kind.END and self.under_way.powered_at(event.latest) is False:
            since, _, reason = self.not_followed.pop()
            self.not_followed.append((since, event.latest, reason))
            self._until_off = False
            self._restart(event.latest)

    def _step_unfollowed(self, event: Happening) -> None:
        """Take notice of an event where nothing is followed: until the supply is known, and nothing is under way."""
        tracker = self.tracker
        tracker.note(event)
        if self._lost and tracker.supply.unknown:
            return
        if event.kind == Kind.END:
            if not self.deviations:
                self.gave_up = (event.latest, NEVER_SETTLED)
            return
        self._restart(event.latest)
        if self._lost and not self._waits:
            self._lost = False
            tracker.hypotheses = [supposing(hypothesis) for hypothesis in tracker.hypotheses]

    def _judge_again(self) -> None:
        """End an unjudged stretch: keep the states that agree best with the outputs, and excuse what differs."""
        tracker = self.tracker
        time = tracker.unjudged_until
        survivors = tracker.advance(time, time)
        if tracker.overflowed:
            return
        if not survivors:
            self._deviate(Happening(time, Kind.END, 0, time, time))
            return
        tracker.unjudged_until = -LONG
        marked = [(differences(tracker, h, time - 1), h) for h in survivors]
        fewest = min(len(different) for different, _ in marked)
        pool = Pool()
        for different, hypothesis in marked:
            if len(different) == fewest:
                draft = Draft.of(hypothesis)
                draft.excused = frozenset(different) | self._excuse_lamps
                fresh = draft.freeze()
                for output in range(len(tracker.shown)):
                    if output not in different and not tracker.reading.ignored(fresh, output):
                        fresh = caught_up(tracker, fresh, output)
                pool.add(fresh)
        if fewest and not self.deviations:
            self.deviations.append(self.explainer.no_state(time - 1, *min(marked, key=lambda pair: len(pair[0]))))
            self.found_at.append(time)
        tracker.hypotheses = pool.all()
        self._footing = time if not fewest else LONG
        self._excuse_lamps = frozenset()

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
        self.found_at.append(event.latest)
        if deviation.kind == "lamp":
            lamp = list(self.engine.machine.board.lamps).index(deviation.signal)
            self._excuse_lamps |= {-1 - lamp}
        self._footing = LONG
        time = event.latest
        if event.kind == Kind.OUTPUT:
            tracker.shown[event.which] = event.value
        self._restart(time)

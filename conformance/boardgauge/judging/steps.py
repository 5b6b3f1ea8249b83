"""Take the steps of a trace, the frequent ones by what was traced of them.

Law of this module: what comes out is what ``Tracker.step`` gives, event by event; how often a step was met decides only
how it is taken. With ``checked`` each is taken both ways and compared.
"""

from __future__ import annotations

from boardgauge.judging.answers import Answers
from boardgauge.judging.clocks import LONG, REAL_TIME
from boardgauge.judging.columns import Happenings
from boardgauge.judging.coverage import Coverage, agreed
from boardgauge.judging.evidence import Evidence
from boardgauge.judging.shape import Shape, Shapes
from boardgauge.judging.symbols import Untraceable
from boardgauge.judging.tracing import MOST_FIRED, MOST_HYPOTHESES, Made, Occasion, Outcome, Setting, Tracer
from boardgauge.judging.tracker import Tracker
from boardgauge.judging.turns import MIXED, Key, Turns
from boardgauge.machine.settle import Engine

FREQUENT = 10
"""A step is traced when it was met so often and no function made of it fitted."""
MOST_WAYS = 12
"""So many ways of one step are traced."""
MOST_REFUSED = 2
"""A step that could not be traced so often is not tried again."""
MOST_TRACED = 4000
"""So many functions are made for one board."""

Rows = list[tuple[int, int, tuple[int, ...], int]]
"""Lines of lamps that have not stood long enough to be read: lamp, line, places of the moments since when, how long."""


class _Known:
    """What is known of one step: the functions made of it, how often none fitted, and how often none could be made."""

    __slots__ = ("made", "missed", "refused")

    def __init__(self) -> None:
        self.made: list[Made] = []
        self.missed = self.refused = 0


class Steps:
    """The traced steps of one board, for all traces judged with it."""

    def __init__(self, engine: Engine, answers: Answers, frequent: int = FREQUENT, checked: bool = False) -> None:
        self.engine, self.answers, self.frequent, self.checked = engine, answers, frequent, checked
        self.made = 0
        self._tracers: dict[Setting, Tracer] = {}

    def on(self, tracker: Tracker, coverage: Coverage) -> Walk:
        """Give the walk through one trace."""
        evidence, limits = tracker.evidence, tracker.limits
        trace = evidence.trace
        setting = Setting(
            frozenset(key for key, clock in evidence.clocks.items() if clock is REAL_TIME),
            tuple(watch is not None for watch in evidence.deadlines),
            trace.samples is None and not trace.late and not trace.clock_error,
            evidence.blind,
            evidence.responds,
            len(evidence.initial),
            None if limits.shared else limits.any_rate,
        )
        tracer = self._tracers.get(setting)
        if tracer is None:
            shapes = Shapes(one_rate=not limits.shared)
            tracer = self._tracers[setting] = Tracer(self.engine, setting, shapes, self.answers)
        return Walk(self, tracer, tracker, coverage)


class Walk:
    """One pass through a trace."""

    def __init__(self, steps: Steps, tracer: Tracer, tracker: Tracker, coverage: Coverage) -> None:
        self.steps, self.tracer, self.tracker, self.coverage = steps, tracer, tracker, coverage
        self.evidence: Evidence = tracker.evidence
        self.occasion = Occasion(self.evidence)
        self.occasion.ended = coverage.timing_ended
        happenings = self.evidence.happenings
        assert isinstance(happenings, Happenings)
        self._early, self._late = happenings.earliest.tolist(), happenings.latest.tolist()
        self._which = happenings.which.tolist()
        self._turns = Turns(self.evidence)
        self._shape: Shape | None = None
        self._numbers: tuple[int, ...] = ()
        self._looked: dict[Shape, Rows] = {}

    def on_from(self, first: int) -> int:
        """Take events from an index on; give the index of the first one that the tracker is to take.

        The tracker's hypotheses are then those before it.
        """
        shape = self._enter()
        if shape is None:
            return first
        tracker, occasion, turns, looked = self.tracker, self.occasion, self._turns, self._looked
        early, late, which, codes = self._early, self._late, self._which, self._turns.codes
        numbers, since, most, left = self._numbers, tracker.since, tracker.most, tracker.left
        for index in range(first, len(codes)):
            if left < MOST_FIRED:
                break
            code = codes[index]
            key = code if code >= MIXED else turns.key(index, shape, numbers)
            if key is None:
                break
            known: _Known | None = shape.known.get(key)
            found = None
            if known is not None:
                for made in known.made:
                    found = made(numbers, since, early[index], late[index], which[index], occasion)
                    if found is not None:
                        break
            if found is None:
                fresh = self._traced(shape, numbers, since, key, index)
                if fresh is None:
                    break
                found = fresh(numbers, since, early[index], late[index], which[index], occasion)
                assert found is not None
            outcome = found[0]
            if self.steps.checked:
                self._check(shape, numbers, since, index, found)
            left -= outcome.fired
            shape, numbers, since = outcome.shape, found[1], early[index]
            if len(shape.rows) > most:
                most = len(shape.rows)
            rows = looked.get(shape)
            if rows is None:
                rows = self._look(shape, numbers)
            if rows:
                for row in rows:
                    if late[index] - max([numbers[place] for place in row[2]]) >= row[3]:
                        self.coverage.lines.setdefault(row[0], set()).add(row[1])
                        looked[shape] = [other for other in rows if other is not row]
        else:
            index = len(codes)
        tracker.most, tracker.left = most, left
        self._leave(shape, numbers, since)
        return index

    def _traced(self, shape: Shape, numbers: tuple[int, ...], since: int, key: Key, index: int) -> Made | None:
        """Give a function made of a step that is met often; None where it is not, or none can be made."""
        known = shape.known.setdefault(key, _Known())
        known.missed += 1
        steps = self.steps
        often = known.missed >= steps.frequent and steps.made < MOST_TRACED
        if not often or len(known.made) >= MOST_WAYS or known.refused >= MOST_REFUSED:
            return None
        steps.made += 1
        own = len(numbers) - len(shape.waiting)
        turn = self._turns.turn(index, key)
        times = (since, self._early[index], self._late[index], self._which[index])
        try:
            made = self.tracer.trace(shape, numbers[:own], numbers[own:], turn, times, self.occasion)
        except Untraceable:
            known.refused += 1
            return None
        known.made.append(made)
        return made

    # -- between the two ways ---------------------------------------------------------------------------------------

    def _enter(self) -> Shape | None:
        tracker = self.tracker
        if tracker.unjudged_until > -LONG or tracker.anything_goes:
            return None
        if not 0 < len(tracker.hypotheses) <= MOST_HYPOTHESES or tracker.supply.spanned(tracker.hypotheses):
            return None
        shape, numbers, pending = self.tracer.shapes.taken_apart(
            tracker.hypotheses, tracker.shown, self.evidence.changes
        )
        self._numbers = (*numbers, *pending)
        return shape

    def _leave(self, shape: Shape, numbers: tuple[int, ...], since: int) -> None:
        own = len(numbers) - len(shape.waiting)
        tracker = self.tracker
        tracker.hypotheses = shape.build(numbers[:own], numbers[own:], self.tracer.setting.rate)
        tracker.shown[:] = shape.shown
        tracker.since = since

    def _check(
        self, shape: Shape, numbers: tuple[int, ...], since: int, index: int, found: tuple[Outcome, tuple[int, ...]]
    ) -> None:
        """Let the tracker itself take the step, and compare."""
        tracker = self.tracker
        kept, shown = (tracker.hypotheses, tracker.since, tracker.left, tracker.most), list(tracker.shown)
        self._leave(shape, numbers, since)
        tracker.coverage = None
        assert tracker.step(self.evidence.happenings[index])
        tracker.coverage = self.coverage
        tracker.forget_ended()
        shape, own, pending = self.tracer.shapes.taken_apart(tracker.hypotheses, tracker.shown, self.evidence.changes)
        assert shape is found[0].shape
        assert (*own, *pending) == found[1]
        assert kept[2] - tracker.left == found[0].fired
        tracker.hypotheses, tracker.since, tracker.left, tracker.most = kept
        tracker.shown[:] = shown

    # -- coverage ---------------------------------------------------------------------------------------------------

    def _look(self, shape: Shape, numbers: tuple[int, ...]) -> Rows:
        """Note what a shape shows; give the lines of lamps that are still to stand long enough."""
        if shape.looks is None:
            own = len(numbers) - len(shape.waiting)
            hypotheses = shape.build(range(own), range(len(shape.waiting)), self.tracer.setting.rate)
            shape.looks = agreed(self.steps.engine, hypotheses), hypotheses
        found, hypotheses = shape.looks
        rows: Rows = []
        if found is not None:
            self.coverage.note(found)
            for lamp, line, long in found.lines:
                if line not in self.coverage.lines.get(lamp, ()):
                    rows.append((lamp, line, tuple([h.vars[h.lamps[lamp]][1] for h in hypotheses]), long))
        self._looked[shape] = rows
        return rows

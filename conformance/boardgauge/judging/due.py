"""What may happen to a hypothesis unseen, and what must have happened to it by when.

Law of this module: it reads a hypothesis and changes nothing; what it finds is remembered with the hypothesis, which
never changes either.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Literal, NamedTuple

from boardgauge.judging.actions import Action, Commuting
from boardgauge.judging.clocks import LONG
from boardgauge.judging.evidence import Evidence
from boardgauge.judging.hypothesis import Hypothesis
from boardgauge.judging.limits import Limits
from boardgauge.judging.symbols import earlier, later

if TYPE_CHECKING:
    from boardgauge.judging.tracker import Tracker


class Upper(NamedTuple):
    """Something that must have happened by a time; ``visible`` is when its absence shows in the recording."""

    time: int
    visible: int
    kind: Literal["timing", "sum", "window", "input", "output", "lamp"]
    which: int


class Due:
    """Reads hypotheses for one tracker."""

    def __init__(self, limits: Limits, commuting: Commuting, tracker: Tracker) -> None:
        self.limits, self.commuting, self.tracker = limits, commuting, tracker
        self.engine = limits.engine
        self.evidence: Evidence = limits.evidence

    def due(self, h: Hypothesis) -> int:
        """Give the time until which a hypothesis stays as it is, whatever happens unseen."""
        if self.tracker.anything_goes:
            return -LONG
        if h._due is None:
            h._due = self._find_due(h)
        return h._due

    def _find_due(self, h: Hypothesis) -> int:
        due = LONG
        for upper in self.uppers(h):
            due = earlier(due, earlier(upper.time, upper.visible) if upper.visible is not upper.time else upper.time)
        silent: list[Action] = []
        for action in self.actions(h):
            if self.commuting.silent(h.config, action):
                silent.append(action)
            else:
                due = earlier(due, action.earliest)
        if len(silent) > 1:
            # One after the other, as they may come first: each alone is silent, together they need not be.
            silent.sort(key=lambda action: action.earliest)
            for number in range(2, len(silent) + 1):
                if not self.commuting.all_silent(h.config, silent[:number]):
                    return earlier(due, silent[number - 1].earliest)
        return due

    def actions(self, h: Hypothesis) -> list[Action]:
        """Give what may happen unseen: timings that end, inputs acted on, events that grow too old."""
        if self.tracker.free or self.tracker.lately:
            return [*self._find_actions(h), *self._flips(h)]
        if h._actions is None:
            h._actions = list(self._find_actions(h))
        return h._actions

    def _flips(self, h: Hypothesis) -> Iterator[Action]:
        if not h.config.powered:
            return
        waiting = {self.evidence.changes[number].level for number in h.pending}
        for level, since in self.tracker.free.items():
            if level not in waiting:
                yield Action("flip", level, since, LONG)
        for level, rows in self.tracker.lately.items():
            first = min((n for n in h.pending if self.evidence.changes[n].level == level), default=None)
            for since, known_by in rows:
                # What came while nobody knew the level is acted on before what it is known again by.
                if first is None or known_by < first:
                    latest = self.limits.acted_on_by(self.evidence.changes[known_by])
                    yield Action("flip", level, since, latest, known_by=known_by)

    def _find_actions(self, h: Hypothesis) -> Iterator[Action]:
        limits = self.limits
        for timing, moment in h.timings:
            earliest, latest = limits.window(h, timing, h.vars[moment])
            stop = self.limits.stopped_by(h, timing)
            yield Action("timing", timing, earliest, latest if stop is None else earlier(stop, later(latest, earliest)))
        for index, total in enumerate(h.sums):
            if total.since >= 0:
                timing = limits.sum_timings[index]
                earliest, latest = limits.sum_window(h, index, total, h.vars[total.since])
                stop = self.limits.stopped_by(h, timing)
                yield Action(
                    "timing", timing, earliest, latest if stop is None else earlier(stop, later(latest, earliest))
                )
        for index, window in enumerate(h.windows):
            aging = limits.window_timings[index]
            if aging is not None:
                for place, moment in enumerate(window):
                    earliest, latest = limits.window(h, aging, h.vars[moment])
                    yield Action("window", limits.count_regions[index], earliest, latest, place=place)
        yield from self._input_actions(h)

    def _input_actions(self, h: Hypothesis) -> Iterator[Action]:
        changes = self.evidence.changes
        met: set[int] = set()
        groups: dict[int, list[int]] = {}
        for number in h.pending:
            change = changes[number]
            if change.level in met:
                continue
            met.add(change.level)
            key = change.moment if change.moment >= 0 else -1 - number
            groups.setdefault(key, []).append(number)
        for key, numbers in groups.items():
            earliest, latest = -LONG, -LONG
            for number in numbers:
                earliest = later(earliest, changes[number].earliest)
                latest = later(latest, self.limits.acted_on_by(changes[number]))
            if key >= 0:
                earliest = later(earliest, self.limits.moment_last[key])
            yield Action("inputs", -1, earliest, latest, changes=tuple(numbers))

    def uppers(self, h: Hypothesis) -> list[Upper]:
        """Give what must have happened by when."""
        if h._uppers is None:
            h._uppers = list(self._find_uppers(h))
        return h._uppers

    def _find_uppers(self, h: Hypothesis) -> Iterator[Upper]:
        limits, changes = self.limits, self.evidence.changes
        for timing, moment in h.timings:
            if limits.stopped_by(h, timing) is None:
                latest = limits.window(h, timing, h.vars[moment])[1]
                yield Upper(latest, latest, "timing", timing)
        for index, total in enumerate(h.sums):
            if total.since >= 0 and limits.stopped_by(h, limits.sum_timings[index]) is None:
                latest = limits.sum_window(h, index, total, h.vars[total.since])[1]
                yield Upper(latest, latest, "sum", limits.sum_timings[index])
        for index, window in enumerate(h.windows):
            aging = limits.window_timings[index]
            if aging is not None:
                for moment in window:
                    latest = limits.window(h, aging, h.vars[moment])[1]
                    yield Upper(latest, latest, "window", aging)
        for number in h.pending:
            latest = limits.acted_on_by(changes[number])
            yield Upper(latest, latest, "input", number)
        if any(h.queues):
            yield from self._output_uppers(h)
        yield from self._lamp_uppers(h)

    def _output_uppers(self, h: Hypothesis) -> Iterator[Upper]:
        for index, queue in enumerate(h.queues):
            if len(queue) % 2 and not self.ignored(h, index):
                command = queue[-1]
                due = earlier(h.vars[command.act][1] + self.limits.lags[index], command.cap)
                yield Upper(due, self.evidence.trace.seen_by(due), "output", index)

    def _lamp_uppers(self, h: Hypothesis) -> Iterator[Upper]:
        if not h.config.powered:
            return
        for index, watch in enumerate(self.evidence.lamps):
            if watch is not None and not self._lamp_masked(h, index):
                line = self.engine.lamp_line(h.config, index)
                due = self.limits.lamp_deadline(index, line, h.vars[h.lamps[index]][1])
                yield Upper(due, due, "lamp", index)

    def _lamp_masked(self, h: Hypothesis, lamp: int) -> bool:
        return -1 - lamp in h.excused or self.limits.lamp_masked(h.config, lamp)

    def ignored(self, h: Hypothesis, output: int) -> bool:
        """Tell whether an output is not judged now: unknown, not yet, excused, or by the spec."""
        return (
            self.tracker.shown[output] is None
            or (self.tracker.unjudged_until > -LONG and self.tracker.since < self.tracker.unjudged_until)
            or output in h.excused
            or self.limits.masked(h.config, output)
        )

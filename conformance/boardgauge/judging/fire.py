"""Let hidden events happen to a hypothesis: timings end, inputs are acted on, the supply comes and goes.

Law of this module: one call is one instant. Here is what comes together in it; what that begins, ``Instants`` says.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import reduce
from itertools import product
from typing import TYPE_CHECKING

from boardgauge.judging.actions import Action
from boardgauge.judging.clocks import REAL_TIME
from boardgauge.judging.evidence import Evidence
from boardgauge.judging.hypothesis import NOTHING_ADDED, Bounds, Command, Draft, Hypothesis
from boardgauge.judging.instants import Happened, Instants
from boardgauge.judging.limits import Limits
from boardgauge.judging.symbols import earlier, later
from boardgauge.machine.config import Outcome
from boardgauge.machine.picture import CannotSettle
from boardgauge.machine.settle import Engine

if TYPE_CHECKING:
    from boardgauge.judging.tracker import Tracker


class Firing:
    """Makes the hypothesis after an instant."""

    def __init__(self, engine: Engine, evidence: Evidence, limits: Limits, tracker: Tracker) -> None:
        self.engine, self.evidence, self.limits, self.tracker = engine, evidence, limits, tracker
        self.instants = Instants(engine, limits)
        self._timings = {t: i for i, t in enumerate(limits.sum_timings)}
        self._counts = {r: i for i, r in enumerate(limits.count_regions)}
        self._interval = [t.index for t in engine.machine.timings if t.index not in limits.not_interval]
        self.unsettled: str | None = None

    def fire(self, h: Hypothesis, group: tuple[Action, ...], earliest: int, latest: int) -> Hypothesis | None:
        """Give the hypothesis after these happened together in [earliest, latest]; None if a requirement forbids it."""
        draft = Draft.of(h)
        draft.now = earliest
        levels = list(h.config.levels)
        inputs: dict[int, Bounds] = {}
        expired: list[int] = []
        dropped: list[int] = []
        caps: list[int] = []
        timing, origin = -1, (0, 0)
        for action in group:
            if action.kind == "timing":
                expired.append(action.which)
                caps.append(action.latest)
                timing, origin = action.which, self._end_timing(draft, action.which, earliest, latest)
                rate = self.limits.kept_rate(draft, timing, origin, (earliest, latest))
                if rate is None:
                    return None
                draft.rate = rate
            elif action.kind == "window":
                dropped.append(action.which)
                index = self._counts[action.which]
                window = draft.windows[index]
                draft.windows[index] = window[: action.place] + window[action.place + 1 :]
                caps.append(action.latest)
            elif action.kind == "flip":
                levels[action.which] = not levels[action.which]
                if action.which in self.evidence.blind:
                    draft.supposed |= {action.which}
                responds, last = self.evidence.responds[action.which], latest
                if action.known_by is not None:  # it is acted on behind
                    last = earlier(last, self.evidence.changes[action.known_by].latest)
                    draft.pending = tuple(sorted((*draft.pending, action.known_by)))
                inputs[action.which] = (later(action.earliest, earliest - responds), last)
                caps.append(last + responds)
            else:
                for number in action.changes:
                    change = self.evidence.changes[number]
                    assert change.value is not None
                    levels[change.level] = change.value
                    inputs[change.level] = (change.earliest, earlier(change.latest, latest))
                    caps.append(self.limits.acted_on_by(change))
                draft.pending = tuple(n for n in draft.pending if n not in action.changes)
        try:
            outcome = self.engine.settle(h.config, tuple(levels), tuple(sorted(expired)), tuple(sorted(dropped)))
        except CannotSettle as error:
            if len(group) == 1:
                self.unsettled = str(error)
            return None
        if self._undoes_what_had_to_show(h, group, outcome):
            return None
        happened = Happened(inputs, (earliest, latest), reduce(later, caps), timing, origin)
        new = self.instants.apply(draft, outcome, happened)
        if new is not None:
            for ended in expired:
                for output in self.limits.unmasks.get(ended, ()):
                    if not self.tracker.reading.ignored(new, output):
                        new = self.tracker.showing.resync(new, output, earliest, latest)
        return new

    def _undoes_what_had_to_show(self, h: Hypothesis, group: tuple[Action, ...], outcome: Outcome) -> bool:
        """Tell whether a command is undone by a timing that began with it and lasts longer than it has to show."""
        for action in group:
            if action.kind != "timing" or self.limits.clock(action.which) is not REAL_TIME:
                continue
            moment = next((m for t, m in h.timings if t == action.which), -1)
            least, _, less, _ = self.limits.range_of(h, action.which)
            for output, _ in outcome.commands:
                queue = h.queues[output]
                # A change that undid one before it showed need not show either: then nothing is wanting.
                if len(queue) % 2 == 0 or moment < 0 or self.tracker.reading.ignored(h, output):
                    continue
                if moment in {queue[-1].act, queue[-1].shown} and least - less > self.limits.lags[output]:
                    return True
        return False

    def _end_timing(self, draft: Draft, timing: int, earliest: int, latest: int) -> Bounds:
        if timing in self._timings:
            index = self._timings[timing]
            total = draft.sums[index]
            origin = draft.vars[total.since]
            draft.sums[index] = NOTHING_ADDED
            # As if all of it had been added up without a break, so that its length can be measured.
            clock = self.limits.clock(timing)
            return clock.earliest_origin(origin[0], total.most), clock.latest_origin(origin[1], total.least)
        moment = draft.timings.pop(timing)
        draft.narrow(moment, *self.limits.origins(draft, timing, (earliest, latest)))
        return draft.vars[moment]

    def power_up(self, h: Hypothesis, earliest: int, latest: int) -> list[Hypothesis]:
        """Give the hypotheses after the supply came on: levels that are not known, or too short, go both ways."""
        news = []
        for ways in product(*self._ways_at(earliest, latest)):
            levels = tuple([level for level, _ in ways])
            try:
                outcome = self.engine.settle(h.config, levels, power_up=True)
            except CannotSettle as error:
                self.unsettled = str(error)
                continue
            draft = Draft.of(h)
            draft.now = earliest
            draft.pending = ()
            draft.supposed |= self.supposed_in(levels, latest)
            self._run_on(draft, earliest, latest)
            at = (earliest, latest + self.limits.slowest)
            # The supply is no input: what its coming commands has its lag to show in, and nothing less.
            happened = Happened({}, at, at[1] + max(self.limits.lags, default=0))
            new = self.instants.apply(draft, outcome, happened, (earliest, latest))
            if new is not None:
                news += self._with_what_came(new, sorted(number for _, numbers in ways for number in numbers))
        return news

    def _ways_at(self, earliest: int, latest: int) -> list[list[tuple[bool, tuple[int, ...]]]]:
        """Give of each level what it may be as the supply comes, and which of the changes that came are after that."""
        arrived, found = self.tracker.arrived, []
        for level in range(len(self.evidence.initial)):
            row: dict[tuple[bool, tuple[int, ...]], None] = {}
            for value, numbers in self.evidence.levels.ways(level, earliest, latest):
                came = tuple([number for number in numbers if number < arrived])
                for one in (False, True) if value is None else (value,):
                    row[one, came] = None
            found.append(list(row))
        return found

    def _with_what_came(self, h: Hypothesis, numbers: Sequence[int]) -> list[Hypothesis]:
        """Give the hypotheses of a board that has these changes yet to act on, each seen or, if it may be, not."""
        rows = [h]
        for number in numbers:
            change, before, rows = self.evidence.changes[number], rows, []
            for one in before:
                stays = change.value is None or self.tracker.taking_in.last_level(one, change.level) == change.value
                if stays or change.droppable:
                    rows.append(one)
                if not stays:
                    rows.append(one.with_pending(number))
        return rows

    def _run_on(self, draft: Draft, earliest: int, latest: int) -> None:
        """Set going again what was kept without power: how much of its time had passed nobody knows any more."""
        for timing in self._interval:
            if draft.config.running >> timing & 1:
                _, most, _, more = self.limits.range_of(draft, timing)
                draft.timings[timing] = draft.moment(earliest - most - more, latest)
        for index, region in enumerate(self.limits.count_regions):
            window = self.limits.window_timings[index]
            if window is not None:
                _, most, _, more = self.limits.range_of(draft, window)
                draft.windows[index] = tuple(
                    draft.moment(earliest - most - more, latest) for _ in range(draft.config.places[region])
                )

    def supposed_in(self, levels: tuple[bool, ...], time: int) -> frozenset[int]:
        """Give the levels that the recording does not show and that are not at rest in these."""
        rows = self.engine.machine.levels
        return frozenset(
            index
            for index in self.evidence.blind
            if levels[index] != rows[index].at_rest and len(self.level_at(index, time)) == 2
        )

    def level_at(self, level: int, time: int) -> tuple[bool, ...]:
        """Give what a level may be at a moment, by the changes before it."""
        value = self.evidence.levels.last(level, time)
        return (False, True) if value is None else (value,)

    def power_down(self, h: Hypothesis, earliest: int, latest: int, shown: list[bool | None]) -> Hypothesis:
        """Give the hypothesis after the supply went: every output is to go off at once."""
        draft = Draft.of(h)
        draft.config = self.engine.lose_power(h.config)
        draft.now = earliest
        # What is kept does not run on; power_up sets its time going again, as wide as the rules leave it.
        draft.timings = {}
        draft.windows = [() for _ in draft.windows]
        kept = self.engine.machine.regions
        draft.sums = [
            self.instants.paused(draft, i, (earliest, latest)) if kept[r].kept_without_power else NOTHING_ADDED
            for i, r in enumerate(self.limits.sum_regions)
        ]
        draft.pending = ()
        moment = draft.moment(earliest, latest + self.limits.slowest)
        for output, value in enumerate(shown):
            cap = latest + self.limits.slowest + self.limits.lags[output]
            draft.queues[output] = (Command(False, moment, cap),) if value else ()
        draft.lamps = [moment for _ in draft.lamps]
        return draft.freeze()

"""What an instant makes of a hypothesis: what it begins, stops and commands, and since when.

Law of this module: what begins counts from where the stopwatch stands: the input's change at the terminal, the output's
change between its command and its showing, or the end of the timing.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import reduce

from attrs import frozen

from boardgauge.judging.clocks import LONG
from boardgauge.judging.hypothesis import NOTHING_ADDED, Bounds, Command, Draft, Hypothesis, Sum
from boardgauge.judging.limits import Limits
from boardgauge.judging.symbols import earlier, later
from boardgauge.machine.config import Cause, Config, Outcome
from boardgauge.machine.settle import Engine


@frozen
class Happened:
    """What an instant was made of: where its inputs changed, when its timings ended, and its latest deadline."""

    inputs: dict[int, Bounds]
    at: Bounds
    cap: int
    timing: int = -1
    origin: Bounds = (0, 0)


class Instants:
    """Puts what settled into hypotheses, for one tracker."""

    def __init__(self, engine: Engine, limits: Limits) -> None:
        self.engine, self.limits = engine, limits
        self._interval = [t.index for t in engine.machine.timings if t.index not in limits.not_interval]
        self._short = {t.index for t in engine.machine.timings if limits.over_before_acted_on(t.index)}
        self.broken: list[tuple[tuple[int, ...], tuple[tuple[int, bool], ...]]] = []
        """The requirements that instants since the last event would have broken, with what those commanded."""

    def apply(
        self, draft: Draft, outcome: Outcome, happened: Happened, power: Bounds | None = None
    ) -> Hypothesis | None:
        """Give the hypothesis after an instant; None if it broke a requirement.

        ``power``: when the supply came, if it did; what that sets going counts from it.
        """
        if outcome.broken:
            self.broken.append((outcome.broken, outcome.commands))
            return None
        old = draft.config
        draft.config = outcome.config
        act = draft.moment(*happened.at)
        end = act if power is None else draft.moment(*power)
        shown = self._command(draft, old, outcome, happened, act)
        origins: dict[Cause, int] = {}

        def origin(cause: Cause) -> int:
            if cause not in origins:
                origins[cause] = self._origin(draft, cause, happened, end, shown)
            return origins[cause]

        begun = dict(outcome.begun)
        for timing in self._interval:
            if not outcome.config.running >> timing & 1:
                draft.timings.pop(timing, None)
            elif timing in begun:
                draft.timings[timing] = self._counted_from(draft, timing, origin(begun[timing]), happened)
        paused = dict(outcome.paused)
        for index, (timing, region) in enumerate(zip(self.limits.sum_timings, self.limits.sum_regions, strict=True)):
            if timing in paused or timing in begun:
                cause = paused.get(timing, begun.get(timing))
                assert cause is not None
                draft.sums[index] = self.paused(draft, index, draft.vars[origin(cause)])
            if region in outcome.emptied:
                draft.sums[index] = NOTHING_ADDED
            if timing in begun:
                total, since = draft.sums[index], origin(begun[timing])
                full = self.limits.sum_window(draft, index, total, draft.vars[since])[1]
                since = self._not_over(draft, since, full, happened)
                if total.ref == LONG:
                    total = total._replace(ref=draft.vars[since][0], base=total.most)
                draft.sums[index] = total._replace(since=since)
        counted = dict(outcome.counted)
        for index, region in enumerate(self.limits.count_regions):
            if region in outcome.forgot:
                draft.windows[index] = ()
            aging = self.limits.window_timings[index]
            if region in counted and aging is not None:
                limit = len(self.engine.machine.regions[region].places) - 1
                moment = self._counted_from(draft, aging, origin(counted[region]), happened)
                draft.windows[index] = (*draft.windows[index], moment)[-limit:]
        was, shows = self.engine.lamp_lines(old), self.engine.lamp_lines(outcome.config)
        if was != shows:
            for lamp in range(len(draft.lamps)):
                if was[lamp] != shows[lamp]:
                    draft.lamps[lamp] = act
                    draft.excused -= {-1 - lamp}
        return draft.freeze()

    def _counted_from(self, draft: Draft, timing: int, moment: int, happened: Happened) -> int:
        """Give the moment that a timing begun now counts from."""
        if timing not in self._short:
            return moment
        return self._not_over(draft, moment, self.limits.window(draft, timing, draft.vars[moment])[1], happened)

    def _not_over(self, draft: Draft, moment: int, over_by: int, happened: Happened) -> int:
        """Give the moment that what begins or goes on now counts from; counted from ``moment`` it is over by a time.

        Where the board may act on an input so late that, by the terminal, it is over then, nobody knows whether it
        counts from there or from the act.
        """
        acted = happened.at[1]
        if not happened.inputs or over_by >= acted:
            return moment
        low, high = draft.vars[moment]
        return draft.moment(low, later(high, acted))

    def _command(self, draft: Draft, before: Config, outcome: Outcome, happened: Happened, act: int) -> dict[int, int]:
        """Queue the commands of an instant; give the moment at which each output's change shows, where asked for."""
        wanted = {
            i for _, c in (*outcome.begun, *outcome.paused, *outcome.counted) for i in c.which if c.kind == "outputs"
        }
        earliest, latest = happened.at
        shown: dict[int, int] = {}
        commanded = {output for output, _ in outcome.commands}
        for output, value in outcome.commands:
            lag = self.limits.lags[output]
            moment = -1
            if output in wanted:
                moment = shown[output] = draft.moment(earliest, earlier(latest + lag, later(happened.cap, latest)))
            rows = [self.engine.machine.togethers[number] for number in outcome.together]
            mates = tuple(
                (other, row.within, row.requirement.id)
                for row in rows
                if output in row.outputs
                for other in row.outputs
                if other != output and other in commanded
            )
            siblings = tuple(sorted(commanded - {output}))
            command = Command(
                value,
                act,
                happened.cap,
                moment,
                mates,
                happened.timing,
                happened.origin,
                siblings=siblings,
                before=before,
            )
            draft.queues[output] = (*draft.queues[output], command)
        return shown

    def _origin(self, draft: Draft, cause: Cause, happened: Happened, end: int, shown: dict[int, int]) -> int:
        if cause.kind == "inputs":
            found = [happened.inputs[i] for i in cause.which if i in happened.inputs]
            if found:
                return draft.moment(*_around(found))
        elif cause.kind == "outputs":
            moments = [shown[i] for i in cause.which if i in shown]
            if len(moments) == 1:
                return moments[0]
            if moments:
                bounds = [draft.vars[m] for m in moments]
                return draft.moment(*_around(bounds))
        if not happened.inputs:
            return end
        # Inputs alone count from the terminal; with a timing's end in the same instant, from either.
        bounds = list(happened.inputs.values())
        if happened.timing >= 0:
            bounds.append(happened.at)
        return draft.moment(*_around(bounds))

    def paused(self, draft: Draft, index: int, until: Bounds) -> Sum:
        """Give what an accumulator holds that stands still from a moment on."""
        total = draft.sums[index]
        if total.since < 0:
            return total
        least, most = self.limits.added(index, draft.vars[total.since], until)
        ceiling = total.base + self.limits.added(index, (total.ref, total.ref), until)[1]
        return total._replace(least=total.least + least, most=earlier(total.most + most, ceiling), since=-1)


def _around(bounds: Sequence[Bounds]) -> Bounds:
    """Give the bounds around all of these."""
    return reduce(earlier, (b[0] for b in bounds)), reduce(later, (b[1] for b in bounds))

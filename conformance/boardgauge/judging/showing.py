"""Hold what an output shows against what each hypothesis commanded.

Law of this module: an output shows its commands in order, each no sooner than it was given and no later than it is due;
of a change that was undone before it showed nothing need show.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from attrs import define, field

from boardgauge.judging.columns import Happening
from boardgauge.judging.hypothesis import Command, Draft, Hypothesis
from boardgauge.judging.pool import Pool
from boardgauge.judging.symbols import earlier

if TYPE_CHECKING:
    from boardgauge.judging.tracker import Tracker


@define
class Showing:
    """Takes in what outputs show, for one tracker."""

    tracker: Tracker
    ended: list[tuple[int, int, int, bool]] = field(factory=list)
    """Of the event in hand: which timing ended with it, how long it lasted at least and at most, whether sped up."""

    def take(self, before: list[Hypothesis], event: Happening, pool: Pool) -> None:
        """Take in one change of an output; put into the pool what is left of the hypotheses before it."""
        output, value, shown = event.which, event.value, self.tracker.shown
        old, shown[output] = shown[output], value
        for hypothesis in before:
            if value is None:
                # Frozen anew: what must show by when is remembered, and of this output nothing must any more.
                pool.add(Draft.of(hypothesis).freeze())
            elif self.tracker.reading.ignored(hypothesis, output):
                # Of a timing that ended here not all that is possible tells.
                self.ended.append((-1, 0, 0, False))
                pool.add(self._excuse_over(hypothesis, output))
            elif old is None:
                pool.add(self.resync(hypothesis, output, event.earliest, event.latest))
            elif old == value:
                pool.add(hypothesis)
            else:
                for new in self._match(hypothesis, event):
                    pool.add(new)

    def _excuse_over(self, h: Hypothesis, output: int) -> Hypothesis:
        if output in h.excused and self.tracker.engine.outputs(h.config)[output] == self.tracker.shown[output]:
            draft = Draft.of(h)
            draft.excused = h.excused - {output}
            draft.queues[output] = ()
            return draft.freeze()
        return h

    def _match(self, h: Hypothesis, event: Happening) -> Iterator[Hypothesis]:
        output, lag = event.which, self.tracker.limits.lags[event.which]
        queue = h.queues[output]
        for place in range(0, len(queue), 2):
            command = queue[place]
            if command.value != event.value or event.earliest > command.cap:
                continue
            if len(queue) > 1 and self._seen_before(h, command, event):
                continue
            draft = Draft.of(h)
            if not draft.narrow(command.act, event.earliest - lag, event.latest):
                continue
            # A timing that it begins counts from the command at the earliest, from what shows at the latest.
            if command.shown >= 0 and not draft.narrow(command.shown, event.earliest - lag, event.latest):
                continue
            if command.timing >= 0:
                rate = self.tracker.limits.kept_rate(draft, command.timing, command.origin, draft.vars[command.act])
                if rate is None:
                    continue
                draft.rate = rate
            draft.queues[output] = queue[place + 1 :]
            self.ended.append(self._measured(h, command, event))
            for mate, within, watch in command.mates:
                draft.queues[mate] = tuple(
                    c._replace(cap=earlier(c.cap, event.latest + within), watch=watch)
                    if c.act == command.act and event.latest + within < c.cap
                    else c
                    for c in draft.queues[mate]
                )
            yield draft.freeze()

    def _seen_before(self, h: Hypothesis, command: Command, event: Happening) -> bool:
        """Tell whether a command had to show by a sample that still shows what was before: then it was undone by it."""
        due = earlier(h.vars[command.act][1] + self.tracker.limits.lags[event.which], command.cap)
        return self.tracker.evidence.trace.seen_by(due) < event.latest

    def _measured(self, h: Hypothesis, command: Command, event: Happening) -> tuple[int, int, int, bool]:
        """Give the timing whose end an output just showed, the bounds of its length, and whether it ran sped up.

        Only the first output of an instant to show tells; for the others the timing is -1.
        """
        first = all(any(c.act == command.act for c in h.queues[other]) for other in command.siblings)
        if command.timing < 0 or not first:
            return -1, 0, 0, False
        low, high = command.origin
        longest = event.latest - low
        sped_up = self.tracker.limits.clock(command.timing).most(low, event.latest) > longest
        return command.timing, event.earliest - high, longest, sped_up

    def resync(self, h: Hypothesis, output: int, early: int, late: int) -> Hypothesis:
        """Give the hypothesis after an output that was not judged is judged again: a difference becomes pending."""
        wanted = self.tracker.engine.outputs(h.config)[output]
        draft = Draft.of(h)
        if self.tracker.shown[output] is None or wanted == self.tracker.shown[output]:
            draft.queues[output] = ()
        else:
            cap = late + self.tracker.limits.slowest + self.tracker.limits.lags[output]
            draft.queues[output] = (Command(wanted, draft.moment(early, late + self.tracker.limits.slowest), cap),)
        return draft.freeze()

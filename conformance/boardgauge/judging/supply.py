"""The supply of a board: taken in as it comes and goes, and, while the recording does not show it, as it may.

Law of this module: while nobody knows the supply it may have stayed as it was, or have gone and come at any moments
since, however often. What rests on its having done so is marked with ``SUPPLY`` among what a hypothesis supposes.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from boardgauge.judging.actions import Action
from boardgauge.judging.clocks import LONG
from boardgauge.judging.columns import Happening
from boardgauge.judging.hypothesis import Draft, Hypothesis
from boardgauge.judging.pool import Pool
from boardgauge.judging.symbols import earlier, later

if TYPE_CHECKING:
    from boardgauge.judging.tracker import Tracker

SUPPLY = -1
"""Stands for the supply among the levels that a hypothesis supposes not to have stayed as they were."""


class Supply:
    """The supply as one tracker follows it. ``unknown_since`` is None while it is known."""

    def __init__(self, tracker: Tracker) -> None:
        self.tracker = tracker
        self.unknown_since: int | None = None
        self.known_since = -LONG
        """Since when it is known without a break: what spans that moment is not measured."""
        machine = tracker.engine.machine
        self._kept_counts = {r.index for r in machine.regions if r.kept_without_power and r.kind == "count"}
        kept = [t for r in machine.regions if r.kept_without_power for t in r.timings]
        self._kept_timings = {*kept, *(d.timing for d in machine.delays if d.kept_without_power)}

    @property
    def unknown(self) -> bool:
        """Whether nobody knows the supply now."""
        return self.unknown_since is not None

    def lost_from_view(self, time: int) -> None:
        """Note that from a time on nobody knows the supply."""
        if self.unknown_since is None:
            self.unknown_since = time
        self.known_since = LONG

    def seen_again(self, time: int) -> None:
        """Note that the supply is known from a time on."""
        if self.unknown_since is not None:
            self.unknown_since, self.known_since = None, time

    def spanned(self, hypotheses: Sequence[Hypothesis]) -> bool:
        """Tell whether a timing may have begun before the supply was known again."""
        since = self.known_since
        if since <= -LONG:
            return False
        for h in hypotheses:
            origins = [h.vars[moment][0] for _, moment in h.timings]
            # What was added up counts back from where it goes on, and of a sum that pauses nobody knows where.
            origins += [
                h.vars[s.since][0] - s.most if s.since >= 0 else -LONG for s in h.sums if s.most or s.since >= 0
            ]
            origins += [command.origin[0] for queue in h.queues for command in queue if command.timing >= 0]
            if any(origin < since for origin in origins):
                return True
        return False

    # -- what the recording shows ----------------------------------------------------------------------------------

    def take(self, before: list[Hypothesis], event: Happening, pool: Pool) -> None:
        """Take in a change of the supply, to on, to off, or to not known."""
        firing = self.tracker.firing
        if event.value is None:
            self.lost_from_view(event.earliest)
        else:
            self.seen_again(event.latest)
        for hypothesis in before:
            powered = hypothesis.config.powered
            if event.value is None:
                pool.add(_ridden(hypothesis, False) if hypothesis.ridden else hypothesis)
            elif event.value:
                if powered:
                    pool.add(_ridden(hypothesis, False))
                else:
                    for new in firing.power_up(hypothesis, event.earliest, event.latest):
                        pool.add(new)
            elif not powered:
                pool.add(hypothesis)
            else:
                if event.maybe:
                    pool.add(_ridden(hypothesis, True))
                for one in self._as_it_may_go(hypothesis, event.latest):
                    pool.add(firing.power_down(one, event.earliest, event.latest, self.tracker.shown))

    # -- what it does not ------------------------------------------------------------------------------------------

    def unseen(self, h: Hypothesis, limit: int) -> Iterator[Hypothesis]:
        """Give the hypothesis after the supply went, or came, unseen between the last event and ``limit``."""
        if self.unknown_since is None:
            return
        firing, earliest = self.tracker.firing, later(h.now, self.tracker.since)
        if earliest > limit:
            return
        if not h.config.powered:
            for new in firing.power_up(h, earliest, limit):
                yield supposing(new)
            return
        for one in self._as_it_may_go(h, limit):
            draft = Draft.of(firing.power_down(one, earliest, limit, self.tracker.shown))
            # Without power no lamp is looked at; so that all these are alike, they say nothing of since when.
            draft.lamps = [draft.moment(self.unknown_since, LONG)] * len(draft.lamps)
            yield supposing(draft.freeze())

    def _as_it_may_go(self, h: Hypothesis, latest: int) -> list[Hypothesis]:
        """Give a hypothesis as it may be as the supply goes: what is kept, and was over unnoticed, is kept as over."""
        if not self._kept_timings:
            return [h]
        found, work = Pool(), [h]
        while work:
            one = work.pop()
            if not found.add(one):
                continue
            for action in self.tracker.reading.actions(one):
                if self._keeps(action) and self.tracker.commuting.silent(one.config, action):
                    first, last = later(one.now, action.earliest), earlier(action.latest, latest)
                    new = self.tracker.firing.fire(one, (action,), first, last) if first <= last else None
                    if new is not None:
                        work.append(new)
        return found.all()

    def _keeps(self, action: Action) -> bool:
        kept = {"timing": self._kept_timings, "window": self._kept_counts}.get(action.kind)
        return kept is not None and action.which in kept


def _ridden(h: Hypothesis, through: bool) -> Hypothesis:
    draft = Draft.of(h)
    draft.ridden = through
    return draft.freeze()


def supposing(h: Hypothesis) -> Hypothesis:
    """Give the hypothesis as one that rests on the supply having gone or come unseen."""
    draft = Draft.of(h)
    draft.supposed |= {SUPPLY}
    return draft.freeze()

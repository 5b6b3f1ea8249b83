"""Take in an input change where it makes no difference when, or whether, the board acts on it.

Law of this module: a shortcut is taken only where every order and every choice comes to the same; else it says None,
and the change waits among what may happen unseen.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from boardgauge.judging.actions import Action
from boardgauge.judging.clocks import LONG
from boardgauge.judging.hypothesis import Hypothesis
from boardgauge.judging.symbols import earlier, later

if TYPE_CHECKING:
    from boardgauge.judging.tracker import Tracker

MOST_SUPPOSED = 2
"""Pulses hidden between samples are supposed on so many inputs at a time."""


class TakingIn:
    """Takes in input changes for one tracker."""

    def __init__(self, tracker: Tracker) -> None:
        self.tracker = tracker

    def either_way(self, h: Hypothesis, number: int) -> Hypothesis | None:
        """Give one hypothesis for a pulse seen and not seen, where all that it can do is to change amounts added up.

        None if it can do more, or if anything else happens before it must have been acted on.
        """
        evidence = self.tracker.evidence
        after = evidence.following[number]
        if self.tracker.anything_goes or h.pending or after < 0:
            return None
        if not (evidence.alone[number] and evidence.alone[after]):
            return None
        change, back = evidence.changes[number], evidence.changes[after]
        if back.droppable or back.value is None or back.value != h.config.levels[change.level]:
            return None
        effect = self.tracker.commuting.pulse(h.config, change.level)
        if effect is None:
            return None
        by = back.latest + evidence.responds[change.level]
        turned = Action("flip", change.level, 0, 0)
        if self._something_hangs_on(h, turned, by):
            return None
        sums = list(h.sums)
        for index, sign in enumerate(effect):
            if sign:
                clock = self.tracker.limits.clock(self.tracker.limits.sum_timings[index])
                length = clock.most(change.earliest, back.latest)
                total = sums[index]
                if sign < 0:
                    sums[index] = total._replace(least=total.least - length)
                else:
                    sums[index] = total._replace(
                        most=total.most + length,
                        ref=earlier(total.ref, change.earliest),
                        base=later(total.base, total.most) + length,
                    )
        return h.with_sums(tuple(sums))

    def at_once(self, h: Hypothesis, number: int) -> Hypothesis | None:
        """Give the hypothesis after a change was acted on, where it makes no difference when that is; else None.

        It makes none if nothing shows of it, nothing else happens before it must have been acted on, and what may be
        over by then comes to the same before it and after it. What it begins counts from the terminal anyway.
        """
        if self.tracker.anything_goes or h.pending or not self.tracker.evidence.alone[number]:
            return None
        change = self.tracker.evidence.changes[number]
        assert change.value is not None
        by = change.latest + self.tracker.evidence.responds[change.level]
        action = Action("inputs", -1, change.earliest, by, changes=(number,))
        if not self.tracker.commuting.shows_nothing(h.config, action):
            return None
        if self._something_hangs_on(h, action, by):
            return None
        return self.tracker.firing.fire(h, (action,), change.earliest, by)

    def _something_hangs_on(self, h: Hypothesis, change: Action, by: int) -> bool:
        """Tell whether something that may or must happen by then comes out differently before and after a change."""
        commuting, reading = self.tracker.commuting, self.tracker.reading
        for other in reading.actions(h):
            silent = other.earliest > by or commuting.silent(h.config, other)
            if not silent or (other.earliest <= by and not commuting.indifferent(h.config, [other], change)):
                return True
        return any(upper.time <= by for upper in reading.uppers(h))

    def worth_supposing(self, h: Hypothesis, number: int) -> bool:
        """Tell whether a pulse that nobody saw is to be followed: it does something, and few such are under way.

        It does if either of its changes does, or if something else that may happen meanwhile comes out differently.
        """
        evidence, commuting = self.tracker.evidence, self.tracker.commuting
        change, after = evidence.changes[number], evidence.following[number]
        supposed = {evidence.changes[n].level for n in h.pending if evidence.changes[n].hidden}
        if len(supposed) >= MOST_SUPPOSED and change.level not in supposed:
            return False
        flip = Action("flip", change.level, 0, 0)
        if not commuting.silent(h.config, flip):
            return True
        over = evidence.changes[after].latest if after >= 0 else LONG
        by = over + evidence.responds[change.level]
        if self._others_change(number, by):
            return True
        return any(
            action.earliest <= by and not commuting.indifferent(h.config, [flip], action)
            for action in self.tracker.reading.actions(h)
        )

    def _others_change(self, number: int, by: int) -> bool:
        """Tell whether another input is known to change until a time, counted from a change."""
        changes, level = self.tracker.evidence.changes, self.tracker.evidence.changes[number].level
        for other in range(number + 1, len(changes)):
            change = changes[other]
            if change.earliest > by:
                return False
            if not change.hidden and change.level != level:
                return True
        return False

    def last_level(self, h: Hypothesis, level: int) -> bool:
        """Give what a level will be when all that is pending has been acted on."""
        for number in reversed(h.pending):
            change = self.tracker.evidence.changes[number]
            if change.level == level and change.value is not None:
                return change.value
        return h.config.levels[level]

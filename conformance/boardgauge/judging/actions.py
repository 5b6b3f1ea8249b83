"""What may happen unseen, and which of it comes to the same in any order.

Law of this module: two hidden events are told apart in time only where it makes a difference. Everything here is a
pure question about one configuration, remembered once it is answered.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations
from math import comb, prod
from typing import Literal

from attrs import frozen

from boardgauge.judging.answers import Answers
from boardgauge.judging.evidence import Evidence
from boardgauge.judging.limits import Limits
from boardgauge.machine.config import Config, Outcome
from boardgauge.machine.picture import CannotSettle
from boardgauge.machine.settle import Engine

MOST_ORDERS = 256
"""So many states are looked at that silent events can lead to in one order and another."""
MOST_TOGETHER = 128
"""So many choices of events of one instant are asked for what they do together; of two, all are."""


@frozen
class Action:
    """Something that may happen unseen in [earliest, latest].

    ``known_by`` is the change with which the level of a flip is known again, where it is by now.
    """

    kind: Literal["timing", "window", "inputs", "flip"]
    which: int
    earliest: int
    latest: int
    changes: tuple[int, ...] = ()
    place: int = 0
    known_by: int | None = None


class Commuting:
    """Answers, for one machine and one trace, what hidden events do alone, together, and one after the other."""

    def __init__(self, engine: Engine, evidence: Evidence, limits: Limits, answers: Answers) -> None:
        self.engine, self.evidence, self.limits = engine, evidence, limits
        self._groups = answers.groups
        self._silent = answers.silent
        self._pulses = answers.pulses
        self._shows_nothing = answers.shows_nothing
        self._all_silent = answers.all_silent
        self._indifferent = answers.indifferent

    def _turned(self, action: Action) -> tuple[tuple[int, bool | None], ...]:
        """Give the levels that input changes set, and to what: which changes they are, nothing hangs on."""
        changes = self.evidence.changes
        return tuple([(changes[n].level, changes[n].value) for n in action.changes]) if action.changes else ()

    def settled(self, config: Config, group: tuple[Action, ...]) -> Outcome:
        """Give what these do together to a configuration."""
        levels = list(config.levels)
        for action in group:
            if action.kind == "flip":
                levels[action.which] = not levels[action.which]
            for number in action.changes:
                change = self.evidence.changes[number]
                levels[change.level] = bool(change.value)
        expired = tuple(sorted(a.which for a in group if a.kind == "timing"))
        dropped = tuple(sorted(a.which for a in group if a.kind == "window"))
        return self.engine.settle(config, tuple(levels), expired, dropped)

    def silent(self, config: Config, action: Action) -> bool:
        """Tell whether a hidden event does nothing but to be over: no output, no timing, no other thing hangs on it.

        It may then be left to happen until something hangs on it, or until it must. An input that nobody knows may turn
        and turn back, so both must do nothing.
        """
        if action.kind == "inputs":
            return False
        key = (config, action.kind, action.which)
        known = self._silent.get(key)
        if known is None:
            try:
                known = self._does_nothing(config, action)
                if known and action.kind == "flip":
                    known = self._does_nothing(self.settled(config, (action,)).config, action)
            except CannotSettle:
                known = False
            self._silent[key] = known
        return known

    def _does_nothing(self, config: Config, action: Action) -> bool:
        outcome = self.settled(config, (action,))
        over = 1 << action.which if action.kind == "timing" else 0
        return (
            # An input that turns may stop a timing: that is not nothing.
            outcome.config.running == config.running & ~over
            and not (outcome.commands or outcome.begun or outcome.paused or outcome.emptied or outcome.counted)
            and not outcome.broken
            and all(action.kind == "window" and region == action.which for region, _, _ in outcome.moved)
            and outcome.config.full == config.full
            and self.engine.lamp_lines(config) == self.engine.lamp_lines(outcome.config)
            and action.which not in self.limits.unmasks
        )

    def shows_nothing(self, config: Config, action: Action) -> bool:
        """Tell whether an input change commands no output and changes no lamp, and breaks no requirement."""
        key = (config, self._turned(action))
        known = self._shows_nothing.get(key)
        if known is None:
            try:
                outcome = self.settled(config, (action,))
            except CannotSettle:
                known = False
            else:
                lines = self.engine.lamp_lines
                known = not outcome.commands and not outcome.broken and lines(config) == lines(outcome.config)
            self._shows_nothing[key] = known
        return known

    def pulse(self, config: Config, level: int) -> tuple[int, ...] | None:
        """Give what a level that turns and turns back does to each accumulator, if it does nothing else at all.

        -1: it stands still meanwhile, 1: it adds up meanwhile, 0: neither. None if the pulse does more.
        """
        key = (config, level)
        if key not in self._pulses:
            try:
                self._pulses[key] = self._pulse(config, level)
            except CannotSettle:
                self._pulses[key] = None
        return self._pulses[key]

    def _pulse(self, config: Config, level: int) -> tuple[int, ...] | None:
        flip = Action("flip", level, 0, 0)
        there = self.settled(config, (flip,))
        back = self.settled(there.config, (flip,))
        sums = set(self.limits.sum_timings)
        for outcome in (there, back):
            if (
                outcome.commands
                or outcome.moved
                or outcome.counted
                or outcome.emptied
                or outcome.forgot
                or outcome.broken
            ):
                return None
            if any(timing not in sums for timing, _ in (*outcome.begun, *outcome.paused)):
                return None
        same = back.config == config and there.config.full == config.full
        if not same or self.engine.lamp_lines(config) != self.engine.lamp_lines(there.config):
            return None
        bits = [1 << timing for timing in self.limits.sum_timings]
        return tuple(bool(there.config.running & bit) - bool(config.running & bit) for bit in bits)

    def after_silent(self, config: Config, actions: Sequence[Action]) -> Config | None:
        """Give the configuration after these, each silent as its turn comes; None if one is not."""
        for action in actions:
            if not self.silent(config, action):
                return None
            config = self.settled(config, (action,)).config
        return config

    def all_silent(self, config: Config, actions: Sequence[Action]) -> bool:
        """Tell whether all of these do nothing, in whatever order they happen, and however many of them do."""
        if len(actions) == 1:
            return self.silent(config, actions[0])
        key = (config, tuple([(a.kind, a.which, a.place) for a in actions]))
        known = self._all_silent.get(key)
        if known is None:
            known = self._all_silent[key] = self._silent_in_any_order(config, actions)
        return known

    def _silent_in_any_order(self, config: Config, actions: Sequence[Action]) -> bool:
        alike: dict[tuple[str, int], list[Action]] = {}
        for action in actions:
            alike.setdefault((action.kind, action.which), []).append(action)
        rows = [(row[0], len(row)) for row in alike.values()]
        if prod(number + 1 for _, number in rows) > MOST_ORDERS:
            # Too many to try: one order, and every two of them.
            pairs = ((one, other) for one in actions for other in actions if one is not other)
            return self.after_silent(config, actions) is not None and all(
                self.after_silent(config, pair) is not None for pair in pairs
            )
        # What has happened, however it came to that, is one configuration: what is silent is only over.
        reached = {(0,) * len(rows): config}
        while reached:
            further: dict[tuple[int, ...], Config] = {}
            for done, now in reached.items():
                for place, (action, number) in enumerate(rows):
                    if done[place] == number:
                        continue
                    if not self.silent(now, action):
                        return False
                    more = (*done[:place], done[place] + 1, *done[place + 1 :])
                    if more not in further:
                        further[more] = self.settled(now, (action,)).config
            reached = further
        return True

    def indifferent(self, config: Config, silent: Sequence[Action], loud: Action) -> bool:
        """Tell whether a hidden event does the same before and after these silent ones."""
        key = (config, tuple([(a.kind, a.which, a.place) for a in silent]), loud.kind, loud.which, self._turned(loud))
        known = self._indifferent.get(key)
        if known is None:
            try:
                known = self._makes_no_difference(config, silent, loud)
            except CannotSettle:
                known = False
            self._indifferent[key] = known
        return known

    def _makes_no_difference(self, config: Config, silent: Sequence[Action], loud: Action) -> bool:
        over = self.after_silent(config, silent)
        if over is None:
            return False
        first, last = self.settled(config, (loud,)), self.settled(over, (loud,))
        still = [a for a in silent if a.kind != "timing" or first.config.running >> a.which & 1]
        return (
            first.commands == last.commands
            and first.begun == last.begun
            and first.paused == last.paused
            and first.emptied == last.emptied
            and first.counted == last.counted
            and first.forgot == last.forgot
            and first.moved == last.moved
            and first.broken == last.broken
            and first.together == last.together
            and self.after_silent(first.config, still) == last.config
        )

    def groups(self, config: Config, actions: Sequence[Action]) -> tuple[tuple[int, ...], ...]:
        """Give the places of what may happen in one instant: each alone, and those together that come to more.

        Three may come to more where no two do, so all that may be together are asked for, the fewest first; of very
        many, as many as are tried (``MOST_TOGETHER``).
        """
        if len(actions) < 2:
            return tuple([(place,) for place in range(len(actions))])
        key = (config, tuple([(a.kind, a.which, self._turned(a)) for a in actions]))
        known = self._groups.get(key)
        if known is None:
            known = self._groups[key] = tuple(self._worked_out(config, actions))
        return known

    def _worked_out(self, config: Config, actions: Sequence[Action]) -> Iterator[tuple[int, ...]]:
        places, tried = range(len(actions)), 0
        for size in range(1, len(actions) + 1):
            tried += comb(len(actions), size)
            if size > 2 and tried > MOST_TOGETHER:
                return
            for group in combinations(places, size):
                if size == 1 or not self.apart(config, [actions[place] for place in group]):
                    yield group

    def apart(self, config: Config, group: Sequence[Action]) -> bool:
        """Tell whether events in one instant come to the same as one after the others, or cannot be together."""
        once = [(action.kind, action.which) for action in group if action.kind in {"window", "flip"}]
        if len(set(once)) < len(once):
            return True
        try:
            together = self.settled(config, tuple(group))
        except CannotSettle:
            # The spec says nothing of them together; one after the other it may.
            return True
        for place, one in enumerate(group):
            others = (*group[:place], *group[place + 1 :])
            if self._comes_to(config, (one,), others, together) or self._comes_to(config, others, (one,), together):
                return True
        return False

    def _comes_to(self, config: Config, first: tuple[Action, ...], then: tuple[Action, ...], together: Outcome) -> bool:
        """Tell whether some of these and then the others come to what all of them do together."""
        try:
            alone = self.settled(config, first)
            if any(a.kind == "timing" and not alone.config.running >> a.which & 1 for a in then):
                return False
            after = self.settled(alone.config, then)
        except CannotSettle:
            return False
        return (
            after.config == together.config
            and {*alone.begun, *after.begun} == set(together.begun)
            and {*alone.paused, *after.paused} == set(together.paused)
            and {*alone.counted, *after.counted} == set(together.counted)
            and sorted((*alone.commands, *after.commands)) == sorted(together.commands)
            and not (alone.commands and after.commands)
            and not alone.broken
            and not after.broken
        )

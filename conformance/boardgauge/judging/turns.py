"""What is known of each event of a trace before its times are: all of it, but them, that a step looks at.

Law of this module: events with the same key are the same turn. A key is a whole number where it hangs on the event
alone; those of a moment with others, and of the supply, hang on what is pending or on what the inputs are by then.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from attrs import frozen

from boardgauge.judging.columns import Changes, Happenings, Kind, Numbers
from boardgauge.judging.evidence import Evidence
from boardgauge.judging.shape import Shape
from boardgauge.machine.inputs import Change

Key = int | tuple[object, ...]
NOT_TRACED, SUPPLY, MIXED = -2, -1, 0
"""Codes below ``MIXED``: of what is never traced, of the supply, and (lower still) of changes that are of a moment."""


@frozen
class Turn:
    """One kind of event.

    ``change`` is the input change without its times, ``after`` the next one of its level, with whether each is alone;
    ``levels`` are the inputs as the supply comes on.
    """

    kind: Kind
    which: int
    value: bool | None
    maybe: bool
    change: Change | None = None
    alone: bool = False
    after: Change | None = None
    after_alone: bool = False
    levels: tuple[bool, ...] = ()


class Turns:
    """The turns of one trace; ``codes`` are their keys, or what says that ``key`` is to be asked."""

    def __init__(self, evidence: Evidence) -> None:
        self.evidence = evidence
        happenings, changes = evidence.happenings, evidence.changes
        assert isinstance(happenings, Happenings)
        assert isinstance(changes, Changes)
        kind, which, value = happenings.kind, happenings.which, happenings.value.astype(np.int64)
        codes = np.full(len(happenings), NOT_TRACED, dtype=np.int64)
        codes[(kind == Kind.POWER) & (value >= 0)] = SUPPLY
        outputs = kind == Kind.OUTPUT
        codes[outputs] = (which[outputs] * 3 + value[outputs] + 1) * 2
        inputs = kind == Kind.INPUT
        codes[inputs] = _codes(changes, evidence.alone, evidence.following)[which[inputs]]
        self.codes: list[int] = codes.tolist()

    def key(self, index: int, shape: Shape, numbers: Sequence[int]) -> Key | None:
        """Give the key of an event whose code does not say it; None if it is not to be traced."""
        code = self.codes[index]
        if code == NOT_TRACED:
            return None
        event = self.evidence.happenings[index]
        if code != SUPPLY:
            return code, self._moment(self.evidence.changes[event.which].moment, shape, numbers)
        if not event.value:
            return code, event.value, event.maybe
        ways = self.evidence.levels.ways
        rows = [ways(level, event.earliest, event.latest) for level in range(len(self.evidence.initial))]
        levels = tuple([row[0][0] for row in rows])
        return None if None in levels or any(row[1:] for row in rows) else (code, event.value, event.maybe, levels)

    def turn(self, index: int, key: Key) -> Turn:
        """Give the turn of an event."""
        event, evidence = self.evidence.happenings[index], self.evidence
        if event.kind != Kind.INPUT:
            levels: object = key[3] if isinstance(key, tuple) and len(key) > 3 else ()
            assert isinstance(levels, tuple)
            return Turn(event.kind, event.which, event.value, event.maybe, levels=levels)
        change, after = evidence.changes[event.which], evidence.following[event.which]
        moment = key[1] if isinstance(key, tuple) else -1
        assert isinstance(moment, int)
        bare = Change(change.level, change.value, 0, 0, change.droppable, moment, change.hidden)
        if after < 0:
            return Turn(event.kind, 0, None, False, bare, evidence.alone[event.which])
        following = evidence.changes[after]
        other = Change(following.level, following.value, 0, 0, following.droppable)
        return Turn(event.kind, 0, None, False, bare, evidence.alone[event.which], other, evidence.alone[after])

    def _moment(self, moment: int, shape: Shape, numbers: Sequence[int]) -> int:
        """Give the number that a moment has among those pending."""
        number = 0
        pending = numbers[len(numbers) - len(shape.waiting) :]
        for place, waiting in zip(pending, shape.waiting, strict=True):
            if waiting.moment >= 0:
                if self.evidence.changes[place].moment == moment:
                    return waiting.moment
                number = max(number, waiting.moment + 1)
        return number


def _codes(changes: Changes, alone: Sequence[bool], following: Sequence[int]) -> Numbers:
    """Give the code of each change: odd, or below SUPPLY where it is of a moment."""
    own, after = np.array(alone, dtype=np.int64), np.array(following, dtype=np.int64)
    value = changes.value.astype(np.int64)
    # What follows is told in one digit: nought for nothing.
    next_ = 1 + ((value[after] + 1) * 2 + changes.droppable[after]) * 2 + own[after] if len(after) else after
    digits = ((changes.level * 2 + value) * 2 + changes.droppable) * 2 + changes.hidden
    codes = ((digits * 2 + own) * 16 + np.where(after >= 0, next_, 0)) * 2 + 1
    codes = np.where(changes.moment >= 0, NOT_TRACED - codes, codes)
    return np.where(value < 0, NOT_TRACED, codes)

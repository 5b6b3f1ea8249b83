"""Outcomes in the order of the recordings, whatever order they come in.

Law of this module: an outcome is given once. It keeps those that came too early, at most ``WINDOW`` of them.
"""

from __future__ import annotations

from collections.abc import Iterator

from attrs import define, field

from boardgauge.many.job import Outcome

WINDOW = 256
"""How many recordings are given out beyond the first that is not back yet: what bounds the memory of a long run."""


@define
class InOrder:
    """Outcomes that wait for those before them. ``first`` is the number of the next to give."""

    first: int = 0
    _early: dict[int, Outcome] = field(factory=dict, init=False)

    def add(self, outcome: Outcome) -> None:
        """Take an outcome; one that was there already changes nothing."""
        if outcome.number >= self.first:
            self._early.setdefault(outcome.number, outcome)

    def ready(self) -> Iterator[Outcome]:
        """Give what has no gap before it."""
        while (outcome := self._early.pop(self.first, None)) is not None:
            self.first += 1
            yield outcome

    def left(self) -> Iterator[Outcome]:
        """Give all that came, gaps or not: for a run that is broken off."""
        for number in sorted(self._early):
            self.first = number + 1
            yield self._early.pop(number)

    def may_give_out(self, number: int) -> bool:
        """Tell whether this recording may be given out now."""
        return number < self.first + WINDOW

"""By when a lamp must have shown something else, remembered.

Law of this module: it answers what the watch of the lamp answers; a lamp that may go on for ever has till ``LONG``.
"""

from __future__ import annotations

from boardgauge.judging.clocks import LONG
from boardgauge.traces.lamps import LampWatch

MOST_REMEMBERED = 4096
"""So many answers are kept: a board asks again soon or not at all."""


class Deadlines:
    """The deadlines of one lamp on one trace."""

    def __init__(self, watch: LampWatch) -> None:
        self._watch = watch
        self._known: dict[tuple[int, int], int] = {}

    def by(self, line: int, since: int) -> int:
        """Give by when a board that shows this line since then has shown something else; LONG if it never need."""
        found = self._known.get((line, since))
        if found is None:
            if len(self._known) >= MOST_REMEMBERED:
                self._known.clear()
            due = self._watch.deadline(line, since)
            found = self._known[line, since] = LONG if due is None else due
        return found

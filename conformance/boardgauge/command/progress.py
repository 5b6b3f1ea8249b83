"""How far a run of many recordings is, on a terminal.

Law of this module: nothing is written unless standard error is a terminal; what is written is wiped out again.
"""

from __future__ import annotations

import sys
import time

from attrs import define, field

EVERY = 0.1
"""Seconds between two lines."""


@define
class Progress:
    """A line that says how many of ``total`` recordings are done, what came of them, and how long the rest may take."""

    total: int
    shown: bool = field(factory=lambda: sys.stderr.isatty())
    _began: float = field(factory=time.monotonic)
    _last: float = field(default=0.0)
    _width: int = field(default=0)

    def wipe(self) -> None:
        """Take the line away, before something else is printed."""
        if self._width:
            sys.stderr.write("\r" + " " * self._width + "\r")
            sys.stderr.flush()
            self._width = 0

    def show(self, done: int, told: str) -> None:
        """Write the line."""
        now = time.monotonic()
        if not self.shown or self.total < 2 or done == self.total or (done and now - self._last < EVERY):
            return
        self._last = now
        line = f"{done} of {self.total} judged" + (f": {told}" if told else "")
        if done:
            line += f"; {_lasting((now - self._began) / done * (self.total - done))} left"
        # A line that is broken by the edge of the terminal cannot be wiped out.
        line = line[:78]
        sys.stderr.write("\r" + line.ljust(self._width))
        sys.stderr.flush()
        self._width = max(self._width, len(line))


def _lasting(seconds: float) -> str:
    whole = round(seconds)
    if whole < 60:
        return f"{whole} s"
    return f"{whole // 60} min" if whole < 3600 else f"{whole // 3600} h {whole % 3600 // 60:02d} min"

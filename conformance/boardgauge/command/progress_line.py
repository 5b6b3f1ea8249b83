"""One line on standard error that says how far something is.

Law of this module: it is shown on a terminal only, and nothing of it is left when it is wiped.
"""

from __future__ import annotations

import sys
import time

_TOLD_EVERY = 1.0
"""Seconds between two tellings."""
_WIDTH = 78


class ProgressLine:
    """A line that is written over itself."""

    def __init__(self) -> None:
        self._last = 0.0
        self._width = 0
        self._shown = sys.stderr.isatty()

    def tell(self, words: str) -> None:
        """Show how far it is, at most once a second."""
        now = time.monotonic()
        if self._shown and now - self._last > _TOLD_EVERY:
            self._last = now
            self.wipe()
            sys.stderr.write(words[:_WIDTH])
            sys.stderr.flush()
            self._width = len(words[:_WIDTH])

    def wipe(self) -> None:
        """Take the line away."""
        if self._width:
            sys.stderr.write("\r" + " " * self._width + "\r")
            sys.stderr.flush()
            self._width = 0

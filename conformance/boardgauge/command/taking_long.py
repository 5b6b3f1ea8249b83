"""A line on standard error that says what is being worked on, where that takes long and nothing tells how far it is.

Law of this module: it is shown on a terminal only, from the third second on, and nothing of it is left in the end.
"""

from __future__ import annotations

import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TextIO

AFTER = 2.0
"""Seconds in which nothing is said: most of what is asked is done by then."""
EVERY = 1.0
"""Seconds between two tellings."""
_WIDTH = 78


@contextmanager
def taking_long(words: str, stream: TextIO | None = None) -> Iterator[None]:
    """Say so, while something takes long: ``words`` is what is done, as in "judging x.csv"."""
    shown = sys.stderr if stream is None else stream
    if not shown.isatty():
        yield
        return
    over = threading.Event()
    teller = threading.Thread(target=_tell, args=(words, shown, over), daemon=True)
    teller.start()
    try:
        yield
    finally:
        over.set()
        teller.join()


def _tell(words: str, shown: TextIO, over: threading.Event) -> None:
    begun, wait, width = time.monotonic(), AFTER, 0
    while not over.wait(wait):
        ending = f": {time.monotonic() - begun:.0f} s so far"
        # A line that is broken by the edge of the terminal cannot be wiped out.
        line = words[: _WIDTH - len(ending)] + ending
        shown.write("\r" + line.ljust(width))
        shown.flush()
        wait, width = EVERY, max(width, len(line))
    if width:
        shown.write("\r" + " " * width + "\r")
        shown.flush()

"""Ctrl-C (and the signal to end) in a run whose results so far are worth keeping.

Law of this module: the interrupt comes as ``Interrupted``, but never in the middle of what is ``held``, which is done
first; a second one comes at once.
"""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType
from typing import Any

from attrs import define

SIGNALS = (signal.SIGINT, signal.SIGTERM)


class Interrupted(BaseException):
    """The run was broken off by a signal, of this number."""

    def __init__(self, signum: int) -> None:
        self.signum = signum
        super().__init__(signum)


@define
class Interrupts:
    """Turns signals into ``Interrupted`` while it is ``listening``."""

    _holding: bool = False
    _came: int | None = None

    @contextmanager
    def listening(self) -> Iterator[None]:
        """Take the signals; only the main thread of a process can."""
        if threading.current_thread() is not threading.main_thread():
            yield
            return
        before: dict[signal.Signals, Any] = {sign: signal.signal(sign, self._take) for sign in SIGNALS}
        try:
            yield
        finally:
            for sign, handler in before.items():
                signal.signal(sign, handler)

    @contextmanager
    def held(self) -> Iterator[None]:
        """Let an interrupt wait until the end of this."""
        self._holding = True
        try:
            yield
        finally:
            self._holding = False
        if self._came is not None:
            raise Interrupted(self._came)

    @contextmanager
    def deaf(self) -> Iterator[None]:
        """Let nothing break this off: for what takes a bounded time and has to be done, as making a rig safe."""
        if threading.current_thread() is not threading.main_thread():
            yield
            return
        before = {sign: signal.signal(sign, signal.SIG_IGN) for sign in SIGNALS}
        try:
            yield
        finally:
            for sign, handler in before.items():
                signal.signal(sign, handler)

    def _take(self, signum: int, frame: FrameType | None) -> None:
        if self._holding and self._came is None:
            self._came = signum
        else:
            raise Interrupted(signum)

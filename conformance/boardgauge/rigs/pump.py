"""Bytes from a stream, by a thread of its own, so that waiting for them can end (on every system).

Law of this module: bytes come out in the order in which they came in, and the end of the stream is told for good.
"""

from __future__ import annotations

import os
import queue
import threading

from attrs import define, field


@define(eq=False)
class Pump:
    """Reads a file descriptor until its end.

    It reads by a descriptor of its own, which it closes itself: once ``source`` is closed, its number soon stands for
    another stream, whose bytes are not for us.
    """

    source: int
    _came: queue.SimpleQueue[bytes] = field(factory=queue.SimpleQueue)
    _over: bool = False

    def __attrs_post_init__(self) -> None:
        threading.Thread(target=self._run, args=(os.dup(self.source),), daemon=True).start()

    def _run(self, own: int) -> None:
        data = b"-"
        while data:
            try:
                data = os.read(own, 65536)
            except OSError:
                data = b""
            self._came.put(data)
        os.close(own)

    def take(self, within: float | None) -> bytes | None:
        """Give what came, waiting so many seconds for it; b"" if nothing did, None at the end of the stream."""
        if self._over:
            return None
        try:
            data = self._came.get(timeout=within) if within is None or within > 0 else self._came.get_nowait()
        except queue.Empty:
            return b""
        self._over = not data
        return data or None

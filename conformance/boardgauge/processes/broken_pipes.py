"""A pipe whose other end is gone is an error to be told, and not the end of this process.

Law of this module: Python ignores the signal of a broken pipe by itself, and so the write fails and everything driven
is made safe. Some libraries hand the signal back to the system, which then ends the process without a word.
"""

from __future__ import annotations

import signal
import threading


def outlive_broken_pipes() -> None:
    """Have a write to a pipe that nobody reads fail, as Python does it, where something has changed that.

    Whoever handles the signal in a way of its own keeps it. Signals are a matter of the main thread; elsewhere nothing
    is changed.
    """
    broken = getattr(signal, "SIGPIPE", None)
    if broken is None or threading.current_thread() is not threading.main_thread():
        return
    if signal.getsignal(broken) is signal.SIG_DFL:
        signal.signal(broken, signal.SIG_IGN)

"""The command line: it parses, calls one function and prints.

Exit status: 0 all is well (every trace conforms), 1 at least one trace deviates, 2 something could not be read or used,
3 nothing deviates but some verdict is undecided.
"""

from __future__ import annotations

from boardgauge.command.program import main

__all__ = ["main"]

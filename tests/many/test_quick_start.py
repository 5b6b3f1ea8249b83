"""Judging one small recording loads what it needs and nothing more."""

from __future__ import annotations

import subprocess
import sys

from many_recordings import GOOD

HEAVY = (
    *("multiprocessing", "asyncio", "distributed", "pyarrow", "typst", "graphviz", "tomlkit", "rapidfuzz", "vcd"),
    *("importlib.metadata", "boardgauge.many.workers", "boardgauge.many.table", "boardgauge.many.cluster"),
    *("boardgauge.drawings", "boardgauge.machine.explore", "boardgauge.traces.csv_format"),
)
PROGRAM = f"""
import sys
from boardgauge.command import main

try:
    main()
finally:
    print("loaded:", [name for name in {HEAVY!r} if name in sys.modules])
"""


def test_one_recording_loads_little() -> None:
    """No process pool, table, cluster, drawing or second reader is loaded."""
    command = [sys.executable, "-c", PROGRAM, "judge", "tarnbeck", str(GOOD)]
    run = subprocess.run(command, capture_output=True, text=True, check=False)
    assert run.returncode == 0, run.stderr
    assert run.stdout.splitlines()[-1] == "loaded: []"

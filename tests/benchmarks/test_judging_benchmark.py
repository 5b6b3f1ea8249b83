"""Laws: the benchmark runs, its nominal runs agree with each other, and what it judges is a board that conforms."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path


def test_the_benchmark_judges_a_short_life() -> None:
    """With 200 edges it prints its table; nothing here looks at a time."""
    program = Path(__file__).with_name("judging.py")
    told = subprocess.run(
        [sys.executable, str(program), "--edges", "200", "--logic-edges", "200"], capture_output=True, text=True
    )
    assert told.returncode == 0, told.stderr
    assert re.search(r"^verdict +conforms$", told.stdout, re.MULTILINE), told.stdout
    assert "boardgauge judge, peak MB" in told.stdout

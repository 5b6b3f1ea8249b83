"""Law: the benchmark of proving runs, each reduction keeps fewer zones, and the verdict is there."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path


def test_the_benchmark_measures_a_small_board() -> None:
    """With four timings it prints a row for each reduction; nothing here looks at a time."""
    program = Path(__file__).with_name("proving.py")
    asked = [sys.executable, str(program), "--most", "300", "--up-to", "4", "--boards"]
    done = subprocess.run(asked, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    last = done.stdout.strip().splitlines()[-5:]
    zones = [int(found) for found in re.findall(r"(\d+) zones ", "\n".join(last))]
    assert zones[1] < zones[0]
    assert zones[2] <= zones[1]
    assert "bound reached" not in last[1]
    assert "as it is proved: proved" in last[-1]
    assert all(re.search(r"[1-9]\d* zones/s +\d+\.\d MB", line) for line in last)

"""Law: the benchmark of reading runs, and every way finds the same edges in the same file."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path


def test_the_benchmark_reads_short_files() -> None:
    """With a few rows it prints its tables and its goals; nothing here looks at a time."""
    program = Path(__file__).with_name("reading.py")
    few = ["--rows", "900", "--changes", "600", "--short", "300", "--times", "1"]
    told = subprocess.run([sys.executable, str(program), *few], capture_output=True, text=True, check=False)
    assert told.returncode == 0, told.stderr
    for kind in ("wide CSV, clean", "wide CSV, one noisy channel", "long CSV", "VCD", "wide Parquet, clean"):
        assert f"\n{kind}: " in told.stdout, told.stdout
    assert told.stdout.count("\n  boardgauge ") == 5
    assert "in less than 300 MB" in told.stdout
    for command in ("look", "convert to Parquet", "convert to VCD"):
        assert f"\n  {command} " in told.stdout, told.stdout
        assert f"{command} in less than 300 MB" in told.stdout

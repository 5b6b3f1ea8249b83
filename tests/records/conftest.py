"""Records that the tests of this folder look into."""

from __future__ import annotations

from pathlib import Path

import pytest

from many_recordings import GOOD, OTHER, SLOW_CLOCK
from records.records_typed import typed


@pytest.fixture(scope="session")
def judged(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give records that were filled by judging; they stay as they are."""
    path = tmp_path_factory.mktemp("judged") / "bench.db"
    good = ("--record", path, "--serial", "1042", "--lot", "A", "--operator", "kim", "--measured", "2026-03-02T09:30")
    assert typed("judge", "tarnbeck", GOOD, OTHER, *good)[0] == 0
    status, output = typed("judge", "tarnbeck", SLOW_CLOCK, "--record", path, "--serial", "1043", "--note", "warm room")
    assert status == 1
    assert f"  kept as run 3 of tarnbeck 1043 in {path}" in output
    return path

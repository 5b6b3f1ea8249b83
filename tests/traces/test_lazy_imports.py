"""Importing the package costs next to nothing until a name of it is used."""

from __future__ import annotations

import subprocess
import sys

import pytest

import boardgauge.traces


def test_numpy_waits() -> None:
    """Neither numpy nor pyvcd is loaded with the package, and every public name is there."""
    code = "import sys, boardgauge.traces; sys.exit('numpy' in sys.modules or 'vcd' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
    for name in boardgauge.traces.__all__:
        assert getattr(boardgauge.traces, name) is not None
    with pytest.raises(AttributeError, match="no attribute 'nothing'"):
        boardgauge.traces.nothing  # noqa: B018 (the access is what is tested)

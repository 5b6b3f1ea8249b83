"""Value change dumps read as a third, independent reader (vcdvcd) reads them.

Source: IEEE 1364-2005 clause 18, value change dump files (also IEEE 1800-2017 section 21.7). Readers disagree on
escaped names and on extending short vectors; levels of one bit, which is what boards have, they agree on.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from vcdvcd import VCDVCD

from boardgauge.traces import read_recording

RECORDINGS = Path(__file__).parents[1] / "recordings"
_LEVELS = {"0": 0.0, "1": 1.0}


@pytest.mark.parametrize("name", ["s12_jumpers_fast__good.vcd", "s03_lp_trip__good__xz.vcd"])
def test_levels_and_times_are_those_of_the_other_reader(name: str) -> None:
    """Every change of every one-bit channel of a real recording, with x and z as not known."""
    ours, theirs = read_recording(RECORDINGS / name), VCDVCD(str(RECORDINGS / name))
    micros = theirs.timescale["timescale"] * 1_000_000
    assert len(theirs.signals) == len(ours.channels)
    for path in theirs.signals:
        channel = ours.find(path.split(".")[-1].split("[")[0])
        assert channel is not None
        for time, value in theirs[path].tv:
            level = channel.at(round(time * micros))
            assert level == _LEVELS[value] if value in _LEVELS else level != level

"""What is written reads back as it was."""

from __future__ import annotations

import io

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from boardgauge.traces import Channel, Recording, recording_from, write_long, write_vcd, write_wide
from boardgauge.traces.recording import channel_of

digital = st.sampled_from([0.0, 1.0, float("nan")])
analogue = st.one_of(st.floats(-1e6, 1e6).map(lambda v: round(v, 6) + 0.0), st.just(float("nan")))
names = st.lists(st.from_regex(r"[a-z][a-z0-9_]{0,5}", fullmatch=True), min_size=1, max_size=4, unique=True)


@st.composite
def recordings(draw: st.DrawFn, sampled: bool) -> Recording:
    steps = draw(st.lists(st.integers(1, 10**7), min_size=1, max_size=12))
    times = np.cumsum(np.array([draw(st.integers(0, 10**9)), *steps]))
    channels: dict[str, Channel] = {}
    for name in draw(names.filter(lambda found: "t" not in found)):
        values = draw(st.lists(draw(st.sampled_from([digital, analogue])), min_size=len(times), max_size=len(times)))
        channels[name] = channel_of(name, times, np.array(values))
    samples = times if sampled else None
    return Recording("made", "wide CSV" if sampled else "VCD", int(times[0]), int(times[-1]), channels, samples)


def same(one: Recording, other: Recording) -> None:
    assert (one.start, one.end, one.channels) == (other.start, other.end, other.channels)
    assert np.array_equal([] if one.samples is None else one.samples, [] if other.samples is None else other.samples)


@given(recordings(sampled=False))
def test_vcd(recording: Recording) -> None:
    """Value change dumps."""
    stream = io.StringIO()
    write_vcd(recording, stream)
    same(recording_from(stream.getvalue().encode(), "t"), recording)


@given(recordings(sampled=False), st.sampled_from([(",", False), (";", True), ("\t", True)]))
def test_long(recording: Recording, style: tuple[str, bool]) -> None:
    """Long tables, in each style."""
    stream = io.StringIO()
    write_long(recording, stream, *style)
    same(recording_from(stream.getvalue().encode(), "t"), recording)


@given(recordings(sampled=True), st.sampled_from([(",", False), (";", True), ("\t", False)]))
def test_wide(recording: Recording, style: tuple[str, bool]) -> None:
    """Wide tables, in each style."""
    stream = io.StringIO()
    write_wide(recording, stream, *style)
    same(recording_from(stream.getvalue().encode(), "t"), recording)


def test_refused() -> None:
    """What a format cannot hold is refused, not bent."""
    changes = Recording("made", "VCD", -5, 5, {"a": Channel("a", np.array([-5]), np.array([1.0]))})
    with pytest.raises(ValueError, match="begins at 0"):
        write_vcd(changes, io.StringIO())
    with pytest.raises(ValueError, match="no samples"):
        write_wide(changes, io.StringIO())
    with pytest.raises(ValueError, match="decimal comma"):
        write_long(changes, io.StringIO(), ",", True)

"""A recording written in any format reads back as it was."""

from __future__ import annotations

from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from boardgauge.traces import Channel, Recording, read_recording
from boardgauge.traces.recording import channel_of
from boardgauge.traces.writing import CannotWrite, target_of, write_recording

digital = st.sampled_from([0.0, 1.0, float("nan")])
analogue = st.one_of(st.floats(allow_infinity=False), st.integers(-5000, 5000).map(float))
words = st.sampled_from(["t", "time_ms", "signal", "value", "boardgauge", "$end", "a b", "a[3:0]", "x;y", "#c", '"', "\\n"])
names = st.one_of(st.from_regex(r"[a-z][a-z0-9_]{0,5}", fullmatch=True), st.text(min_size=1, max_size=6), words)
ENDINGS = [
    (ending, shape)
    for ending in ("csv", "tsv", "jsonl", "parquet", "arrow", "arrows")
    for shape in (None, "wide", "long")
] + [("vcd", None)]


@st.composite
def recordings(draw: st.DrawFn) -> Recording:
    """Any recording: sampled or of changes, before 0 too, with names and numbers of any kind."""
    steps = draw(st.lists(st.integers(1, 10**7) | st.just(1000), max_size=12))
    start = draw(st.integers(-(10**9), 10**9) | st.just(0))
    times = np.cumsum(np.array([start, *steps], dtype=np.int64))
    channels: dict[str, Channel] = {}
    for name in draw(st.lists(names, min_size=1, max_size=4, unique=True)):
        kind = draw(st.sampled_from([digital, analogue]))
        values = draw(st.lists(kind, min_size=len(times), max_size=len(times)))
        channels[name] = channel_of(name, times, np.array(values))
    paths = {f"bench.{name}": name for name in channels} if draw(st.booleans()) else {}
    samples = times if draw(st.booleans()) else None
    rounded = draw(st.booleans())
    return Recording("made", "VCD", int(times[0]), int(times[-1]), channels, samples, rounded, paths)


def same(one: Recording, other: Recording) -> None:
    """Hold two recordings equal in all that they say of the bench."""
    assert (one.start, one.end, one.rounded) == (other.start, other.end, other.rounded)
    assert one.channels == other.channels
    assert (one.samples is None) == (other.samples is None)
    assert one.samples is None or other.samples is None or np.array_equal(one.samples, other.samples)
    assert other.paths.items() <= one.paths.items()


def there_and_back(recording: Recording, ending: str, shape: str | None, **more: object) -> Recording:
    """Write a recording and read it."""
    with TemporaryDirectory() as folder:
        path = Path(folder, f"made.{ending}")
        write_recording(recording, path, shape, **more)  # type: ignore[arg-type]
        return read_recording(path)


@given(st.sampled_from(ENDINGS), recordings())
def test_nothing_is_lost(target: tuple[str, str | None], recording: Recording) -> None:
    """In every format and shape: channels, times, samples, start, end, full names, and that times were rounded."""
    same(there_and_back(recording, *target), recording)

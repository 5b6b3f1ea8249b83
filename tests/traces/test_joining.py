"""A recording taken in parts is the recording: nothing is lost where they meet, nothing made up where they do not."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from attrs import evolve
from hypothesis import given
from hypothesis import strategies as st

from boardgauge.traces import Channel, Recording, UnreadableRecording
from boardgauge.traces.joining import join


def recording(changes: list[tuple[int, int]], end: int, samples: list[int] | None = None) -> Recording:
    times = np.array([time for time, _ in changes], np.int64)
    channel = Channel("a", times, np.array([value for _, value in changes], np.float64))
    rows = None if samples is None else np.array(samples, np.int64)
    return Recording("made.vcd", "VCD", int(times[0]), end, {"a": channel}, rows)


def part(whole: Recording, begin: int, end: int) -> Recording:
    """Give the recording from begin to end, as a recorder that was started and stopped then would have made it."""
    channel = whole.channels["a"]
    inside = (channel.times > begin) & (channel.times <= end)
    value = channel.values[int(np.searchsorted(channel.times, begin, side="right")) - 1]
    times = np.concatenate(([begin], channel.times[inside])).astype(np.int64)
    made = Channel("a", times, np.concatenate(([value], channel.values[inside])))
    return evolve(whole, start=begin, end=end, channels={"a": made})


@given(
    gaps=st.lists(st.integers(1, 50), min_size=1, max_size=12),
    cuts=st.lists(st.integers(1, 500), max_size=4, unique=True),
)
def test_parts_that_meet_make_the_whole(gaps: list[int], cuts: list[int]) -> None:
    times = np.cumsum([0, *gaps]).tolist()
    whole = recording([(time, index % 2) for index, time in enumerate(times)], times[-1] + 10)
    borders = [0, *sorted(cut for cut in cuts if cut < whole.end), whole.end]
    joined = join([part(whole, a, b) for a, b in pairwise(borders)])
    assert joined.channels["a"].times.tolist() == whole.channels["a"].times.tolist()
    assert joined.channels["a"].values.tolist() == whole.channels["a"].values.tolist()
    assert (joined.start, joined.end) == (whole.start, whole.end)


def test_between_parts_that_do_not_meet_nothing_is_known() -> None:
    joined = join([recording([(0, 1)], 10), recording([(30, 1)], 40)])
    assert joined.channels["a"].times.tolist() == [0, 10, 30]
    assert np.isnan(joined.channels["a"].values[1])


def test_parts_of_a_sampled_recording_meet_from_sample_to_sample() -> None:
    first, second = recording([(0, 1)], 20, [0, 10, 20]), recording([(30, 1)], 50, [30, 40, 50])
    joined = join([first, second])
    assert joined.channels["a"].times.tolist() == [0]
    assert joined.samples is not None
    assert joined.samples.tolist() == [0, 10, 20, 30, 40, 50]


def test_parts_over_one_another_are_refused() -> None:
    with pytest.raises(UnreadableRecording, match="before"):
        join([recording([(0, 1)], 20), recording([(10, 1)], 40)])

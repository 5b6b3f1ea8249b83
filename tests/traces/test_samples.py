"""Law: folded sample times answer every question as the plain array of them does."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from boardgauge.traces import samples as samples_module
from boardgauge.traces.samples import GrowingSamples, Samples, Times, samples_of

regular = st.builds(lambda step, count: [step] * count, st.integers(1, 50), st.integers(1, 12))
ragged = st.lists(st.integers(1, 400), min_size=1, max_size=8)
steps_of = st.lists(st.one_of(regular, ragged), max_size=5).map(lambda parts: [s for part in parts for s in part])


@st.composite
def folded(draw: st.DrawFn) -> tuple[Samples, Times]:
    """Draw sample times, added in blocks, and the plain array."""
    times = np.cumsum([draw(st.integers(-1000, 1000)), *draw(steps_of)])
    growing = GrowingSamples()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(samples_module, "_PIECE", draw(st.integers(1, 20)))
        for block in np.array_split(times, draw(st.integers(1, 5))):
            growing.add(block)
    return growing.samples(), times


asked = st.lists(st.integers(-1500, 6000), min_size=1, max_size=10).map(np.array)


@given(folded(), asked, st.integers(0, 500))
def test_folded_is_as_plain(both: tuple[Samples, Times], times: Times, limit: int) -> None:
    """Length, places, neighbours and gaps are those of the array."""
    found, plain = both
    assert len(found) == len(plain)
    assert found.tolist() == np.asarray(found).tolist() == plain.tolist()
    assert [found[i] for i in range(-len(plain), len(plain))] == [*plain.tolist(), *plain.tolist()]
    assert found[1:].tolist() == plain[1:].tolist()
    assert (found - 7).tolist() == (plain - 7).tolist()
    for side in ("left", "right"):
        assert found.searchsorted(times, side).tolist() == np.searchsorted(plain, times, side).tolist()
    for time in times.tolist():
        before, after = plain[plain < time], plain[plain >= time]
        assert found.before(np.array([time]))[0] == (before[-1] if len(before) else time)
        assert found.next_from(time) == (after[0] if len(after) else None)
        later = plain[plain > time]
        assert found.after(np.array([time]))[0] == (later[0] if len(later) else time)
    widths = np.diff(plain)
    assert found.longest_gap == (widths.max() if len(widths) else 0)
    begins, ends = found.gaps(limit)
    wide = np.flatnonzero(widths > limit)
    assert (begins.tolist(), ends.tolist()) == (plain[wide].tolist(), plain[wide + 1].tolist())


@given(folded(), asked, st.integers(0, 300), st.integers(0, 500))
def test_wide_gaps_in_a_stretch(both: tuple[Samples, Times], first: Times, length: int, limit: int) -> None:
    """A gap counts for a stretch if part of it lies inside."""
    found, plain = both
    last = first + 1 + length
    wide = [(a, b) for a, b in zip(plain[:-1].tolist(), plain[1:].tolist(), strict=True) if b - a > limit]
    counts = [sum(b > f and a < t for a, b in wide) for f, t in zip(first.tolist(), last.tolist(), strict=True)]
    assert np.maximum(found.wide_gaps(limit, first, last), 0).tolist() == counts


def test_a_regular_recording_is_three_numbers() -> None:
    """However long it goes on; a lost row costs a few bytes."""
    growing = GrowingSamples()
    for block in range(50):
        growing.add(np.arange(block * 1000, block * 1000 + 1000) * 1000)
    growing.add(np.array([51_000_000, 51_001_000, 51_002_000]))
    assert [p.count for p in growing.samples()._pieces] == [50_000, 3]


def test_an_array_is_folded() -> None:
    """And what is folded, or none, stays as it is."""
    found = samples_of(np.array([0, 10, 20, 35]))
    assert found is not None
    assert samples_of(found) is found
    assert samples_of(None) is None
    with pytest.raises(IndexError, match="no sample 4"):
        found[4]

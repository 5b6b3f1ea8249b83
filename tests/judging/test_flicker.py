"""Law: flicker that nobody saw widens a change as far as the filter would take both for one, and no further."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from boardgauge.judging.flicker import flickering
from boardgauge.language.quantities import TimeRange
from boardgauge.traces.samples import GrowingSamples, Samples, samples_of
from boardgauge.traces.wave import Wave

FILTER = TimeRange(5, 30)


def seen_at(samples: Samples, places: list[int], initial: bool = False) -> Wave:
    """Give a signal that changes at these samples, each some time after the sample before."""
    index = np.array(places, dtype=np.int64)
    late, early = samples.take(index), samples.take(index - 1)
    values = np.array([(initial + 1 + n) % 2 for n in range(len(places))], dtype=np.int8)
    return Wave("x", "x", initial, early, late, late, values, early, late)


@given(
    st.lists(st.integers(1, 40), min_size=3, max_size=20),
    st.sets(st.integers(1, 19), min_size=1, max_size=5),
    st.integers(0, 40),
    st.integers(1, 60),
)
def test_a_change_is_wider_by_the_gaps_beside_it(
    steps: list[int], places: set[int], least_pulse: int, least: int
) -> None:
    """As far as the gap just beside it, or that in which a bounce less than the filter's first time off would be, where
    more fits into it than a pulse that is always caught; and never past another change that was seen."""
    times = [0, *np.cumsum(steps).tolist()]
    samples = samples_of(np.array(times))
    assert samples is not None
    changed = sorted({place for place in places if place < len(times)} or {1})
    found = flickering(seen_at(samples, changed), samples, least_pulse, [], TimeRange(least, least + 30))
    gaps = [(a, b) for a, b in pairwise(times) if b - a > least_pulse]
    for row, place in enumerate(changed):
        early, late = times[place - 1], times[place]
        far_early, far_late = max(early - (least - 1), 1), min(late + (least - 1), times[-1] - 1)
        before = [a for a, b in gaps if a < early <= b or (early > 0 and a < far_early <= min(b, early))]
        behind = [b for a, b in gaps if a <= late < b or (late < times[-1] and max(a, late) <= far_late < b)]
        low = times[changed[row - 1]] if row else 0
        high = times[changed[row + 1] - 1] if row + 1 < len(changed) else times[-1]
        assert found.earliest[row] == min(early, max([low, *before[:1]] if before else [early]))
        assert found.latest[row] == max(late, min([high, *behind[-1:]] if behind else [late]))


def test_no_filter_takes_flicker_for_a_part_of_a_change() -> None:
    samples = samples_of(np.arange(0, 100, 10))
    assert samples is not None
    wave = seen_at(samples, [5])
    assert flickering(wave, samples, 0, [], TimeRange()) is wave
    assert flickering(wave, None, 0, [], FILTER) is wave


def test_where_whole_pulses_are_supposed_no_bounce_reaches() -> None:
    samples = samples_of(np.arange(0, 100, 10))
    assert samples is not None
    found = flickering(seen_at(samples, [5]), samples, 0, [(30, 40), (50, 60)], FILTER)
    assert (found.earliest.tolist(), found.latest.tolist()) == ([40], [50])


def test_as_many_samples_as_there_are_take_no_memory() -> None:
    """Ten thousand million of them, of which nobody could list the gaps."""
    growing = GrowingSamples()
    growing.add(np.array([0]))
    growing.add_evenly(10, 10**10)
    samples = growing.samples()
    found = flickering(seen_at(samples, [10**9]), samples, 0, [], FILTER)
    assert (found.earliest.tolist(), found.latest.tolist()) == ([10**10 - 20], [10**10 + 10])

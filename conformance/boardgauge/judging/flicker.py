"""What flicker that nobody saw makes of the changes that were seen.

Law of this module: a change only ever gets wider. A contact that bounces between two samples leaves no trace, but a
board's filter takes it for a part of a change that comes soon after or before: the flip that counts then lies in the
gap of the bounce.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from attrs import evolve

from boardgauge.judging.clocks import LONG
from boardgauge.language.quantities import TimeRange
from boardgauge.traces.samples import Samples, Times
from boardgauge.traces.wave import Wave

Gaps = Sequence[tuple[int, int]]


def flickering(wave: Wave, samples: Samples | None, least_pulse: int, wide: Gaps, ignores: TimeRange) -> Wave:
    """Give the wave with each change as wide as a bounce before it or behind it may make it, so near that the filter
    takes both for one change.

    Between two samples no further apart than ``least_pulse`` nothing hides. ``wide`` are the stretches in which whole
    pulses are supposed: into those no bounce reaches, nor past another change that was seen.
    """
    if samples is None or not len(samples) or not ignores.greatest or not len(wave):
        return wave
    begins, ends = np.array([(-LONG, -LONG), *wide, (LONG, LONG)], dtype=np.int64).T
    early, late = wave.earliest, wave.latest
    # A change less than the filter's first time after another counts with it.
    near = max(0, ignores.least - 1)
    first, last = _sample_before(samples, early, near, least_pulse), _sample_after(samples, late, near, least_pulse)
    last = np.minimum(last, begins[np.searchsorted(begins, late)])
    first = np.maximum(first, ends[np.searchsorted(ends, early, side="right") - 1])
    last[:-1] = np.minimum(last[:-1], np.maximum(early[1:], late[:-1]))
    first[1:] = np.maximum(first[1:], np.minimum(late[:-1], early[1:]))
    # Of what is not known before or behind a change no flicker is a part.
    known = wave.values >= 0
    known &= np.append(wave.initial is not None, known[:-1])
    return evolve(wave, earliest=np.where(known, first, early), latest=np.where(known, last, late))


def _sample_before(samples: Samples, times: Times, near: int, least_pulse: int) -> Times:
    """Give the sample before what may hide so near before each time, or the time, where nothing does.

    Looked at are the gap so near and the one just before the time.
    """
    found = times
    for asked in (times, np.minimum(times, np.maximum(times - near, _of(samples, 0) + 1))):
        before = samples.before(asked)
        found = np.where(samples.after(asked - 1) - before > least_pulse, before, found)
    return found


def _sample_after(samples: Samples, times: Times, near: int, least_pulse: int) -> Times:
    """Give the sample after what may hide so near behind each time, or the time, where nothing does; as above."""
    found = times
    for asked in (times, np.maximum(times, np.minimum(times + near, _of(samples, len(samples) - 1) - 1))):
        after = samples.after(asked)
        found = np.where(after - samples.before(asked + 1) > least_pulse, after, found)
    return found


def _of(samples: Samples, number: int) -> int:
    return int(samples.take(np.array([number]))[0])

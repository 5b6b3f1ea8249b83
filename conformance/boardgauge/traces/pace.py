"""How a recorder took its samples: how far apart, how evenly, with what gaps.

Law of this module: it describes the times alone; a gap is a step of more than one and a half of the usual ones.
"""

from __future__ import annotations

import numpy as np
from attrs import frozen

from boardgauge.traces.recording import Recording

_FEW = 20
"""With fewer times than this a common step says nothing."""


@frozen
class Pace:
    """The samples of a recording; times in microseconds.

    ``usual`` is the median step; ``least`` and ``greatest`` bound the steps that are no gaps. ``gaps`` counts the
    others, ``longest_gap`` is (when it begins, how long it is), and ``missing`` the time that all of them leave out.
    """

    samples: int
    usual: int
    least: int
    greatest: int
    gaps: int = 0
    longest_gap: tuple[int, int] | None = None
    missing: int = 0


def pace_of(recording: Recording) -> Pace | None:
    """Describe the samples of a recording; None for one of changes, or with a single sample."""
    if recording.samples is None or len(recording.samples) < 2:
        return None
    samples = np.asarray(recording.samples)
    steps = np.diff(samples)
    usual = int(np.median(steps))
    wide = steps > usual * 3 // 2
    if np.all(wide):
        wide = np.zeros(len(steps), dtype=bool)
    normal = steps[~wide]
    gaps = np.flatnonzero(wide)
    longest = None
    if len(gaps):
        place = int(gaps[np.argmax(steps[gaps])])
        longest = (int(samples[place]), int(steps[place]))
    missing = int(steps[gaps].sum() - usual * len(gaps))
    return Pace(len(samples), usual, int(normal.min()), int(normal.max()), len(gaps), longest, missing)


def common_step(recording: Recording) -> int | None:
    """Give the step (microseconds, 1 ms or more) on which every change of a recording of changes falls, None if none.

    Such changes were taken from samples that far apart, so that each is up to a step later than it happened.
    """
    if recording.samples is not None:
        return None
    times = [channel.times for channel in recording.channels.values() if len(channel.times)]
    if not times:
        return None
    moments = np.unique(np.concatenate(times))
    if len(moments) < _FEW:
        return None
    step = int(np.gcd.reduce(np.diff(moments)))
    return step if step >= 1000 else None

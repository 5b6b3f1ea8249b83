"""The input filter for the whole of a long recording at once.

Law of this module: ``filtered_at_once`` gives what ``boardgauge.machine.inputs.filtered`` gives, which is the readable
definition. Most of what a chattering line does is never seen, and of that no object is ever made.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from boardgauge.judging.columns import Changes
from boardgauge.language.quantities import TimeRange
from boardgauge.traces.wave import Wave


def filtered_at_once(
    level: int, wave: Wave, ignores: TimeRange, end: int, comes_on: Sequence[tuple[int, int]] = ()
) -> Changes:
    """Give the changes of one level that a board with this filter may take in, in order of time.

    ``end`` is where the recording ends: what is not over by then may still turn out too short to be seen. ``comes_on``
    are the stretches in each of which the supply comes on.
    """
    early, late, values = wave.earliest, wave.latest, wave.values
    if not len(values):
        return Changes.of(())
    # A burst is a run of changes each of which is surely over too soon to count alone.
    joined = (values[1:] >= 0) & (late[1:] - early[:-1] < ignores.least)
    for begun, over in comes_on:
        joined &= (late[1:] < begun) | (early[:-1] > over)
    first = np.concatenate(([0], np.flatnonzero(~joined) + 1))
    last = np.append(first[1:] - 1, len(values) - 1)
    before = np.where(first > 0, values[first - 1], -1 if wave.initial is None else int(wave.initial))
    begin, over, value = early[first], late[last], values[last]
    burst, span = last > first, over - begin
    news = ~burst | (value != before) | (span >= ignores.least)
    # Of a long burst nobody knows what is made of it before its end.
    doubt = burst & np.where(value != before, span > ignores.greatest, span >= ignores.least)
    kept = np.flatnonzero(news)
    # Each doubt stands before its change, at the moment at which it begins.
    at = np.repeat(kept, 1 + doubt[kept])
    unknown = np.zeros(len(at), dtype=bool)
    unknown[:-1] = at[1:] == at[:-1]
    values = np.where(unknown, -1, value[at]).astype(np.int8)
    begins, ends = begin[at], np.where(unknown, begin[at], over[at])
    until = np.append(begins[1:], end)
    short = (until - ends <= ignores.greatest) & (values >= 0) & (ignores.greatest > 0)
    return Changes.plain(np.full(len(at), level), values, begins, ends, short)


def steady_from(wave: Wave, ignores: TimeRange, start: int) -> int:
    """Give when what a level first is can have come at the latest: at the start, or as the flicker it begins with ends.

    A level that changes so soon after the start that it may have been there too briefly to be seen is in a flicker.
    """
    if not ignores.greatest or not len(wave.earliest):
        return start
    lasted = wave.earliest - np.concatenate(([start], wave.latest[:-1]))
    flips = int(np.append(lasted > ignores.greatest, True).argmax())
    return int(wave.latest[flips - 1]) if flips else start

"""How a channel was picked up: from its values to the levels of a signal, high, low, not known.

Law of this module: what the pickup hides is said to be not known. The ways are a table, ``_WAYS``: another way of
picking up a signal is one more entry.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from boardgauge.traces.line_frequency import without_line_frequency
from boardgauge.traces.recording import Channel, Recording, Times
from boardgauge.traces.wave import Booleans, Levels, Truths, held, levels_of, merged
from boardgauge.traces.wiring import Wire

SAMPLES_A_PERIOD = 4
"""How many samples a period of the line frequency needs: a half-wave pulse lasts more than a quarter of it."""


class Mispicked(Exception):
    """A channel that cannot have been picked up the way its wire says: what is wrong, and what was expected."""

    def __init__(self, what: str, expected: str) -> None:
        self.what, self.expected = what, expected
        super().__init__(what)


def _as_levels(channel: Channel, wire: Wire, recording: Recording) -> Levels:
    values = channel.values
    unknown = np.isnan(values)
    odd = values[~unknown & (values != 0.0) & (values != 1.0)]
    if len(odd):
        raise Mispicked(f"the channel holds {odd[0]:g}, which is neither 0 nor 1", "threshold = a number")
    return levels_of(channel.times, np.where(unknown, -1, values).astype(np.int8))


def _by_threshold(channel: Channel, wire: Wire, recording: Recording) -> Levels:
    assert wire.threshold is not None
    values = channel.values
    half = wire.differential / 2
    unknown = np.isnan(values)
    with np.errstate(invalid="ignore"):
        above = values > float(wire.threshold + half)
        below = values <= float(wire.threshold) if not half else values < float(wire.threshold - half)
    decides = above | below | unknown
    high = held(decides, above, False)
    known = held(decides, ~unknown, False)
    truths: Truths = np.where(known, high, -1).astype(np.int8)
    return levels_of(channel.times, truths)


def _by_line_frequency(channel: Channel, wire: Wire, recording: Recording) -> Levels:
    hertz = wire.line_frequency or 0
    pulses = (
        _by_threshold(channel, wire, recording) if wire.threshold is not None else _as_levels(channel, wire, recording)
    )
    if recording.samples is not None and len(recording.samples) > 1:
        most = 1_000_000 // (SAMPLES_A_PERIOD * hertz)
        gaps = np.diff(recording.samples)
        if np.median(gaps) > most:
            what = f"samples {np.median(gaps) / 1000:g} ms apart cannot show pulses of {hertz} Hz"
            raise Mispicked(what, f"samples at most {most / 1000:g} ms apart")
        pulses = _unknown_inside(pulses, recording.samples, gaps > most)
    return without_line_frequency(pulses, hertz, recording.start, recording.end)


def _unknown_inside(levels: Levels, samples: Times, wide: Booleans) -> Levels:
    """Take the level as not known in gaps between samples in which a pulse may have been lost."""
    index = np.flatnonzero(wide)
    if not len(index):
        return levels
    begins, ends = samples[index], samples[index + 1]
    times = merged(levels.times, begins, ends)
    # At the begin of a gap nothing is known any more; at its end, the level is that of the sample there.
    truths = np.where(np.isin(times, begins), -1, levels.before(times)).astype(np.int8)
    return levels_of(times, truths)


_WAYS: tuple[tuple[Callable[[Wire], bool], Callable[[Channel, Wire, Recording], Levels]], ...] = (
    (lambda wire: wire.line_frequency is not None, _by_line_frequency),
    (lambda wire: wire.threshold is not None, _by_threshold),
    (lambda wire: True, _as_levels),
)


def levels_picked_up(channel: Channel, wire: Wire, recording: Recording) -> Levels:
    """Give the levels of a channel, picked up the way its wire says. Raises Mispicked where it cannot have been so."""
    way = next(way for fits, way in _WAYS if fits(wire))
    return way(channel, wire, recording)

"""How a channel was picked up: from its values to the levels of a signal, high, low, not known.

Law of this module: what the pickup hides is said to be not known, or told to be hidden. The ways are a table,
``_WAYS``: another way of picking up a signal is one more entry.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from attrs import evolve, frozen

from boardgauge.traces import line_faults
from boardgauge.traces.brightness import lit_and_dark
from boardgauge.traces.line_frequency import Line, without_line_frequency
from boardgauge.traces.line_samples import line_sampled
from boardgauge.traces.recording import Channel, Recording, Times, Values
from boardgauge.traces.remarks import Finding
from boardgauge.traces.wave import NONE, Booleans, Levels, Truths, held, levels_of
from boardgauge.traces.wiring import Wire

NOISE_CHANGES = 6
NOISE_WITHIN = 20_000
"""A measured level that crosses its threshold so often, each time within so many microseconds, is told as noisy."""


class Mispicked(Exception):
    """A channel that cannot have been picked up the way its wire says: what is wrong, and what was expected."""

    def __init__(self, what: str, expected: str) -> None:
        self.what, self.expected = what, expected
        super().__init__(what)


@frozen(eq=False)
class Picked:
    """The levels of a channel; what to tell of them; and what they hide.

    A coming and going shorter than ``hides`` shows nowhere; between ``hidden_from[i]`` and ``hidden_to[i]`` the level
    may have changed and changed back.
    """

    levels: Levels
    findings: tuple[Finding, ...] = ()
    hides: int = 0
    hidden_from: Times = NONE
    hidden_to: Times = NONE


def _as_levels(channel: Channel, wire: Wire, recording: Recording, longest: int) -> Picked:
    return Picked(levels_of(channel.times, _truths(channel)))


def _truths(channel: Channel) -> Truths:
    values = channel.values
    unknown = np.isnan(values)
    odd = values[~unknown & (values != 0.0) & (values != 1.0)]
    if len(odd):
        raise Mispicked(f"the channel holds {odd[0]:g}, which is neither 0 nor 1", "threshold = a number")
    return np.where(unknown, -1, values).astype(np.int8)


def _by_threshold(channel: Channel, wire: Wire, recording: Recording, longest: int) -> Picked:
    assert wire.threshold is not None
    levels = levels_of(channel.times, _above(channel.values, float(wire.threshold), float(wire.differential)))
    findings = line_faults.chatter(levels, NOISE_WITHIN, NOISE_CHANGES)[2]
    # Every crossing was seen, so the level is known; but a person wants to know of the noise.
    return Picked(levels, tuple(evolve(f, text=f"{f.text}, across the threshold") for f in findings))


def _above(values: Values, threshold: float, differential: float) -> Truths:
    above, below, unknown = sides(values, threshold, differential)
    decides = above | below | unknown
    high = held(decides, above, False)
    known = held(decides, ~unknown, False)
    return np.where(known, high, -1).astype(np.int8)


def sides(values: Values, threshold: float, differential: float) -> tuple[Booleans, Booleans, Booleans]:
    """Tell where values are above a threshold, where below it (with a differential: clear of it), where not known."""
    with np.errstate(invalid="ignore"):
        above = values > threshold + differential / 2
        below = values <= threshold if not differential else values < threshold - differential / 2
    return above, below, np.isnan(values)


def _by_line_frequency(channel: Channel, wire: Wire, recording: Recording, longest: int) -> Picked:
    hertz = wire.line_frequency or 0
    # Each sample of a line counts, so their times are unfolded.
    taken = recording.samples
    samples: Times | None = np.asarray(taken) if taken is not None and len(taken) > 1 else None
    times, values = channel.times, channel.values
    if samples is not None:
        index = np.searchsorted(times, samples, side="right") - 1
        times, values = samples, np.where(index >= 0, values[np.maximum(index, 0)] if len(values) else np.nan, np.nan)
    strength: Values | None = None
    if wire.line_threshold is not None:
        strength = np.abs(values - float(wire.midpoint))
        truths = _above(strength, float(wire.line_threshold), float(wire.differential))
    else:
        _truths(channel)
        truths = np.where(np.isnan(values), -1, values).astype(np.int8)
        if wire.at_rest == "high":
            truths = np.where(truths < 0, -1, 1 - truths).astype(np.int8)
    if samples is None:
        line = without_line_frequency(levels_of(times, truths), hertz, recording.start, recording.end)
    else:
        line = line_sampled(times, truths, hertz, recording.start)
    picked = _with_faults(line, wire, times, strength, samples)
    inside = picked.levels.times <= recording.end
    levels = picked.levels
    kept = Levels(levels.times[inside], levels.truths[inside], levels.lead[inside], levels.tail[inside])
    return evolve(picked, levels=kept)


def _with_faults(line: Line, wire: Wire, times: Times, strength: Values | None, samples: Times | None) -> Picked:
    gap = int(np.median(np.diff(samples))) if samples is not None else 0
    findings = list(line.findings)
    levels = line.levels
    # Sampled so far apart, one pulse says nothing of the amplitude or the rate.
    if gap * 4 <= line.period:
        stretches = [line_faults.ragged(line, gap)]
        if strength is not None and wire.brown_out is not None and len(line.rises):
            peaks, apart = _peaks(line, times, strength)
            stretches.append(line_faults.too_low(line, peaks, float(wire.brown_out), gap or apart))
        for begins, ends, told in stretches:
            levels, findings = levels.unknown_between(begins, ends), findings + told
    begins, ends, told = line_faults.chatter(levels, line_faults.CHATTER_PERIODS * line.period)
    levels, findings = levels.unknown_between(begins, ends), findings + told
    # With one pulse missing the line counts as on: what may be hidden is a longer break.
    long = line.bridged_to - line.bridged_from > 2 * line.period
    return Picked(levels, tuple(findings), line.hides, line.bridged_from[long], line.bridged_to[long])


def _peaks(line: Line, times: Times, strength: Values) -> tuple[Values, int]:
    """Give the peak of each pulse, and how far apart (microseconds) the values inside pulses were taken."""
    known = np.where(np.isnan(strength), 0.0, strength)
    first = np.searchsorted(times, line.rises)
    last = np.maximum(np.searchsorted(times, line.falls), first + 1)
    borders = np.column_stack((first, np.minimum(last, len(times)))).ravel()
    if borders[-1] == len(times):
        borders = borders[:-1]
    peaks = np.maximum.reduceat(known, borders)[::2]
    inside = (line.falls - line.rises) / np.maximum(last - first, 1)
    return peaks, int(np.median(inside))


def _by_brightness(channel: Channel, wire: Wire, recording: Recording, longest: int) -> Picked:
    if recording.samples is None:
        raise Mispicked("a brightness is a row of frames, and this recording lists changes", "a wide table")
    frames = np.asarray(recording.samples)
    index = np.searchsorted(channel.times, frames, side="right") - 1
    values = channel.values[np.maximum(index, 0)] if len(channel.values) else np.full(len(frames), np.nan)
    levels = [None if level is None else float(level) for level in (wire.dark_level, wire.lit_level)]
    found, findings = lit_and_dark(frames, np.where(index >= 0, values, np.nan), longest, *levels)
    return Picked(found, tuple(findings))


_WAYS: tuple[tuple[Callable[[Wire], bool], Callable[[Channel, Wire, Recording, int], Picked]], ...] = (
    (lambda wire: wire.brightness, _by_brightness),
    (lambda wire: wire.line_frequency is not None, _by_line_frequency),
    (lambda wire: wire.threshold is not None, _by_threshold),
    (lambda wire: True, _as_levels),
)


def _way(wire: Wire) -> Callable[[Channel, Wire, Recording, int], Picked]:
    return next(way for fits, way in _WAYS if fits(wire))


def compared_only(wire: Wire) -> bool:
    """Tell whether nothing matters of the values of a wire but where ``sides`` puts them."""
    return _way(wire) is _by_threshold


def picked_up(channel: Channel, wire: Wire, recording: Recording, longest: int = 0) -> Picked:
    """Give the levels of a channel, picked up the way its wire says. Raises Mispicked where it cannot have been so.

    ``longest``: of a lamp, the longest part of its patterns (microseconds).
    """
    way = next(way for fits, way in _WAYS if fits(wire))
    return way(channel, wire, recording, longest)

"""What a bench makes of the terminals of a board: AC lines as pulses or volts, samples, jitter, lost rows, bounce, a
clock that is off.

Law of this module: from a recording that is true to the microsecond it makes one that a bench could have made of the
same run, and nothing that none could. All of it is seeded.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from attrs import evolve, frozen

from boardgauge.traces import Recording
from boardgauge.traces.recording import Channel, channel_of

MS = 1_000


@frozen
class Mains:
    """A line: its frequency as it is, the phase of its pulses (in periods), how long they last, what is missing."""

    hertz: float = 60.0
    phase: float = 0.0
    duty: float = 0.4
    full_wave: bool = False
    missing: float = 0.0
    """The share of pulses that are missing, never two in a row."""
    seed: int = 0

    def pulses(self, start: int, end: int) -> tuple[np.ndarray, np.ndarray]:
        """Give the rises and falls of the pulses of a line that is on all the time."""
        period = 1_000_000 / self.hertz / (2 if self.full_wave else 1)
        rises = start + period * (np.arange(-2, (end - start) / period + 2) + self.phase)
        falls = rises + self.duty * period
        gone = np.random.default_rng(self.seed).random(len(rises)) < self.missing
        # With one beside it missing too, it would be a coming and going of the line.
        near = 4 if self.full_wave else 2
        for index in np.flatnonzero(gone):
            gone[index + 1 : index + 1 + near] = False
        return np.round(rises[~gone]).astype(np.int64), np.round(falls[~gone]).astype(np.int64)

    def volts(self, times: np.ndarray, peak: float = 34.0) -> np.ndarray:
        """Give the voltage of a line that is on all the time."""
        return peak * np.sin(2 * np.pi * (times * (self.hertz / 1_000_000) - self.phase))


def on_ac(recording: Recording, names: Iterable[str], mains: Mains, at_rest: int = 0) -> Recording:
    """Give the recording with some channels as the pulses of a line that is on where they were 1."""
    channels = dict(recording.channels)
    for name in names:
        channel = channels[name]
        rises, falls = mains.pulses(recording.start, recording.end)
        edges = np.append(channel.times, recording.end)
        times, values = [np.array([recording.start])], [np.array([0.0])]
        for begin, end, value in zip(edges[:-1], edges[1:], channel.values, strict=True):
            if value != 1:
                continue
            inside = (falls > begin) & (rises < end)
            rise, fall = np.maximum(rises[inside], begin), np.minimum(falls[inside], end)
            times.append(np.column_stack((rise, fall)).ravel())
            values.append(np.tile([1.0, 0.0], len(rise)))
        time, value = np.concatenate(times), np.concatenate(values)
        order = np.argsort(time, kind="stable")
        channels[name] = channel_of(name, time[order], np.abs(value[order] - at_rest))
    return evolve(recording, channels=channels)


def at_samples(recording: Recording, rows: np.ndarray) -> Recording:
    """Give the recording as a logger with these rows would have written it."""
    channels = {}
    for name, channel in recording.channels.items():
        index = np.searchsorted(channel.times, rows, side="right") - 1
        values = np.where(index >= 0, channel.values[np.maximum(index, 0)], np.nan)
        channels[name] = channel_of(name, rows, values)
    return evolve(recording, format="wide CSV", start=int(rows[0]), end=int(rows[-1]), channels=channels, samples=rows)


def as_volts(recording: Recording, truth: Recording, names: Iterable[str], mains: Mains, rectified: bool) -> Recording:
    """Give a sampled recording with some channels as volts of a line that is on where ``truth`` says 1."""
    assert recording.samples is not None
    rows = np.asarray(recording.samples)
    channels = dict(recording.channels)
    noise = np.random.default_rng(mains.seed)
    for name in names:
        channel = truth.channels[name]
        on = channel.values[np.searchsorted(channel.times, rows, side="right") - 1] == 1
        volts = np.where(on, mains.volts(rows), 0.0) + noise.normal(0, 0.3, len(rows))
        channels[name] = channel_of(name, rows, np.abs(volts) if rectified else volts)
    return evolve(recording, channels=channels)


def rows_of(recording: Recording, rate: float, seed: int, jitter: int = 0, lost: float = 0.0) -> np.ndarray:
    """Give the times of the rows of a logger: at a rate (Hz), each off by up to ``jitter`` us, a share of them lost."""
    chance = np.random.default_rng(seed)
    gap = round(1_000_000 / rate)
    rows = np.arange(recording.start + int(chance.integers(0, gap)), recording.end, gap, dtype=np.int64)
    if jitter:
        rows = rows + chance.integers(-jitter, jitter + 1, len(rows))
        rows = np.maximum.accumulate(np.maximum(rows, recording.start))
        rows = rows[np.diff(rows, prepend=-1) > 0]
    if lost:
        rows = rows[chance.random(len(rows)) >= lost]
    return rows


def bounced(recording: Recording, names: Iterable[str], most: int, seed: int) -> Recording:
    """Give the recording with each change of some channels followed by a bounce that is over within ``most`` us."""
    chance = np.random.default_rng(seed)
    channels = dict(recording.channels)
    for name in names:
        channel = channels[name]
        times, values = [channel.times[:1]], [channel.values[:1]]
        limits = np.append(channel.times[1:], recording.end)
        for at, limit, value in zip(channel.times[1:], limits[1:], channel.values[1:], strict=True):
            room = min(most, int(limit - at) - 1)
            extra = np.sort(chance.integers(1, max(2, room), 2 * int(chance.integers(0, 4)))) if room > 8 else []
            extra = np.unique(extra)
            extra = extra[: len(extra) // 2 * 2]
            times.append(np.concatenate(([at], at + extra)).astype(np.int64))
            values.append(np.concatenate(([value], np.tile([1 - value, value], len(extra) // 2))))
        channels[name] = channel_of(name, np.concatenate(times), np.concatenate(values))
    return evolve(recording, channels=channels)


def with_clock(recording: Recording, rate: float) -> Recording:
    """Give the recording of a recorder whose clock runs at this rate of the true one."""

    def moved(times: np.ndarray) -> np.ndarray:
        return np.round(recording.start + (times - recording.start) * rate).astype(np.int64)

    channels = {n: Channel(n, moved(c.times), c.values) for n, c in recording.channels.items()}
    channels = {n: channel_of(n, c.times, c.values) for n, c in channels.items()}
    rows = None if recording.samples is None else moved(np.asarray(recording.samples))
    end = int(moved(np.array([recording.end]))[0])
    return evolve(recording, channels=channels, end=end, samples=rows)


def skewed(recording: Recording, names: Iterable[str], by: int) -> Recording:
    """Give the recording with some channels late (or, below 0, early) by so many microseconds."""
    channels = dict(recording.channels)
    for name in names:
        channel = channels[name]
        times = np.concatenate((channel.times[:1], np.clip(channel.times[1:] + by, recording.start, recording.end)))
        channels[name] = channel_of(name, times, channel.values)
    return evolve(recording, channels=channels)

"""Join recordings that follow one another, as a logger leaves them when it begins a new file.

Law of this module: nothing is made up. Between the end of one part and the start of the next no channel is known,
unless they meet; a part that begins before the one before it has ended cannot be joined.
"""

from __future__ import annotations

from collections.abc import Sequence
from hashlib import sha256
from itertools import pairwise

import numpy as np

from boardgauge.traces.errors import UnreadableRecording
from boardgauge.traces.recording import Channel, Recording, channel_of
from boardgauge.traces.samples import GrowingSamples, Samples


def join(parts: Sequence[Recording]) -> Recording:
    """Give one recording of several, in the order of time. Raises UnreadableRecording where they do not fit."""
    ordered = sorted(parts, key=lambda part: part.start)
    first = ordered[0]
    if len(ordered) == 1:
        return first
    for before, after in pairwise(ordered):
        if after.start < before.end:
            raise UnreadableRecording(
                after.file,
                f"it begins at {after.start / 1_000_000} s, before {before.file} ends at {before.end / 1_000_000} s",
                expected="parts that follow one another, all with one zero of time",
            )
        if (before.samples is None) != (after.samples is None):
            raise UnreadableRecording(
                after.file, f"it is a {after.format} and {before.file} a {before.format}", expected="parts of one kind"
            )
    names = dict.fromkeys(name for part in ordered for name in part.channels)
    samples = [part.samples for part in ordered if part.samples is not None]
    return Recording(
        f"{first.file} and {len(ordered) - 1} more",
        first.format,
        first.start,
        ordered[-1].end,
        {name: _joined(name, ordered) for name in names},
        _joined_samples(samples) if samples else None,
        any(part.rounded for part in ordered),
        first.paths,
        sha256("".join(part.sha256 for part in ordered).encode()).hexdigest(),
    )


def _joined_samples(parts: Sequence[Samples]) -> Samples:
    """Give the samples of all parts; where two meet, the one they share stands once."""
    growing = GrowingSamples()
    for before, after in pairwise((None, *parts)):
        assert after is not None
        for times in after.pieces():
            growing.add(times[1:] if before is not None and len(before) and times[0] == before[-1] else times)
    return growing.samples()


def _joined(name: str, parts: Sequence[Recording]) -> Channel:
    times, values = [], []
    for index, part in enumerate(parts):
        channel = part.channels.get(name)
        if channel is not None:
            times.append(channel.times)
            values.append(channel.values)
        following = parts[index + 1] if index + 1 < len(parts) else None
        if following is not None and (channel is None or _apart(part, following)):
            times.append(np.array([part.end], np.int64))
            values.append(np.array([np.nan]))
    return channel_of(name, np.concatenate(times), np.concatenate(values))


def _apart(before: Recording, after: Recording) -> bool:
    """Tell whether something is missing between two parts: they do not meet, or not as closely as their samples."""
    if before.samples is None or len(before.samples) < 2:
        return after.start > before.end
    return after.start - before.end > before.samples.longest_gap

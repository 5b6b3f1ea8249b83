"""Recordings cut short: as if the recorder had been put on later."""

from __future__ import annotations

import numpy as np
from attrs import evolve

from boardgauge.traces import Channel, Recording


def cut(recording: Recording, time: int) -> Recording:
    """Give the recording as if it had begun later."""
    channels = {}
    for name, channel in recording.channels.items():
        first = int(np.searchsorted(channel.times, time, side="right")) - 1
        times = np.concatenate(([time], channel.times[first + 1 :])).astype(np.int64)
        channels[name] = Channel(name, times, np.concatenate(([channel.values[first]], channel.values[first + 1 :])))
    return evolve(recording, start=time, channels=channels)

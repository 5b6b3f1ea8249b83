"""The edges that the nominal runs step over, and the figures they all use.

Law of this module: the three nominal runs (plain Python, the C loop, the ``transitions`` library) do one and the same
thing: every timing at its nominal, inputs taken in 95 ms after they changed for good, lit and dark parts of the lamp
sorted and counted. They end with one and the same tally, which the benchmark checks; unlike the judge they allow for no
tolerance, lag or doubt.
"""

from __future__ import annotations

import numpy as np

from boardgauge.traces import Trace

SIGNALS = ("power", "y", "o", "lps", "hps", "cold", "warm", "j0", "j1", "cc", "fan", "rv", "aux", "alm", "led")
POWER, Y, COOLS, LPS, HPS, COLD, WARM, J0, J1, CC = range(10)
LED = len(SIGNALS) - 1
NEVER = 1 << 62

TAKES_IN, POWER_UP, RESTART, BYPASS, LP_TRIP, DEFROST = (
    95_000,
    30_000_000,
    45_000_000,
    20_000_000,
    2_000_000,
    90_000_000,
)
INTERVALS = (720_000_000, 480_000_000, 300_000_000, 180_000_000)
"""By the jumpers: both open, j0 fitted, j1 fitted, both."""
HOUR = 3_600_000_000
QUICK, SLOW, PAUSE = 175_000, 600_000, 875_000
"""A lit part up to the first is of the waiting pattern, beyond the second of the running one; a dark part beyond the
third ends a group of flashes."""

TALLY = ("cc", "fan", "rv", "aux", "alm", "seen", "quick", "slow", *(f"{n} flashes" for n in range(1, 8)))


def edges_of(trace: Trace) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Give times, signal numbers and values of all edges in order, what holds at the start first."""
    times, numbers, values = [], [], []
    for number, name in enumerate(SIGNALS):
        wave = trace.waves[name]
        times += [np.array([trace.start]), wave.recorded]
        values += [np.array([wave.initial is True]), wave.values == 1]
        numbers.append(np.full(len(wave) + 1, number, dtype=np.int64))
    time = np.concatenate(times).astype(np.int64)
    order = np.argsort(time, kind="stable")
    return time[order], np.concatenate(numbers)[order], np.concatenate(values)[order].astype(np.int64)

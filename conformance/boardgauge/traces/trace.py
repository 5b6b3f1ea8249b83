"""What a judge reads: the signals of a board over time, each as far as the recording fixes it.

Law of this module: a trace speaks in the board's words. Levels, inversion, unpowered pins and contact bounce are
behind it; the board's own input filter and timings are still ahead.
"""

from __future__ import annotations

from fractions import Fraction

import numpy as np
from attrs import evolve, field, frozen

from boardgauge.traces.recording import Times
from boardgauge.traces.sensor import Reading
from boardgauge.traces.wave import Wave, merged

NEVER = 2**62
"""A time after every recording."""


@frozen(eq=False)
class Trace:
    """A recording conditioned for one board; times in microseconds, as in the file.

    ``waves`` has a wave for ``power`` and for each input (but sensors), output and lamp of the board that is wired;
    ``readings`` has the sensors. ``unwired`` lists the board's signals without a channel, ``ignored`` the channels
    without a signal. Without a channel for it, power is taken to be on throughout (and is listed in ``unwired``).
    ``settings`` are the positions by name that the wiring fixes.

    ``samples`` are the sampling times, None if the recording lists changes. ``late`` is how much later than it says a
    recorded time may be, apart from sampling. ``least_pulse`` is the shortest pulse the recorder catches between
    samples, None if it catches none. ``clock_error`` is how far the recorder's clock may be off, as a fraction; the
    intervals of the waves already hold it.
    """

    board: str
    file: str
    sha256: str
    start: int
    end: int
    waves: dict[str, Wave]
    readings: dict[str, Reading] = field(factory=dict)
    samples: Times | None = None
    late: int = 0
    least_pulse: int | None = None
    clock_error: Fraction = Fraction(0)
    unwired: tuple[str, ...] = ()
    ignored: tuple[str, ...] = ()
    settings: dict[str, str] = field(factory=dict)
    measured: Trace | None = None
    """Of a nominal trace, the trace with its uncertainty."""

    @property
    def power(self) -> Wave:
        """The supply: on, off, not known."""
        return self.waves["power"]

    def seen_by(self, time: int) -> int:
        """Give the recorded time by which a change at a true time, if it lasts, shows: NEVER if after the last sample.

        In a recording of changes that is the time itself, in a sampled one the next sample; in both, later by what
        the recorder's clock and skew may make of it.
        """
        drift = -(-abs(time - self.start) * self.clock_error.numerator // self.clock_error.denominator)
        time += self.late + drift
        if self.samples is None:
            return time
        index = int(np.searchsorted(self.samples, time))
        return int(self.samples[index]) if index < len(self.samples) else NEVER

    @property
    def longest_gap(self) -> int:
        """The longest time between two samples; 0 in a recording of changes."""
        return int(np.diff(self.samples).max()) if self.samples is not None and len(self.samples) > 1 else 0

    def gaps(self, longer_than: int) -> list[tuple[int, int]]:
        """Give the pairs of neighbouring samples further apart than this, between which a pulse could hide.

        A declared least pulse shortens what can hide: a gap no longer than it hides nothing.
        """
        if self.samples is None:
            return []
        width = np.diff(self.samples)
        found = np.flatnonzero(width > max(longer_than, self.least_pulse or 0))
        return list(zip(self.samples[found].tolist(), self.samples[found + 1].tolist(), strict=True))

    def blinded(self, signal: str, longer_than: int) -> Wave:
        """Give the wave with "not known" inside every gap between samples that could hide a pulse of this length."""
        wave = self.waves[signal]
        gaps = self.gaps(longer_than)
        if not gaps:
            return wave
        begins, ends = np.array(gaps, dtype=np.int64).T
        return _with_gaps(wave, begins, ends)

    def nominal(self) -> Trace:
        """Give the same trace with every change at its recorded time, as if measured without uncertainty."""
        return evolve(
            self,
            waves={name: wave.nominal() for name, wave in self.waves.items()},
            readings={name: reading.nominal() for name, reading in self.readings.items()},
            samples=None,
            late=0,
            clock_error=Fraction(0),
            measured=self.measured or self,
        )


def _with_gaps(wave: Wave, begins: Times, ends: Times) -> Wave:
    """Give the wave with "not known" from each begin to the end that belongs to it; the gaps do not overlap."""
    times = merged(wave.recorded, begins, ends)
    inside = np.searchsorted(begins, times, side="right") > np.searchsorted(ends, times, side="right")
    index = np.searchsorted(wave.recorded, times, side="right") - 1
    initial = -1 if wave.initial is None else int(wave.initial)
    values = np.concatenate((np.array([initial], dtype=np.int8), wave.values))[index + 1]
    values = np.where(inside, -1, values).astype(np.int8)
    # A change keeps its interval unless it begins or ends a gap: those are known to the moment.
    changed = np.isin(times, wave.recorded) & ~np.isin(times, begins) & ~np.isin(times, ends)
    early, late = times.copy(), times.copy()
    early[changed], late[changed] = wave.earliest[index[changed]], wave.latest[index[changed]]
    before = np.concatenate((np.array([initial], dtype=np.int8), values[:-1]))
    news = values != before
    early, late, times, values = early[news], late[news], times[news], values[news]
    if len(times):
        early, late = np.maximum.accumulate(early), np.maximum.accumulate(late)
    return Wave(wave.signal, wave.channel, wave.initial, early, late, times, values, early, late)

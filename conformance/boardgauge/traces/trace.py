"""What a judge reads: the signals of a board over time, each as far as the recording fixes it.

Law of this module: a trace speaks in the board's words. Levels, inversion, unpowered pins and contact bounce are
behind it; the board's own input filter and timings are still ahead.
"""

from __future__ import annotations

from fractions import Fraction

import numpy as np
from attrs import evolve, field, frozen

from boardgauge.traces.recording import Times
from boardgauge.traces.remarks import Remark
from boardgauge.traces.samples import Samples, samples_of
from boardgauge.traces.sensor import Reading
from boardgauge.traces.wave import NONE, Wave, merged

NEVER = 2**62
"""A time after every recording."""


@frozen(eq=False)
class Hiding:
    """What the pickup of a signal hides, beside what lies between two samples.

    A coming and going shorter than ``hides`` shows nowhere, in all stretches ``steady_from[i]`` to ``steady_to[i]``; in
    those from ``hidden_from[i]`` to ``hidden_to[i]``, however short, the level may have changed and changed back.
    """

    hides: int
    steady_from: Times
    steady_to: Times
    hidden_from: Times
    hidden_to: Times

    def gaps(self, longer_than: int) -> tuple[Times, Times]:
        """Give the stretches (begins, ends) in which a pulse longer than this may be hidden."""
        if self.hides > longer_than:
            return self.steady_from, self.steady_to
        long = self.hidden_to - self.hidden_from > longer_than
        return self.hidden_from[long], self.hidden_to[long]


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
    samples: Samples | None = field(default=None, converter=samples_of)
    late: int = 0
    least_pulse: int | None = None
    clock_error: Fraction = Fraction(0)
    unwired: tuple[str, ...] = ()
    ignored: tuple[str, ...] = ()
    settings: dict[str, str] = field(factory=dict)
    remarks: tuple[Remark, ...] = ()
    """What a person has to be told about how the channels were picked up."""
    hiding: dict[str, Hiding] = field(factory=dict)
    """Of signals whose pickup hides more than the sampling does."""
    measured: Trace | None = None
    """Of a nominal trace, the trace with its uncertainty."""

    @property
    def power(self) -> Wave:
        """The supply: on, off, not known."""
        return self.waves["power"]

    def seen_by(self, time: int) -> int:
        """Give the time by which a change at a true time, if it lasts, has shown: NEVER if after the last sample.

        That is the latest time that the change in the recording may carry. What the recorder's clock and skew may make
        of a time counts twice: a change may be recorded so much later than it was, and the true time may be so much
        later again than the recorded one. In a sampled recording the next sample lies between the two.
        """
        recorded = self._shifted(time)
        if self.samples is not None:
            seen = self.samples.next_from(recorded)
            if seen is None:
                return NEVER
            recorded = seen
        return self._shifted(recorded)

    def _shifted(self, time: int) -> int:
        """Give a time later by what the recorder's clock, its skew and the pickup may make of it."""
        if not self.clock_error:
            return time + self.late
        drift = -(-abs(time - self.start) * self.clock_error.numerator // self.clock_error.denominator)
        # The error may be a part of either clock: of a clock that runs slow, it is a little more of the true time.
        return time + self.late + drift + -(-drift * self.clock_error.numerator // self.clock_error.denominator)

    @property
    def longest_gap(self) -> int:
        """The longest time between two samples; 0 in a recording of changes."""
        return 0 if self.samples is None else self.samples.longest_gap

    def gaps(self, longer_than: int, signal: str | None = None) -> list[tuple[int, int]]:
        """Give the pairs of neighbouring samples further apart than this, between which a pulse could hide.

        A declared least pulse shortens what can hide: a gap no longer than it hides nothing. With a ``signal``, the
        stretches are among them in which its pickup hides so long a pulse.
        """
        begins, ends = NONE, NONE
        if self.samples is not None:
            begins, ends = self.samples.gaps(max(longer_than, self.least_pulse or 0))
        hiding = self.hiding.get(signal or "")
        if hiding is not None:
            more = hiding.gaps(longer_than)
            begins, ends = _united(np.concatenate((begins, more[0])), np.concatenate((ends, more[1])))
        return list(zip(begins.tolist(), ends.tolist(), strict=True))

    def hides(self, longer_than: int) -> bool:
        """Tell whether a pulse longer than this could hide anywhere, in any signal."""
        sampled = self.longest_gap > max(longer_than, self.least_pulse or 0)
        return sampled or any(len(row.gaps(longer_than)[0]) for row in self.hiding.values())

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
            hiding={},
            measured=self.measured or self,
        )


def _united(begins: Times, ends: Times) -> tuple[Times, Times]:
    """Give the stretches in order, those that overlap as one."""
    keep = ends > begins
    order = np.argsort(begins[keep], kind="stable")
    begins, ends = begins[keep][order], np.maximum.accumulate(ends[keep][order])
    news = np.ones(len(begins), dtype=bool)
    news[1:] = begins[1:] >= ends[:-1]
    return begins[news], ends[np.append(news[1:], True)] if len(ends) else ends


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

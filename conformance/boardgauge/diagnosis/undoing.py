"""Undo on a trace what a fault did to an output, or what came after a moment.

Law of this module: only dropouts are undone, and only short ones: what is left is what the board commanded.
"""

from __future__ import annotations

import numpy as np
from attrs import evolve

from boardgauge.language.quantities import S
from boardgauge.traces.trace import Trace
from boardgauge.traces.wave import Booleans, Wave

LONGEST_DROPOUT = 1 * S
"""A relay that chatters is back within this time; a longer gap is taken for a command."""


def until(trace: Trace, end: int) -> Trace:
    """Give the trace as if the recording had ended earlier."""
    if end >= trace.end:
        return trace
    waves = {name: _kept(wave, wave.recorded <= end) for name, wave in trace.waves.items()}
    readings = {
        name: evolve(row, times=row.times[row.times <= end], raw=row.raw[row.times <= end])
        for name, row in trace.readings.items()
    }
    samples = None if trace.samples is None else np.asarray(trace.samples)
    return evolve(
        trace,
        end=end,
        waves=waves,
        readings=readings,
        samples=None if samples is None else samples[samples <= end],
    )


def without_dropouts(trace: Trace, output: str) -> tuple[Trace, int]:
    """Give the trace with an output's short dropouts filled, and how many there were."""
    wave = trace.waves.get(output)
    if wave is None or len(wave) < 2:
        return trace, 0
    keep = np.ones(len(wave), dtype=bool)
    gaps = wave.recorded[1:] - wave.recorded[:-1]
    short = (wave.values[:-1] == 0) & (wave.values[1:] == 1) & (gaps <= LONGEST_DROPOUT)
    # The first thing that an output does is no dropout: it was off before.
    short &= np.arange(len(short)) > 0 if not wave.initial else np.ones(len(short), dtype=bool)
    where = np.flatnonzero(short)
    keep[where] = keep[where + 1] = False
    smooth = evolve(trace, waves={**trace.waves, output: _kept(wave, keep)})
    last = int(wave.recorded[-1])
    if len(where) and wave.values[-1] == 0 and trace.end - last <= LONGEST_DROPOUT:
        # It may have been one more: the recording ends too soon to tell.
        smooth = until(smooth, last - 1)
    return smooth, len(where)


def with_unknown_ends(trace: Trace, output: str) -> Trace:
    """Give the trace with an output not known, each time that it went off, for as long as a dropout may be.

    What is commanded off in the middle of a dropout shows as off from the beginning of it.
    """
    wave = trace.waves[output]
    off = np.flatnonzero(wave.values == 0)
    # Lost as it went off, at the earliest; found again a dropout later, at the latest.
    values = np.where(wave.values == 0, -1, wave.values).astype(wave.values.dtype)
    lost, own = np.where(wave.values == 0, wave.earliest, wave.latest), wave.own_latest
    found = wave.latest[off] + LONGEST_DROPOUT
    kept = found < np.append(wave.earliest[1:], trace.end)[off]
    where, found = off[kept] + 1, found[kept]
    unknown = evolve(
        wave,
        earliest=np.insert(wave.earliest, where, found),
        latest=np.insert(lost, where, found),
        recorded=np.insert(np.where(wave.values == 0, wave.earliest, wave.recorded), where, found),
        values=np.insert(values, where, 0),
        own_earliest=np.insert(wave.own_earliest, where, found),
        own_latest=np.insert(np.where(wave.values == 0, wave.own_earliest, own), where, found),
    )
    return evolve(trace, waves={**trace.waves, output: unknown})


def off_without_power(trace: Trace, output: str) -> Trace:
    """Give the trace with an output that is on all the time, supply or not, on with the supply only.

    A welded contact carries what it switches, whether or not the board has its own supply.
    """
    wave, power = trace.waves.get(output), trace.power
    if wave is None or wave.initial is not True or len(wave) or not len(power):
        return trace
    return evolve(trace, waves={**trace.waves, output: evolve(power, signal=output, channel=wave.channel)})


def shortest_pulse(trace: Trace, signal: str) -> int | None:
    """Give the shortest time that a signal stayed at a level between two changes; None if it changed once at most."""
    wave = trace.waves.get(signal)
    return None if wave is None or len(wave) < 2 else int((wave.recorded[1:] - wave.recorded[:-1]).min())


def _kept(wave: Wave, keep: Booleans) -> Wave:
    return evolve(
        wave,
        earliest=wave.earliest[keep],
        latest=wave.latest[keep],
        recorded=wave.recorded[keep],
        values=wave.values[keep],
        own_earliest=wave.own_earliest[keep],
        own_latest=wave.own_latest[keep],
    )

"""Undo on a trace what a fault did to an output.

Law of this module: only dropouts are undone, and only short ones: what is left is what the board commanded.
"""

from __future__ import annotations

import numpy as np
from attrs import evolve

from boardgauge.language.quantities import S
from boardgauge.traces.trace import Trace

LONGEST_DROPOUT = 1 * S
"""A relay that chatters is back within this time; a longer gap is taken for a command."""


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
    smooth = evolve(
        wave,
        earliest=wave.earliest[keep],
        latest=wave.latest[keep],
        recorded=wave.recorded[keep],
        values=wave.values[keep],
        own_earliest=wave.own_earliest[keep],
        own_latest=wave.own_latest[keep],
    )
    return evolve(trace, waves={**trace.waves, output: smooth}), len(where)

"""What flicker that nobody saw makes of the changes that were seen.

Law of this module: a change only ever gets wider. A contact that bounces between two samples leaves no trace, but a
board's filter takes it for a part of the change beside it: the flip that counts then lies in the gap of the bounce.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from attrs import evolve

from boardgauge.judging.clocks import LONG
from boardgauge.language.quantities import TimeRange
from boardgauge.traces.wave import Wave

Gaps = Sequence[tuple[int, int]]


def flickering(wave: Wave, gaps: Gaps, wide: Gaps, ignores: TimeRange) -> Wave:
    """Give the wave with each change as wide as a bounce in the gap just before it or just behind it may make it.

    ``gaps`` are the pairs of neighbouring samples between which something could hide, ``wide`` the stretches in which
    whole pulses are supposed: into those no bounce reaches, nor past another change that was seen.
    """
    if not gaps or not ignores.greatest or not len(wave):
        return wave
    begins, ends = np.array([(-LONG, -LONG), *gaps, (LONG, LONG)], dtype=np.int64).T
    wide_begins, wide_ends = np.array([(-LONG, -LONG), *wide, (LONG, LONG)], dtype=np.int64).T
    early, late = wave.earliest, wave.latest
    last = ends[np.searchsorted(begins, late, side="right") - 1]
    last = np.minimum(np.maximum(last, late), wide_begins[np.searchsorted(wide_begins, late)])
    first = begins[np.searchsorted(ends, early)]
    first = np.maximum(np.minimum(first, early), wide_ends[np.searchsorted(wide_ends, early, side="right") - 1])
    last[:-1] = np.minimum(last[:-1], np.maximum(early[1:], late[:-1]))
    first[1:] = np.maximum(first[1:], np.minimum(late[:-1], early[1:]))
    # Of what is not known before or behind a change no flicker is a part.
    known = wave.values >= 0
    known &= np.append(wave.initial is not None, known[:-1])
    return evolve(wave, earliest=np.where(known, first, early), latest=np.where(known, last, late))

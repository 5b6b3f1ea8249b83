"""What was seen of a lamp between two times, in words.

Law of this module: the words know nothing of any table; they come from the lengths of the lit and dark parts alone.
"""

from __future__ import annotations

import numpy as np

from boardgauge.traces.lamp_looks import Indices
from boardgauge.traces.lamp_parts import seconds
from boardgauge.traces.lamp_stretches import Stretches


def seen_between(s: Stretches, begin: int, end: int) -> str:
    """Say what was seen, in words that know nothing of the table."""
    inside = inside_of(s, begin, end)
    whole = np.flatnonzero(s.complete[inside]) + inside.start
    middle = (np.maximum(s.least, 0) + s.most) // 2
    lit, dark = whole[s.value[whole] == 1], whole[s.value[whole] == 0]
    if not len(lit) or not len(dark):
        at = int(np.searchsorted(s.begin_late, (begin + end) // 2, side="right")) - 1
        if end - begin <= 0 or at < 0 or s.value[at] < 0:
            return "too little to say"
        return "lit" if s.value[at] == 1 else "dark"
    lengths = middle[dark]
    short, long = int(np.quantile(lengths, 0.1)), int(np.quantile(lengths, 0.9))
    if long >= 2 * short and len(lengths) >= 2:
        return f"groups of {_numbers(whole, dark[lengths > (short + long) // 2])} flashes"
    return f"{_about(int(np.median(middle[lit])))} lit, {_about(int(np.median(lengths)))} dark"


def inside_of(s: Stretches, begin: int, end: int) -> slice:
    """Give the stretches that lie between two times."""
    first = int(np.searchsorted(s.begin_early, begin))
    return slice(first, max(first, int(np.searchsorted(s.end_late, end, side="right"))))


def _numbers(whole: Indices, pauses: Indices) -> str:
    """Say how many flashes stood between pauses."""
    counts = sorted(set((np.diff(pauses) // 2).tolist()))
    if not counts:
        return f"at least {(len(whole) - len(pauses) + 1) // 2}"
    return " or ".join(map(str, counts)) if len(counts) <= 3 else f"{counts[0]} to {counts[-1]}"


def _about(length: int) -> str:
    return seconds(round(length, -4))

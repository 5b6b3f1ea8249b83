"""An AC signal recorded as one pulse in each period of the line frequency, as on and off.

Law of this module: the line is on from within a period before its first pulse, and off from the end of its last pulse
to within a period after that pulse began. A gap is a missing pulse: more than one and a half periods from rise to rise.
"""

from __future__ import annotations

import numpy as np

from boardgauge.traces.wave import Levels

LINE_TOLERANCE = 1.02
"""The line frequency may be this much lower than its nominal value (common practice, no source)."""


def without_line_frequency(pulses: Levels, hertz: int, start: int, end: int) -> Levels:
    """Give on and off for a line that shows a pulse (level 1) in each period; unknown levels make it unknown.

    Raises nothing: a line that never pulses is off.
    """
    period = int(np.ceil(1_000_000 / hertz * LINE_TOLERANCE))
    most = 3 * period // 2
    pulses = pulses.changes()
    rises = pulses.times[pulses.truths == 1]
    if np.any(pulses.truths < 0) or not len(pulses.times):
        return _with_unknown(pulses, period, most, start, end)
    falls = np.append(pulses.times[1:], end)[pulses.truths == 1]
    return _on_off(rises, falls, period, most, start, end)


def _on_off(rises: np.ndarray, falls: np.ndarray, period: int, most: int, start: int, end: int) -> Levels:
    if not len(rises):
        return _levels([(start, 0, start, start)])
    breaks = np.flatnonzero(np.diff(rises) > np.maximum(most, falls[:-1] - rises[:-1] + most))
    firsts, lasts = np.concatenate(([0], breaks + 1)), np.concatenate((breaks, [len(rises) - 1]))
    rows: list[tuple[int, int, int, int]] = []
    if rises[0] > start + most:
        rows.append((start, 0, start, start))
    for first, last in zip(firsts.tolist(), lasts.tolist(), strict=True):
        rise, fall, last_rise = int(rises[first]), int(falls[last]), int(rises[last])
        rows.append((rise if rows else start, 1, rise - period, rise))
        if end - fall > most:
            rows.append((fall, 0, fall, max(fall, last_rise + period)))
    return _levels(rows)


def _with_unknown(pulses: Levels, period: int, most: int, start: int, end: int) -> Levels:
    """Between unknown stretches the line is worked out piece by piece; without any level at all it is unknown."""
    rows: list[tuple[int, int, int, int]] = []
    times, truths = pulses.times.tolist(), pulses.truths.tolist()
    bounds = [i for i, t in enumerate(truths) if t < 0] + [len(times)]
    since = 0
    for bound in bounds:
        if bound > since:
            stop = times[bound] if bound < len(times) else end
            piece = slice(since, bound)
            high = pulses.truths[piece] == 1
            falls = np.append(pulses.times[piece][1:], stop)[high]
            part = _on_off(pulses.times[piece][high], falls, period, most, times[since], stop)
            rows += zip(part.times.tolist(), part.truths.tolist(), part.lead.tolist(), part.tail.tolist(), strict=True)
        if bound < len(times):
            rows.append((times[bound], -1, times[bound], times[bound]))
        since = bound + 1
    return _levels(rows)


def _levels(rows: list[tuple[int, int, int, int]]) -> Levels:
    table = np.array(rows, dtype=np.int64).reshape(-1, 4)
    return Levels(table[:, 0], table[:, 1].astype(np.int8), table[:, 2], table[:, 3]).changes()

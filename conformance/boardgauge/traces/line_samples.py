"""An AC signal that was sampled, as on and off: also where the samples are further apart than its pulses.

Law of this module: a sample that shows a pulse says that the line was on within a pulse of it; samples that show none
say that it was off only if, taken together, no pulse could have stood between them. Samples a whole period apart, or a
half, or two, never say so: there the line is not known.

A pulse lasts at least ``LEAST_PULSE`` of the period: that of a half-wave above half of its peak. So a row of samples
*covers* the period if the phases at which they were taken leave no gap as long as that, whatever the line frequency is
within its tolerance. The line is off where two such rows, one behind the other, show no pulse: one pulse may be
missing.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from boardgauge.traces.line_frequency import LINE_TOLERANCE, Line, bridged, longest_period
from boardgauge.traces.recording import Times
from boardgauge.traces.remarks import Finding, told
from boardgauge.traces.wave import NONE, Booleans, Levels, Truths

LEAST_PULSE = 1 / 3
"""The shortest pulse, in periods: a half-wave is above half of its peak for a third of the period."""
DENSE = 0.3
"""Samples this far apart (in periods), or less, cover a period by following one another."""
_NUMBERS = (3, 4, 5, 6, 7, 8, 9, 10, 12, 14, 16, 20, 24, 32, 40, 50, 64)
"""How many samples are tried as a row where they are further apart."""
_CHUNK = 20_000
ALONE = 20
"""Between two stretches that are not known, so many periods of a known level are not worth telling apart."""

Indices = npt.NDArray[np.intp]


class _Rows:
    """The rows of samples that cover the period: row k is of the samples ``first[k]`` to ``last[k]``."""

    def __init__(self, times: Times, hertz: int) -> None:
        self.dense = len(times) < 2 or bool(np.median(np.diff(times)) * hertz <= DENSE * 1_000_000)
        self.first, self.last = _following(times, hertz) if self.dense else _scattered(times, hertz)

    def begun(self, index: Indices) -> Indices:
        """Give the last sample of the first row that begins at this sample or after it; one beyond all if none does."""
        place = np.searchsorted(self.first, index)
        ends = np.append(self.last, np.iinfo(np.intp).max)
        return np.asarray(ends[place])

    def over(self, index: Indices) -> Indices:
        """Give the first sample of the last row that is over at this sample or before it; -1 if none is."""
        place = np.searchsorted(self.last, index, side="right")
        return np.asarray(np.append(-1, self.first)[place])


def _following(times: Times, hertz: int) -> tuple[Indices, Indices]:
    """Rows as long as a period, without a gap as long as a pulse."""
    if len(times) < 2:
        return np.empty(0, dtype=np.intp), np.empty(0, dtype=np.intp)
    wide = np.concatenate(([0], np.cumsum(np.diff(times) * hertz > DENSE * 1_000_000)))
    last = np.searchsorted(times, times + longest_period(hertz))
    good = last < len(times)
    good[good] = wide[last[good]] == wide[good.nonzero()[0]]
    return np.flatnonzero(good), last[good]


def _scattered(times: Times, hertz: int) -> tuple[Indices, Indices]:
    """Rows of as many samples as most often cover the period by chance of their phases."""
    for number in _NUMBERS:
        if number > len(times):
            break
        windows = np.lib.stride_tricks.sliding_window_view(times, number)
        covers = np.concatenate([_covers(windows[i : i + _CHUNK], hertz) for i in range(0, len(windows), _CHUNK)])
        if covers.mean() > 0.8:
            first = np.flatnonzero(covers)
            return first, first + number - 1
    return np.empty(0, dtype=np.intp), np.empty(0, dtype=np.intp)


def _covers(windows: npt.NDArray[np.int64], hertz: int) -> Booleans:
    """Tell which rows of samples leave no gap between their phases that a pulse fits into."""
    since = windows - windows[:, :1]
    phases = np.sort(np.mod(since * (hertz / 1_000_000), 1.0), axis=1)
    gaps = np.diff(phases, axis=1, append=phases[:, :1] + 1)
    # At another frequency two phases drift apart by no more than this.
    drift = since[:, -1] * (hertz / 1_000_000) * LINE_TOLERANCE
    return np.asarray(gaps.max(axis=1) + drift < LEAST_PULSE)


def line_sampled(times: Times, truths: Truths, hertz: int, start: int) -> Line:
    """Give on and off for a line whose samples say pulse (1), none (0) or nothing (-1)."""
    known = truths >= 0
    times, high = times[known], truths[known] == 1
    period = longest_period(hertz)
    if not len(times):
        at = np.array([start], dtype=np.int64)
        return Line(Levels(at, np.array([-1], dtype=np.int8), at, at), period, period, NONE, NONE, NONE, NONE)
    rows = _Rows(times, hertz)
    typical = int(np.median(times[rows.last] - times[rows.first])) if len(rows.first) else period
    gap = int(np.median(np.diff(times))) if len(times) > 1 else 0
    findings: list[Finding] = []
    if not rows.dense:
        findings.append(_coarse(times, rows, gap, typical, hertz))
    if len(rows.first) == 0 and len(times) > 1:
        at = np.array([start], dtype=np.int64)
        unknown = Levels(at, np.array([-1], dtype=np.int8), at, at)
        return Line(unknown, period, period, NONE, NONE, NONE, NONE, tuple(findings))
    highs = np.flatnonzero(high)
    levels, lows = _levels(times, highs, rows, period, 2 * max(typical, period) + 2 * gap, start)
    begins, ends = lows
    rises = times[highs[np.diff(highs, prepend=-2) > 1]]
    falls = times[np.minimum(highs[np.diff(highs, append=len(times) + 2) > 1] + 1, len(times) - 1)]
    if rows.dense:
        findings += bridged(begins, ends)
    return Line(levels, period, max(typical, period), begins, ends, rises, falls, tuple(findings))


def _coarse(times: Times, rows: _Rows, gap: int, typical: int, hertz: int) -> Finding:
    text = f"samples {told(gap)} apart cannot show the pulses of {hertz} Hz one by one; "
    if len(rows.first):
        text += f"that the line is off shows only after {told(typical)} or more"
    else:
        text += "nor can they show, taken together, that it is off"
    return Finding("too coarse", int(times[0]), int(times[-1]), text)


def _levels(
    times: Times, highs: Indices, rows: _Rows, period: int, reach: int, start: int
) -> tuple[Levels, tuple[Times, Times]]:
    """Give the levels, and from when to when samples without a pulse were taken for on."""
    end = len(times) - 1
    if not len(highs):
        off = rows.begun(np.array([0]))[0] <= end
        at = np.array([start], dtype=np.int64)
        return Levels(at, np.array([0 if off else -1], dtype=np.int8), at, at), (NONE, NONE)
    # Runs of samples without a pulse: between two highs, and those at both ends.
    before, after = highs[:-1], highs[1:]
    low = after - before > 1
    before, after = before[low], after[low]
    over = rows.begun(before + 1)
    again = rows.begun(np.minimum(over, end + 1))
    off = again < after
    lost = ~off & (times[after] - times[before] > reach)
    bridge = ~off & ~lost & (times[after] - times[before] > 3 * period // 2)
    told_off = off | lost
    b, a, sure = before[told_off], after[told_off], off[told_off]
    # The first pulse may be the missing one, or the last: it may have come on a row earlier, and gone off a row later.
    on_from = times[np.maximum(rows.over(rows.over(a - 1)), 0)] + 1
    columns = [
        np.column_stack((times[b + 1], times[a])),
        np.column_stack((np.where(sure, 0, -1), np.ones(len(a), dtype=np.int64))),
        np.column_stack((times[b] + 1, np.where(sure, on_from, times[a]))),
        np.column_stack((np.where(sure, times[np.minimum(again[told_off], end)], times[b + 1]), times[a])),
    ]
    time, truth, lead, tail = (column.ravel() for column in columns)
    head, foot = _head(times, int(highs[0]), rows, period, start), _foot(times, int(highs[-1]), rows, period)
    table = np.concatenate((head, np.column_stack((time, truth, lead, tail)), foot)).astype(np.int64)
    levels = Levels(table[:, 0], table[:, 1].astype(np.int8), table[:, 2], table[:, 3]).changes()
    levels = levels.unknown_between(*_close(levels, ALONE * period))
    return levels, (times[before[bridge]], times[after[bridge]])


def _close(levels: Levels, within: int) -> tuple[Times, Times]:
    """Give the stretches from one that is not known to the next one, where so little time is known between them."""
    lost = np.flatnonzero(levels.truths[:-1] < 0)
    found, lost_again = levels.times[lost + 1], levels.times[lost]
    near = lost_again[1:] - found[:-1] <= within
    return found[:-1][near], lost_again[1:][near]


def _head(times: Times, first: int, rows: _Rows, period: int, start: int) -> npt.NDArray[np.int64]:
    """Give what stands before the first sample with a pulse, and that one."""
    at = int(times[first])
    row = int(rows.over(np.array([first - 1]))[0])
    before = int(rows.over(np.array([row]))[0]) if row >= 0 else -1
    if before >= 0:
        return np.array([[start, 0, start, start], [at, 1, int(times[before]) + 1, at]])
    if at - int(times[0]) <= period:
        return np.array([[start, 1, start, start]])
    return np.array([[start, -1, start, start], [at, 1, at, at]])


def _foot(times: Times, last: int, rows: _Rows, period: int) -> npt.NDArray[np.int64]:
    """Give what stands behind the last sample with a pulse."""
    end = len(times) - 1
    if last == end:
        return np.empty((0, 4), dtype=np.int64)
    at, lead = int(times[last + 1]), int(times[last]) + 1
    over = int(rows.begun(np.array([last + 1]))[0])
    again = int(rows.begun(np.array([over]))[0]) if over <= end else end + 1
    if again <= end:
        return np.array([[at, 0, lead, int(times[again])]])
    if int(times[end]) - int(times[last]) <= period:
        return np.empty((0, 4), dtype=np.int64)
    return np.array([[at, -1, lead, at]])

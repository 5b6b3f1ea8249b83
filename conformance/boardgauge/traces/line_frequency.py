"""An AC signal, recorded as one or two pulses in each period of the line frequency, as on and off.

Law of this module: one pulse may be missing. The line is on from within two periods before its first pulse, and off
from the end of its last pulse to within two periods after that pulse began; one that is missing between two others is
no coming and going, and the line is off only where none stands for two whole periods. What is hidden by that is told.
"""

from __future__ import annotations

import numpy as np
from attrs import frozen

from boardgauge.traces.recording import Times
from boardgauge.traces.remarks import Finding, told
from boardgauge.traces.wave import NONE, Booleans, Levels

LINE_TOLERANCE = 0.02
"""How far the line frequency may be off its nominal value, either way (common practice, no source)."""


@frozen(eq=False)
class Line:
    """What a line was taken for. ``period`` is its longest period; a coming and going shorter than ``hides`` is hidden.

    From ``bridged_from[i]`` to ``bridged_to[i]`` no pulse was seen, and the line was taken as on nevertheless.
    ``rises`` and ``falls`` are the edges of the pulses.
    """

    levels: Levels
    period: int
    hides: int
    bridged_from: Times
    bridged_to: Times
    rises: Times
    falls: Times
    findings: tuple[Finding, ...] = ()


def longest_period(hertz: int) -> int:
    """Give the longest period (microseconds) of a line of this nominal frequency."""
    return int(np.ceil(1_000_000 / hertz / (1 - LINE_TOLERANCE)))


def without_line_frequency(pulses: Levels, hertz: int, start: int, end: int) -> Line:
    """Give on and off for a line that shows pulses (level 1) while it is on; unknown levels make it unknown.

    ``pulses`` are the changes of the channel, known to the moment. A line that never pulses is off.
    """
    period = longest_period(hertz)
    pulses = pulses.changes()
    rows: list[Levels] = []
    bridges: list[tuple[Times, Times]] = [(NONE, NONE)]
    edges: list[tuple[Times, Times]] = [(NONE, NONE)]
    # Between unknown stretches the line is worked out piece by piece.
    unknown = np.flatnonzero(pulses.truths < 0)
    firsts, bounds = np.concatenate(([0], unknown + 1)), np.append(unknown, len(pulses.times))
    if not len(pulses.times):
        rows.append(_unknown(start))
    for first, bound in zip(firsts.tolist(), bounds.tolist(), strict=True):
        if bound > first:
            stop = int(pulses.times[bound]) if bound < len(pulses.times) else end
            high = pulses.truths[first:bound] == 1
            rises = pulses.times[first:bound][high]
            falls = np.append(pulses.times[first + 1 : bound], stop)[high]
            part, missing = _piece(rises, falls, period, int(pulses.times[first]), stop)
            rows.append(part)
            bridges.append((falls[:-1][missing], rises[1:][missing]))
            edges.append((rises, falls))
        if bound < len(pulses.times):
            rows.append(_unknown(int(pulses.times[bound])))
    begins, ends = (np.concatenate(columns) for columns in zip(*bridges, strict=True))
    rises, falls = (np.concatenate(columns) for columns in zip(*edges, strict=True))
    levels = Levels(
        np.concatenate([part.times for part in rows]),
        np.concatenate([part.truths for part in rows]),
        np.concatenate([part.lead for part in rows]),
        np.concatenate([part.tail for part in rows]),
    ).changes()
    findings = (*bridged(begins, ends), *_held(rises, falls, period))
    return Line(levels, period, period, begins, ends, rises, falls, findings)


def bridged(begins: Times, ends: Times) -> tuple[Finding, ...]:
    """Tell how many half-cycles were missing in a line that was taken as on throughout."""
    if not len(begins):
        return ()
    number = "a half-cycle is missing" if len(begins) == 1 else f"{len(begins)} half-cycles are missing, one at a time"
    text = f"{number}; the line is taken as on throughout"
    return (Finding("missing half-cycles", int(begins[0]), int(ends[-1]), text),)


def _held(rises: Times, falls: Times, period: int) -> tuple[Finding, ...]:
    """Tell of a level that does not pulse at all, as no AC line looks like."""
    found = np.flatnonzero(falls - rises > 2 * period)
    if not len(found):
        return ()
    longest = int((falls - rises)[found].max())
    text = f"no pulses for up to {told(longest)}, but a steady level; it is taken as on"
    return (Finding("steady", int(rises[found[0]]), int(falls[found[-1]]), text),)


def _piece(rises: Times, falls: Times, period: int, since: int, stop: int) -> tuple[Levels, Booleans]:
    """Give on and off from ``since`` to ``stop``, and after which pulses one is missing."""
    if not len(rises):
        return _unknown(since) if stop - since <= 2 * period else _at(since, 0), np.zeros(0, dtype=bool)
    breaks = rises[1:] - falls[:-1] > 2 * period
    missing = (np.diff(rises) > 3 * period // 2) & (rises[1:] - falls[:-1] > period) & ~breaks
    borders = np.flatnonzero(breaks)
    first, last = np.concatenate(([0], borders + 1)), np.append(borders, len(rises) - 1)
    times = np.column_stack((rises[first], falls[last])).ravel()
    lead = np.column_stack((rises[first] - 2 * period, falls[last])).ravel()
    tail = np.column_stack((rises[first], np.maximum(falls[last], rises[last] + 2 * period))).ravel()
    truths = np.tile(np.array([1, 0], dtype=np.int8), len(first))
    if stop - falls[-1] <= 2 * period:
        # Whether more pulses would have come nobody knows, once one is due.
        truths[-1] = -1
        if stop - rises[-1] <= period or stop <= falls[-1]:
            times, lead, tail, truths = times[:-1], lead[:-1], tail[:-1], truths[:-1]
    if rises[0] > since + period:
        at = np.array([since], dtype=np.int64)
        times, lead, tail = np.append(at, times), np.append(at, lead), np.append(at, tail)
        # With the first pulse missing, it may have been on.
        off = rises[0] > since + 2 * period
        truths = np.append(np.array([0 if off else -1], dtype=np.int8), truths)
        lead[1] = lead[1] if off else rises[0]
    else:
        times[0] = lead[0] = tail[0] = since
    return Levels(times, truths, np.maximum(lead, since), tail), missing


def _at(time: int, truth: int) -> Levels:
    at = np.array([time], dtype=np.int64)
    return Levels(at, np.array([truth], dtype=np.int8), at, at)


def _unknown(time: int) -> Levels:
    return _at(time, -1)

"""What is wrong with a line: too low, ragged, coming and going.

Law of this module: where a line is none of off and on it is not known, and the stretch is told; one pulse that is low,
as one cut off at its edge is, or one missing half-cycle, is no fault of the line.
"""

from __future__ import annotations

import numpy as np

from boardgauge.traces.line_frequency import Line
from boardgauge.traces.recording import Times, Values
from boardgauge.traces.remarks import Finding, told
from boardgauge.traces.wave import Booleans, Levels

CHATTER_PERIODS = 6
"""A line that changes four times or more, each within so many periods of the one before, chatters."""
CHATTER_CHANGES = 4
RAGGED = 0.15
"""How far the time between pulses may be off whole periods (half ones of a full wave), in periods, beside sampling."""
RAGGED_PULSES = 4
MOST_TOLD = 20
"""So many stretches of one kind are told one by one; the rest by their number."""


def runs_of(found: Booleans, least: int) -> tuple[Times, Times]:
    """Give the first and last place of each run of at least ``least`` places in a row."""
    edges = np.diff(np.concatenate(([0], found.astype(np.int8), [0])))
    first, last = np.flatnonzero(edges == 1), np.flatnonzero(edges == -1) - 1
    long = last - first + 1 >= least
    return first[long], last[long]


def too_low(line: Line, peaks: Values, least: float, gap: int) -> tuple[Times, Times, list[Finding]]:
    """Give where the pulses are too low, from and to, and what to tell.

    ``peaks`` are those of the line's pulses, measured each ``gap`` microseconds: so the true peak may be higher.
    """
    if not len(peaks):
        return line.rises[:0], line.rises[:0], []
    sampled = np.cos(np.pi * min(gap / line.period, 0.5))
    first, last = runs_of(peaks < least * sampled, 2)
    # Low pulses on either side of a time without any are not one stretch, but that is no matter: it is unknown too.
    following = np.append(line.rises[1:], np.iinfo(np.int64).max)[last]
    begins, ends = line.rises[first] - line.period, np.minimum(following, line.falls[last] + line.period)
    findings = []
    for one, other, begin, end in zip(first.tolist(), last.tolist(), begins.tolist(), ends.tolist(), strict=True):
        text = f"amplitude down to {peaks[one : other + 1].min():.3g}, less than {least:.3g}"
        findings.append(Finding("brown-out", max(begin, int(line.rises[one])), min(end, int(line.falls[other])), text))
    return begins, ends, few(findings)


def ragged(line: Line, gap: int) -> tuple[Times, Times, list[Finding]]:
    """Give where the pulses come at another rate than the line's, from and to, and what to tell."""
    rises, falls, period = line.rises, line.falls, line.period
    none = rises[:0], rises[:0], list[Finding]()
    if gap * 16 > period or len(rises) < RAGGED_PULSES:
        return none
    # What is parted by less than an eighth of a period is one pulse: noise at the threshold.
    apart = np.concatenate(([True], rises[1:] - falls[:-1] > period // 8))
    rises, falls = rises[apart], falls[np.append(apart[1:], True)]
    if len(rises) < RAGGED_PULSES:
        return none
    # Where a gap between pulses fell between two samples, two pulses are one, and the next rise is as due as ever.
    steps = np.diff(rises) / period
    full_wave = np.median(steps) < 0.75 or bool(np.any(falls - rises > 0.8 * period))
    if full_wave and gap * 64 > period:
        return none
    unit = 0.5 if full_wave else 1.0
    off = np.abs(steps / unit - np.round(steps / unit)) * unit > RAGGED + gap / period
    off = (off | (steps < 0.25)) & (steps < 2.5)
    first, last = runs_of(off, RAGGED_PULSES - 1)
    begins, ends = rises[first], falls[last + 1]
    findings = []
    for one, other, begin, end in zip(first.tolist(), last.tolist(), begins.tolist(), ends.tolist(), strict=True):
        apart_by = int(np.median(np.diff(rises)[one : other + 1]))
        findings.append(Finding("ragged", begin, end, f"pulses {told(apart_by)} apart, not those of the line"))
    return begins, ends, few(findings)


def chatter(levels: Levels, within: int, least: int = CHATTER_CHANGES) -> tuple[Times, Times, list[Finding]]:
    """Give where on and off follow one another without rest, from and to, and what to tell."""
    first, last = runs_of(np.diff(levels.times[1:]) <= within, least - 1)
    first, last = first + 1, last + 2
    begins, ends = levels.lead[first], levels.tail[last]
    findings = []
    for one, other in zip(first.tolist(), last.tolist(), strict=True):
        text = f"{other - one + 1} changes, each within {told(within)} of the one before"
        findings.append(Finding("chatter", int(levels.times[one]), int(levels.times[other]), text))
    return begins, ends, few(findings)


def few(findings: list[Finding]) -> list[Finding]:
    """Give the findings, the last of them standing for all beyond a number that a person reads."""
    if len(findings) <= MOST_TOLD:
        return findings
    rest = findings[MOST_TOLD - 1 :]
    text = f"{len(rest)} more stretches of {rest[0].kind}"
    return [*findings[: MOST_TOLD - 1], Finding(rest[0].kind, rest[0].start, rest[-1].end, text)]

"""Contact bounce: the edges of a contact that has not settled yet are one change.

Law of this module: only a burst that is over within the bounce, and ends on the other level, is a change that bounced.
Anything else stays as it was recorded, and is told.
"""

from __future__ import annotations

import numpy as np

from boardgauge.traces.line_faults import few, runs_of
from boardgauge.traces.remarks import Finding, told
from boardgauge.traces.wave import Levels


def without_bounce(levels: Levels, bounce: int, at_touch: bool = False) -> tuple[Levels, list[Finding]]:
    """Make one change of the edges within a bounce; give what to tell of the bursts that are none.

    A burst that ends where it began, or goes on for longer than the bounce, stays as it is, as chatter. The change lies
    between the first edge and the last; it is put down at the last, or ``at_touch`` at the first.
    """
    times, truths = levels.times, levels.truths
    if not bounce or len(times) < 3:
        return levels, []
    near = np.diff(times) <= bounce
    near[0] = False  # the first entry is no change but the level at the start
    if not near.any():
        return levels, []
    first, last = runs_of(near, 1)
    last = last + 1
    # Everything within a bounce of the first edge is one burst. Most are over by then; what follows begins another.
    long = times[last] - times[first] > bounce
    bursts = [(first[~long], last[~long])]
    chatter = np.zeros(len(times) + 1, dtype=np.int64)
    for begin, end in zip(first[long].tolist(), last[long].tolist(), strict=True):
        chatter[begin], chatter[end + 1] = 1, -1
        rows = []
        while begin <= end:
            stop = int(np.searchsorted(times[begin : end + 1], times[begin] + bounce, side="right")) + begin - 1
            rows.append((begin, stop))
            begin = stop + 1
        bursts.append((np.array([row[0] for row in rows]), np.array([row[1] for row in rows])))
    first, last = (np.concatenate(columns) for columns in zip(*bursts, strict=True))
    unknown = np.concatenate(([0], np.cumsum(truths < 0)))
    several = last > first
    one = several & (truths[first - 1] != truths[last]) & (unknown[last + 1] == unknown[first - 1])
    np.add.at(chatter, first[several & ~one], 1)
    np.add.at(chatter, last[several & ~one] + 1, -1)
    first, last = first[one], last[one]
    gone = np.zeros(len(times) + 1, dtype=np.int64)
    np.add.at(gone, first, 1)
    np.add.at(gone, last, -1)
    keep, lead, stamps = np.cumsum(gone)[:-1] == 0, levels.lead.copy(), times.copy()
    lead[last] = levels.lead[first]
    if at_touch:
        stamps[last] = times[first]
    odd = np.cumsum(chatter)[:-1] > 0
    findings = []
    for first, last in zip(*(column.tolist() for column in runs_of(odd, 2)), strict=True):
        text = f"{last - first + 1} changes that a bounce of {told(bounce)} does not explain"
        findings.append(Finding("chatter", int(times[first]), int(times[last]), text))
    return Levels(stamps[keep], truths[keep], lead[keep], levels.tail[keep]), few(findings)

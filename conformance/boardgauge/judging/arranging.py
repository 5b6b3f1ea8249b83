"""Put the input changes of a long recording in order, and say how they lie to one another.

Law of this module: ``in_moments`` gives what ``boardgauge.machine.inputs.moments`` gives, which is the readable
definition; ``perhaps_together``, ``alone`` and ``following`` say what their descriptions say, for all changes at once.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

import numpy as np
from attrs import evolve

from boardgauge.judging.columns import Changes, Numbers
from boardgauge.machine.inputs import PERHAPS
from boardgauge.traces.recording import Times
from boardgauge.traces.wave import Booleans


def in_moments(changes: Changes, same_moment: int, supply: Times, unknown: Sequence[tuple[int, int]] = ()) -> Changes:
    """Sort the changes by time and mark those that the board must take as one moment.

    In the stretches ``unknown`` the supply may go and come between any two of them.
    """
    ordered = changes.taken(np.lexsort((changes.level, changes.latest, changes.earliest)))
    if not same_moment or not len(ordered):
        return ordered
    side = np.searchsorted(supply, ordered.earliest)
    near = (np.diff(ordered.earliest) < same_moment) & (np.diff(side) == 0)
    for begin, end in unknown:
        inside = (ordered.earliest <= end) & (ordered.latest >= begin)
        near &= ~(inside[1:] | inside[:-1])
    first = np.concatenate(([0], np.flatnonzero(~near) + 1))
    number = np.concatenate(([0], np.cumsum(~near)))
    span = np.maximum.reduceat(ordered.latest, first) - np.minimum.reduceat(ordered.earliest, first)
    # No level twice: among the changes of a group, sorted by level, no two neighbours are of the same.
    by_level = np.lexsort((ordered.level, number))
    level, group = ordered.level[by_level], number[by_level]
    twice = np.zeros(len(first), dtype=bool)
    twice[group[1:][(level[1:] == level[:-1]) & (group[1:] == group[:-1])]] = True
    one = ~twice & (span < same_moment) & (np.diff(np.append(first, len(ordered))) > 1)
    marked = one[number] & (ordered.value >= 0) & ~ordered.hidden
    return evolve(ordered, moment=np.where(marked, number, ordered.moment))


def perhaps_together(changes: Changes, same_moment: int, responds: Sequence[int], unknown: Collection[int]) -> Changes:
    """Mark the changes that a board may take in together with another, and so later than one by itself.

    They are no moment that it must take as one: it is a longer chain, or the other was not seen, or may not have been
    so near. ``unknown`` are the levels that nobody knows at some time: they may change at any.
    """
    answers = np.array(responds, dtype=np.int64)
    if not len(changes) or (answers >= same_moment).all():
        return changes
    early, level, count = changes.earliest, changes.level, len(changes)
    turns = np.flatnonzero(level[1:] != level[:-1]) + 1
    run = np.searchsorted(turns, np.arange(count), side="right")
    # The next change of another level, and the last that one before it may have been.
    behind = np.append(early, np.iinfo(np.int64).max)[np.append(turns, count)[run]]
    last = np.maximum.accumulate(np.append(np.iinfo(np.int64).min, changes.latest))[np.append(0, turns)[run]]
    near = (behind < changes.latest + same_moment) | (last > early)
    near |= np.array([any(other != mine for other in unknown) for mine in range(len(answers))], dtype=bool)[level]
    marked = near & (changes.moment < 0) & (answers[level] < same_moment)
    return evolve(changes, moment=np.where(marked, PERHAPS, changes.moment))


def alone(changes: Changes, responds: Sequence[int], supply: Times) -> Booleans:
    """Tell of each change whether nothing else changes at the terminals until it must have been acted on.

    ``supply`` are the times at which the supply comes or goes, in order. Later changes of the same level do no harm:
    they are acted on after it in any case.
    """
    count = len(changes)
    if not count:
        return np.zeros(0, dtype=bool)
    early, level = changes.earliest, changes.level
    until = changes.latest + np.array(responds, dtype=np.int64)[level]
    slowest = max(responds, default=0)
    found: Booleans = (changes.moment == -1) & ~changes.hidden
    found &= np.searchsorted(supply, early) == np.searchsorted(supply, until, side="right")
    # The changes come in runs of one level: what lies behind the run and before it is of another.
    turns = np.flatnonzero(level[1:] != level[:-1]) + 1
    run = np.searchsorted(turns, np.arange(count), side="right")
    behind = np.append(early, np.iinfo(np.int64).max)[np.append(turns, count)[run]]
    found &= behind > until
    before = np.concatenate(([-1], turns - 1))[run]
    close = found & (before >= 0) & (early[before] + slowest >= early)
    for index in np.flatnonzero(close).tolist():
        other, begins = int(before[index]), int(early[index])
        while other >= 0 and early[other] + slowest >= begins:
            if level[other] != level[index] and until[other] >= begins:
                found[index] = False
                break
            other -= 1
    return found


def following(changes: Changes) -> Numbers:
    """Give of each change the number of the next one of its level, -1 if there is none."""
    found = np.full(len(changes), -1, dtype=np.int64)
    by_level = np.argsort(changes.level, kind="stable")
    same = changes.level[by_level][1:] == changes.level[by_level][:-1]
    found[by_level[:-1][same]] = by_level[1:][same]
    return found

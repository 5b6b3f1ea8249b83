"""How a recorder took its samples: how far apart, how evenly, with what gaps.

Law of this module: it describes the times alone; a gap is a step of more than one and a half of the usual ones. Times
are gone through in pieces, however many there are.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from attrs import frozen

from boardgauge.traces.passes import chosen, steps
from boardgauge.traces.recording import MOST_TIME, Recording, Times

_FEW = 20
"""With fewer times than this a common step says nothing."""


@frozen
class Pace:
    """The samples of a recording; times in microseconds.

    ``usual`` is the median step; ``least`` and ``greatest`` bound the steps that are no gaps. ``gaps`` counts the
    others, ``longest_gap`` is (when it begins, how long it is), and ``missing`` the time that all of them leave out.
    """

    samples: int
    usual: int
    least: int
    greatest: int
    gaps: int = 0
    longest_gap: tuple[int, int] | None = None
    missing: int = 0


def pace_of(recording: Recording) -> Pace | None:
    """Describe the samples of a recording; None for one of changes, or with a single sample."""
    if recording.samples is None or len(recording.samples) < 2:
        return None
    samples = recording.samples

    def between() -> Iterator[Times]:
        return (np.diff(times) for times in steps(samples.pieces()))

    def weighed() -> Iterator[tuple[Times, Times]]:
        return ((each, np.ones(len(each), np.int64)) for each in between())

    least = min(int(each.min()) for each in between())
    if least == samples.longest_gap:
        return Pace(len(samples), least, least, least)
    # The median: of an even number of steps, halfway between the two in the middle.
    middle = len(samples) // 2
    usual = chosen(weighed, middle)
    if len(samples) % 2:
        usual = (usual + chosen(weighed, middle + 1)) // 2
    widest = usual * 3 // 2 if least <= usual * 3 // 2 else MOST_TIME * 2
    least, greatest, gaps, missing = 2 * MOST_TIME, 0, 0, 0
    longest: tuple[int, int] | None = None
    for times in steps(samples.pieces()):
        each = np.diff(times)
        wide = each > widest
        normal = each[~wide]
        if len(normal):
            least, greatest = min(least, int(normal.min())), max(greatest, int(normal.max()))
        if wide.any():
            place = int(np.argmax(each))
            if longest is None or int(each[place]) > longest[1]:
                longest = int(times[place]), int(each[place])
            gaps += int(np.count_nonzero(wide))
            missing += int((each[wide] - usual).sum())
    return Pace(len(samples), usual, least, greatest, gaps, longest, missing)


def common_step(recording: Recording) -> int | None:
    """Give the step (microseconds, 1 ms or more) on which every change of a recording of changes falls, None if none.

    Such changes were taken from samples that far apart, so that each is up to a step later than it happened.
    """
    if recording.samples is not None:
        return None
    few: set[int] = set()
    first: int | None = None
    step = 0
    for channel in recording.channels.values():
        for times, _ in channel.pieces():
            if len(few) < _FEW:
                few.update(times[:_FEW].tolist())
            first = int(times[0]) if first is None else first
            # All moments lie whole steps from any of them.
            step = int(np.gcd.reduce(np.concatenate(([step], times - first))))
    return step if len(few) >= _FEW and step >= 1000 else None

"""Going through a long channel in pieces, to find what its whole says.

Law of this module: what comes out does not depend on where one piece ends and the next begins, and is exact; nothing
grows with the number of changes.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

import numpy as np
import numpy.typing as npt
from attrs import frozen

from boardgauge.traces.recording import Channel, Times, Values

Bools = npt.NDArray[np.bool_]
Pieces = Iterable[tuple[Times, Values]]
_DIGITS = 16
_BINS = 1 << _DIGITS
_TOP = np.uint64(1 << 63)


def stretches(channel: Channel, end: int) -> Iterator[tuple[Times, Values, Times]]:
    """Give the changes in pieces, each with how long its value lasts; the last one up to the end."""
    before: tuple[Times, Values] | None = None
    for times, values in channel.pieces():
        if before is not None:
            yield (*before, np.diff(before[0], append=times[0]))
        before = times, values
    if before is not None:
        yield (*before, np.diff(before[0], append=max(end, int(before[0][-1]))))


def overlapping(pieces: Pieces, by: int = 1) -> Iterator[tuple[Times, Values]]:
    """Give pieces that each begin with the last ``by`` changes of the one before: so no neighbours are parted."""
    kept: tuple[Times, Values] | None = None
    for times, values in pieces:
        if kept is not None:
            times, values = np.concatenate((kept[0], times)), np.concatenate((kept[1], values))
        if len(times) > by:
            yield times, values
        kept = times[-by:], values[-by:]


def known_only(pieces: Pieces) -> Iterator[tuple[Times, Values]]:
    """Leave out what is not known."""
    for times, values in pieces:
        known = ~np.isnan(values)
        if known.all():
            yield times, values
        elif known.any():
            yield times[known], values[known]


def rises(pieces: Pieces, high: Callable[[Values], Bools]) -> Iterator[Times]:
    """Give the times at which a level comes up, in pieces."""
    for times, values in overlapping(pieces):
        up = high(values)
        yield times[1:][up[1:] & ~up[:-1]]


def steps(pieces: Iterable[Times]) -> Iterator[Times]:
    """Give times in pieces that each begin with the last of the one before."""
    last = np.zeros(0, np.int64)
    for times in pieces:
        joined = np.concatenate((last, times))
        if len(joined) > 1:
            yield joined
        last = joined[-1:]


@frozen(eq=False)
class Runs:
    """Some runs of neighbouring steps that are alike: how many steps each has, and when it begins and ends."""

    lengths: Times
    begins: Times
    ends: Times


def runs(pieces: Iterable[tuple[Times, Bools]]) -> Iterator[Runs]:
    """Give the runs of steps that are alike, in the order of time.

    A piece is times, of which the first is the last of the piece before, and for each step between them whether it is
    one of those.
    """
    length, begin, last = 0, 0, 0
    for times, alike in pieces:
        # A border before each step that is not alike, and behind the last one, as far as is known.
        borders = np.flatnonzero(np.concatenate(([True], ~alike, [True])))
        lengths = np.diff(borders) - 1
        begins, ends = times[borders[:-1]], times[borders[:-1] + lengths]
        if length:
            begins[0] = begin
            lengths[0] += length
        length, begin, last = int(lengths[-1]), int(begins[-1]), int(ends[-1])
        whole = lengths[:-1] > 0
        if whole.any():
            yield Runs(lengths[:-1][whole], begins[:-1][whole], ends[:-1][whole])
    if length:
        yield Runs(np.array([length]), np.array([begin]), np.array([last]))


@frozen
class Longest:
    """A longest run, the first of them: steps, beginning and end."""

    length: int
    begin: int
    end: int


def longest(found: Iterable[Runs]) -> Longest | None:
    """Give the first of the runs with the most steps; None if there is none."""
    best: Longest | None = None
    for each in found:
        place = int(np.argmax(each.lengths))
        if best is None or int(each.lengths[place]) > best.length:
            best = Longest(int(each.lengths[place]), int(each.begins[place]), int(each.ends[place]))
    return best


def chosen(pieces: Callable[[], Iterator[tuple[Times, Times]]], weight: int) -> int:
    """Give the least number such that those up to it weigh so much together; numbers of 64 bits, weights above 0.

    It goes through the pieces (numbers and their weights) four times, and finds 16 of the bits each time.
    """
    found, left = 0, weight
    for digit in range(64 // _DIGITS):
        below = 64 - _DIGITS * (digit + 1)
        weights = np.zeros(_BINS, dtype=np.int64)
        for numbers, weighs in pieces():
            keys = numbers.view(np.uint64) ^ _TOP
            high = keys >> np.uint64(below)
            if digit:
                inside = (high >> np.uint64(_DIGITS)) == np.uint64(found)
                high, weighs = high[inside], weighs[inside]
            np.add.at(weights, (high & np.uint64(_BINS - 1)).astype(np.int64), weighs)
        along = np.cumsum(weights)
        place = int(np.searchsorted(along, left))
        left -= int(along[place - 1]) if place else 0
        found = (found << _DIGITS) | place
    return found - (1 << 63)


def ordered(values: Values) -> Times:
    """Give numbers of 64 bits that are in the same order as floats."""
    bits = (values + 0.0).view(np.int64)
    return np.where(bits < 0, bits ^ np.int64(2**63 - 1), bits)


def unordered(number: int) -> float:
    """Give the float that has this number in the order."""
    bits = np.array([number], np.int64)
    return float(np.where(bits < 0, bits ^ np.int64(2**63 - 1), bits).view(np.float64)[0])

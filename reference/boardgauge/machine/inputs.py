"""What a board may take in of what happens at its input terminals.

Law of this module: a change shorter than the filter's first figure is never taken in, one longer than its second
always, one between them either way; a change that counts keeps its own time at the terminal. Whoever steps the
machine (the simulator, the judge) chooses among what is left open here; nothing else is possible.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Sequence

from attrs import evolve, frozen

from boardgauge.language.quantities import TimeRange


@frozen
class RawEdge:
    """A change at a terminal, known to lie in [earliest, latest] (microseconds). ``value`` None: unknown from there."""

    earliest: int
    latest: int
    value: bool | None


PERHAPS = -2
"""The moment of a change that the board may take in together with another, or not."""


@frozen
class Change:
    """A change that the board may have to take in, at the terminal somewhere in [earliest, latest].

    ``droppable``: it may go unseen together with the next change of the same level. ``moment``: changes of one moment
    (the same number, from 0 on) are taken in together or not at all; -1 is taken in by itself, ``PERHAPS`` by itself or
    together with another. ``value`` None: from here the level may be anything.
    ``hidden``: nothing was seen of it, but nothing seen rules it out (part of a pulse between two samples).
    """

    level: int
    value: bool | None
    earliest: int
    latest: int
    droppable: bool = False
    moment: int = -1
    hidden: bool = False


def filtered(
    level: int,
    initial: bool | None,
    edges: Sequence[RawEdge],
    ignores: TimeRange,
    end: int,
    comes_on: Sequence[tuple[int, int]] = (),
) -> list[Change]:
    """Give the changes of one level that a board with this filter may take in, in order of time.

    ``initial`` is the level before the first edge; ``end`` is where the recording ends: what is not over by then may
    still turn out too short to be seen. ``comes_on`` are the stretches in each of which the supply comes on: what an
    input is just then the board looks at, be it a flicker.
    """
    changes: list[Change] = []
    value = initial
    index = 0
    while index < len(edges):
        last = index
        while last + 1 < len(edges) and _surely_shorter(edges[last], edges[last + 1], ignores.least, comes_on):
            last += 1
        run = edges[index : last + 1]
        changes += _burst(level, value, run, ignores)
        value = run[-1].value
        index = last + 1
    return _mark_droppable(changes, ignores, end)


def _surely_shorter(edge: RawEdge, following: RawEdge, least: int, comes_on: Sequence[tuple[int, int]]) -> bool:
    if following.value is None or any(edge.earliest <= over and following.latest >= on for on, over in comes_on):
        return False
    # What is not known for so short a time is taken in as little as a pulse that is seen.
    return following.latest - edge.earliest < least


def _burst(level: int, value: bool | None, run: Sequence[RawEdge], ignores: TimeRange) -> list[Change]:
    """Give what one burst of changes, each too short to count alone, may amount to."""
    first, last = run[0], run[-1]
    if len(run) == 1:
        return [Change(level, first.value, first.earliest, first.latest)]
    span = last.latest - first.earliest
    if last.value != value:
        if span > ignores.greatest:
            return [
                Change(level, None, first.earliest, first.earliest),
                Change(level, last.value, first.earliest, last.latest),
            ]
        return [Change(level, last.value, first.earliest, last.latest)]
    if span < ignores.least:
        return []
    # The short breaks inside may go unseen, and then it is one pulse as long as the whole burst.
    return [
        Change(level, None, first.earliest, first.earliest),
        Change(level, last.value, first.earliest, last.latest),
    ]


def pulses_in_gaps(
    level: int, initial: bool | None, edges: Sequence[RawEdge], gaps: Sequence[tuple[int, int]], least: int
) -> list[Change]:
    """Give the pulses long enough to be seen that may hide between samples, where nothing else happened.

    ``gaps`` are pairs of neighbouring samples. One pulse a gap; in a gap with room for more than one, the level may be
    anything.
    """
    found: list[Change] = []
    index, value = 0, initial
    for begin, end in gaps:
        while index < len(edges) and edges[index].latest <= begin:
            value = edges[index].value
            index += 1
        busy = index < len(edges) and edges[index].earliest < end
        if busy or value is None or end - begin < least:
            continue
        if end - begin >= 3 * least:
            found += [
                Change(level, None, begin, begin, hidden=True),
                Change(level, value, end, end, hidden=True),
            ]
            continue
        found += [
            Change(level, not value, begin, end - least, droppable=True, hidden=True),
            Change(level, value, begin + least, end, hidden=True),
        ]
    return found


def _mark_droppable(changes: list[Change], ignores: TimeRange, end: int) -> list[Change]:
    marked = []
    for index, change in enumerate(changes):
        until = changes[index + 1].earliest if index + 1 < len(changes) else end
        short = until - change.latest <= ignores.greatest and ignores.greatest > 0
        marked.append(evolve(change, droppable=short and change.value is not None))
    return marked


def moments(changes: Iterable[Change], same_moment: int, supply: Sequence[int] = ()) -> list[Change]:
    """Sort the changes by time and mark those that the board must take as one moment.

    A group is a moment if all of it surely fits inside ``same_moment`` and no level changes twice in it; a longer
    chain may be taken in together or apart. ``supply`` are the times at which the supply comes or goes, in order: what
    happens on one side of them is no moment with what happens on the other.
    """
    ordered = sorted(changes, key=lambda change: (change.earliest, change.latest, change.level))
    if not same_moment:
        return ordered
    groups: list[list[Change]] = []
    for change in ordered:
        near = bool(groups) and change.earliest - groups[-1][-1].earliest < same_moment
        if near and bisect_left(supply, change.earliest) == bisect_left(supply, groups[-1][-1].earliest):
            groups[-1].append(change)
        else:
            groups.append([change])
    marked = []
    for number, group in enumerate(groups):
        if len(group) == 1:
            marked.append(group[0])
            continue
        levels = {change.level for change in group}
        span = max(c.latest for c in group) - min(c.earliest for c in group)
        one = len(levels) == len(group) and span < same_moment
        marked += [evolve(c, moment=number) if one and c.value is not None and not c.hidden else c for c in group]
    return marked

"""What a lamp that was seen says of the lines it can have shown.

Law of this module: a lamp is held to its line from when it must have followed until the line changes, and to nothing
else. A stretch of light or darkness that reaches beyond either end of that says only how long it is at least.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Any

import z3
from attrs import frozen

from boardgauge.language.model import Blink, Dark, Flashes, Lamp, Steady
from boardgauge.language.quantities import Duration, Tolerance
from oracle.reals import Real


@frozen
class Stretch:
    """A stretch of light or darkness; ``whole`` if both of its ends were seen."""

    begins: int
    ends: int
    lit: bool
    whole: bool

    @property
    def length(self) -> int:
        """Give how long it lasted."""
        return self.ends - self.begins


Lengths = list[tuple[int, int]]
"""Ranges, any of which will do."""


def stretches(row: Sequence[tuple[int, bool]], end: int) -> list[Stretch]:
    """Give the stretches of a lamp's row."""
    edges = [*row, (end, False)]
    last = len(row) - 1
    return [Stretch(a, b, lit, 0 < i < last) for i, ((a, lit), (b, _)) in enumerate(pairwise(edges)) if b > a]


def settles(lamp: Lamp) -> int:
    """Give how long after a change of line a lamp is held to the new one."""
    return max(lamp.changes_within, lamp.not_judged_for)


def held_to(lamp: Lamp, line: int, seen: Sequence[Stretch], begins: Real, ends: Real) -> Iterator[Any]:
    """Give what must be so of the moments from which and until which a lamp is held to a line."""
    shows = lamp.lines[line].shows
    for stretch in seen:
        lengths = _lengths(lamp, line, stretch.lit)
        most = max((high for _, high in lengths), default=0)
        if lengths is not FOR_EVER and stretch.length > most:
            yield z3.Or(stretch.ends - begins <= most, ends - stretch.begins <= most, ends - begins <= most)
        elif lengths is not FOR_EVER and stretch.whole and not any(a <= stretch.length <= b for a, b in lengths):
            yield z3.Or(begins > stretch.begins, ends <= stretch.ends)
    if isinstance(shows, Flashes):
        yield from _grouped(lamp, shows.number, seen, begins, ends)


FOR_EVER: Lengths = [(0, 0)]


def _lengths(lamp: Lamp, line: int, lit: bool) -> Lengths:
    shows = lamp.lines[line].shows
    match shows:
        case Steady() | Dark():
            return FOR_EVER if isinstance(shows, Steady) == lit else []
        case Blink():
            return [_range(shows.lit if lit else shows.dark, lamp.tolerance)]
    assert lamp.flash is not None
    assert lamp.between_groups is not None
    if lit:
        return [_range(lamp.flash.lit, lamp.tolerance)]
    return [_range(lamp.flash.dark, lamp.tolerance), _range(lamp.between_groups, lamp.tolerance)]


def _range(time: int, tolerance: Tolerance) -> tuple[int, int]:
    duration = Duration(time, tolerance)
    return duration.shortest, duration.longest


def _grouped(lamp: Lamp, number: int, seen: Sequence[Stretch], begins: Real, ends: Real) -> Iterator[Any]:
    (_, inside), (between, _) = _lengths(lamp, lamp.lines.index(_of(lamp, number)), lit=False)
    if inside >= between:
        raise NotImplementedError("a dark time that may be inside a group and between two")
    gap: Stretch | None = None
    group: list[Stretch] = []
    for stretch in seen:
        if stretch.lit:
            group.append(stretch)
            if len(group) > number:
                yield z3.Or(begins >= group[-1 - number].begins, ends <= stretch.begins)
        elif stretch.length > inside:
            if gap is not None and len(group) != number:
                yield z3.Or(begins >= gap.begins, ends <= stretch.begins + inside)
            gap, group = stretch, []


def _of(lamp: Lamp, number: int) -> Any:
    return next(line for line in lamp.lines if line.shows == Flashes(number))

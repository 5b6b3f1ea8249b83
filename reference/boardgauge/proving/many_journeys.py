"""Where the rules of very many machines go in one instant, and what comes of going there.

Law of this module: a place is a truth for each place of a region, one of which holds; nothing is asked here of why
anything moves.
"""

from __future__ import annotations

from collections.abc import Sequence

from attrs import define, field

from boardgauge.proving.many_pictures import Standing
from boardgauge.proving.many_rules import Place
from boardgauge.proving.words import NO, Bits, any_of


@define
class Journey:
    """Where a region has been in one instant: whether it moved once and twice, and what events moved it."""

    start: Place
    once: Bits = NO
    twice: Bits = NO
    visited: list[Bits] = field(factory=list)
    into: Bits = NO
    out: Bits = NO

    def travel(self, is_sequence: bool, changed: Bits, new: Place) -> Bits:
        """Move on where it changed; tell where that is once too often."""
        if is_sequence:
            visited = self.visited or [NO] * len(new)
            again = any_of(here & (visited[n] | (self.start[n] if n else NO)) for n, here in enumerate(new))
            self.visited = [was | (changed & here) for was, here in zip(visited, new, strict=True)]
        else:
            again = self.twice
        self.twice = self.twice | (changed & self.once)
        self.once = self.once | changed
        return changed & again


def differ(one: Place, other: Place) -> Bits:
    """Tell where a region is in two places."""
    return any_of(a ^ b for a, b in zip(one, other, strict=True))


def one_fewer(place: Place, bits: Bits) -> tuple[Bits, ...]:
    """Give the place of a count after one of its events is too old, where the bits say so."""
    moved = [here & ~bits for here in place]
    moved[0] = moved[0] | (place[0] & bits)
    for number in range(1, len(place)):
        moved[number - 1] = moved[number - 1] | (place[number] & bits)
    return tuple(moved)


def where(bits: Bits, one: Standing, other: Standing) -> Standing:
    """Give one where the bits say so, the other elsewhere."""

    def pick(a: Sequence[Bits], b: Sequence[Bits]) -> tuple[Bits, ...]:
        return tuple((x & bits) | (y & ~bits) for x, y in zip(a, b, strict=True))

    places = tuple(pick(a, b) for a, b in zip(one.places, other.places, strict=True))
    return Standing(one.levels, places, pick(one.running, other.running), pick(one.full, other.full))

"""The time axis of a chart: where a moment is drawn, and which moments are written.

Law of this module: one scale in every piece of the axis; a break takes the same width however much it leaves out. Ticks
are multiples of 1, 2 or 5 times a power of ten, and never lie in a break.
"""

from __future__ import annotations

from itertools import pairwise

from attrs import frozen

BREAK_WIDTH = 16.0
"""Points that a break takes."""
_LEAST_BETWEEN_TICKS = 46.0


@frozen
class Piece:
    """A part of the axis without a break: from ``start`` to ``end``, drawn from ``left`` to ``right``."""

    start: int
    end: int
    left: float
    right: float


@frozen
class TimeAxis:
    """Places moments between ``left`` and ``right``, which are points on paper."""

    pieces: tuple[Piece, ...]
    scale: float
    """Points a microsecond."""

    @classmethod
    def of(cls, start: int, end: int, breaks: tuple[tuple[int, int], ...], left: float, right: float) -> TimeAxis:
        """Lay out an axis. Raises ValueError if it has no length or its breaks do not lie in it, in order."""
        borders = [start, *(time for one in breaks for time in one), end]
        if start >= end or any(a >= b for a, b in pairwise(borders)):
            raise ValueError(f"an axis from {start} to {end} with breaks {breaks} is not in order")
        shown = sum(b - a for a, b in zip(borders[::2], borders[1::2], strict=True))
        scale = (right - left - BREAK_WIDTH * len(breaks)) / shown
        pieces, x = list[Piece](), left
        for a, b in zip(borders[::2], borders[1::2], strict=True):
            pieces.append(Piece(a, b, x, x + (b - a) * scale))
            x += (b - a) * scale + BREAK_WIDTH
        return cls(tuple(pieces), scale)

    def x(self, time: int) -> float:
        """Give where a moment is drawn; one outside the axis at its end, one in a break inside the break's width."""
        first, last = self.pieces[0], self.pieces[-1]
        if time <= first.start:
            return first.left
        for piece in self.pieces:
            if piece.start <= time <= piece.end:
                return piece.left + (time - piece.start) * self.scale
        for before, after in pairwise(self.pieces):
            if before.end < time < after.start:
                part = (time - before.end) / (after.start - before.end)
                return before.right + part * (after.left - before.right)
        return last.right

    def breaks(self) -> list[float]:
        """Give the middle of every break."""
        return [(before.right + after.left) / 2 for before, after in pairwise(self.pieces)]

    @property
    def step(self) -> int:
        """The time between two ticks, in microseconds."""
        power = 1
        while True:
            for digit in (1, 2, 5):
                if digit * power * self.scale >= _LEAST_BETWEEN_TICKS:
                    return digit * power
            power *= 10

    def ticks(self, zero: int) -> list[int]:
        """Give the moments to be written, round when counted from ``zero``; at least one in every piece."""
        found: list[int] = []
        for piece in self.pieces:
            inside = _multiples(piece.start - zero, piece.end - zero, self.step)
            found += [zero + time for time in inside or [_roundest(piece.start - zero, piece.end - zero)]]
        return found


def _multiples(start: int, end: int, step: int) -> list[int]:
    return list(range(-(-start // step) * step, end + 1, step))


def _roundest(start: int, end: int) -> int:
    """Give the roundest time in a stretch: the multiple of the largest step that has one."""
    power = 10**15
    while power > 1:
        for step in (power * 5, power * 2, power):
            inside = _multiples(start, end, step)
            if inside:
                return inside[len(inside) // 2]
        power //= 10
    return start

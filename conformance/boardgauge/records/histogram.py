"""How often each time was measured, between the limits: as text, and as a picture.

Law of this module: a board counts once, where the middle of its interval lies, and no bar is narrower than what
a recording leaves open of one time. Black on white: limits are told from bars by their stroke.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Sequence

from attrs import frozen

from boardgauge.drawings.page import FAMILY
from boardgauge.drawings.svg_text import escaped, line, rect, text, width_of, wrapped
from boardgauge.records.spread import Interval

MOST_BARS = 24
WIDTH, HEIGHT = 560.0, 250.0
_LEFT, _RIGHT, _TOP, _BOTTOM = 46.0, 544.0, 58.0, 190.0
_TITLE, _SMALL = 13.0, 9.5
_LONGEST = 40
"""Letters of the longest bar of the text."""
_HATCH = (
    '<defs><pattern id="bar" width="4" height="4" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
    '<line x1="0" y1="0" x2="0" y2="4" stroke="black" stroke-width="0.8"/></pattern></defs>'
)


@frozen
class Histogram:
    """``counts[i]`` boards from ``start + i * step`` to the next, in seconds; ``limits`` are what the spec allows."""

    title: str
    start: float
    step: float
    counts: tuple[int, ...]
    limits: Interval
    middles: tuple[float, ...]

    @property
    def mean(self) -> float:
        """The mean of the middles."""
        return sum(self.middles) / len(self.middles)

    def edge(self, number: int) -> float:
        """Give where a bar begins."""
        return self.start + number * self.step


def histogram(title: str, values: Sequence[Interval], limits: Interval) -> Histogram:
    """Count measured times into bars of a round width. Raises ValueError if there are none."""
    if not values:
        raise ValueError("a histogram takes one value at least")
    middles = [value.middle for value in values]
    low, high = min(middles), max(middles)
    widths = sorted(value.width for value in values)
    # Nor finer than a thousandth of what is allowed, which nobody looks for.
    finest = max(widths[len(widths) // 2], (high - low) / MOST_BARS, limits.width / 1000, 1e-6)
    # About as many bars as the root of the number of boards.
    step = round_step(max(finest, (high - low) / max(1.0, math.sqrt(len(values)))))
    first = math.floor(low / step + 1e-9)
    counts = [0] * (math.floor(high / step + 1e-9) - first + 1)
    for middle in middles:
        counts[math.floor(middle / step + 1e-9) - first] += 1
    return Histogram(title, first * step, step, tuple(counts), limits, tuple(middles))


def round_step(least: float) -> float:
    """Give the least of 1, 2 and 5 times a power of ten that is no less."""
    power = 10.0 ** math.floor(math.log10(least) + 1e-9)
    return next(digit * power for digit in (1, 2, 5, 10) if digit * power >= least * (1 - 1e-9))


def as_text(made: Histogram) -> list[str]:
    """Give the lines of a histogram, limits among the bars where they lie."""
    edges, counts = _split_at_limits(made)
    most = max(counts)
    rows: list[tuple[float, str, str]] = []
    for number, count in enumerate(counts):
        bar = "#" * max(1 if count else 0, round(count * _LONGEST / most)) if most > _LONGEST else "#" * count
        told = f"{_edge(edges[number], made.step)} to {_edge(edges[number + 1], made.step)} s"
        rows.append((edges[number], told, f"{count:>4}  {bar}".rstrip()))
    width = max(len(told) for _, told, _ in rows)
    lines = [(at, f"{told:>{width}}  {rest}") for at, told, rest in rows]
    nudge = made.step * 1e-6
    lines.append((made.limits.low - nudge, f"{'-- least allowed':<{width}}  {made.limits.low:g} s"))
    lines.append((made.limits.high - nudge, f"{'-- most allowed':<{width}}  {made.limits.high:g} s"))
    return [row for _, row in sorted(lines, key=lambda item: item[0])]


def _split_at_limits(made: Histogram) -> tuple[list[float], list[int]]:
    """Give the edges of the bars and what they count, a bar with a limit in it as two.

    Else boards inside a limit would stand in a line above it, as if they lay outside.
    """
    edges = [made.edge(number) for number in range(len(made.counts) + 1)]
    edges += [
        limit
        for limit in {made.limits.low, made.limits.high}
        if edges[0] < limit < edges[-1] and min(abs(limit - edge) for edge in edges) > made.step * 1e-6
    ]
    edges.sort()
    counts = [0] * (len(edges) - 1)
    for middle in made.middles:
        # The greatest time allowed is itself allowed: a board that takes it stands before that line.
        at_the_limit = abs(middle - made.limits.high) <= made.step * 1e-9
        place = middle - made.step * 1e-7 if at_the_limit else middle + made.step * 1e-9
        counts[min(max(bisect_right(edges, place) - 1, 0), len(counts) - 1)] += 1
    return edges, counts


def _edge(seconds: float, step: float) -> str:
    """Write an edge with the decimals of its step, a limit that needs more with its own."""
    told = f"{seconds:.{decimals(step)}f}"
    return told if abs(float(told) - seconds) < step * 1e-6 else f"{seconds:g}"


def decimals(step: float) -> int:
    """Give how many decimals a number of this step is written with."""
    return max(0, -math.floor(math.log10(step) + 1e-9))


def as_svg(made: Histogram, notes: Sequence[str] = ()) -> str:
    """Draw a histogram with its limits, its mean, and notes below."""
    low = min(made.limits.low, made.start)
    high = max(made.limits.high, made.edge(len(made.counts)))
    margin = (high - low) * 0.04
    low, high = low - margin, high + margin

    def x(seconds: float) -> float:
        return _LEFT + (seconds - low) / (high - low) * (_RIGHT - _LEFT)

    most = max(made.counts)

    def y(count: float) -> float:
        return _BOTTOM - count / most * (_BOTTOM - _TOP - 14)

    parts = [text(made.title, 10, 18, _TITLE, ' font-weight="bold"')]
    for count in _whole_steps(most):
        parts.append(line(_LEFT, y(count), _RIGHT, y(count), 0.4, ' class="grid" stroke-opacity="0.3"'))
        parts.append(text(str(count), _LEFT - 5, y(count) + 3, _SMALL, ' text-anchor="end"'))
    for number, count in enumerate(made.counts):
        if count:
            left, right = x(made.edge(number)), x(made.edge(number + 1))
            bar = 'fill="white" stroke="none"'
            parts.append(rect(left, y(count), right - left, _BOTTOM - y(count), bar))
            bar = 'class="bar" fill="url(#bar)" stroke="black" stroke-width="0.8"'
            parts.append(rect(left, y(count), right - left, _BOTTOM - y(count), bar))
    parts.append(line(_LEFT, _BOTTOM, _RIGHT, _BOTTOM, 0.9))
    parts += _ticks(low, high, x)
    least, greatest = f"least allowed {made.limits.low:g} s", f"most allowed {made.limits.high:g} s"
    room = x(made.limits.high) - x(made.limits.low) > width_of(least, _SMALL) + width_of(greatest, _SMALL) + 8
    for at, words, anchor in (
        (made.limits.low, least, "start" if room else "end"),
        (made.limits.high, greatest, "end" if room else "start"),
    ):
        parts.append(line(x(at), _TOP - 6, x(at), _BOTTOM, 1.6, ' class="limit"'))
        parts.append(text(words, x(at), _TOP - 10, _SMALL, f' text-anchor="{anchor}"'))
    parts.append(line(x(made.mean), _TOP + 9, x(made.mean), _BOTTOM, 1.0, ' class="mean" stroke-dasharray="5 3"'))
    words = f"mean {made.mean:.{decimals(made.step) + 1}f} s"
    half = width_of(words, _SMALL) / 2
    middle = min(max(x(made.mean), _LEFT + half), _RIGHT - half)
    parts.append(text(words, middle, _TOP + 5, _SMALL, ' text-anchor="middle"', halo=True))
    parts.append(text("seconds", (_LEFT + _RIGHT) / 2, _BOTTOM + 26, _SMALL, ' text-anchor="middle"'))
    parts.append(text("boards", 10, _TOP - 10, _SMALL))
    bottom = _BOTTOM + 44
    for note in notes:
        for words in wrapped(note, _SMALL, WIDTH - 20):
            parts.append(text(words, 10, bottom, _SMALL))
            bottom += _SMALL * 1.35
    height = max(HEIGHT, bottom + 4)
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH:.0f}pt" height="{height:.1f}pt"'
        f' viewBox="0 0 {WIDTH:.0f} {height:.1f}" font-family="{FAMILY}">'
    )
    ground = rect(0, 0, WIDTH, height, 'fill="white"')
    return "\n".join([head, f"<title>{escaped(made.title)}</title>", _HATCH, ground, *parts, "</svg>", ""])


def _whole_steps(most: int) -> list[int]:
    step = max(1, round(round_step(most / 5)))
    return list(range(step, most + 1, step))


def _ticks(low: float, high: float, x: object) -> list[str]:
    assert callable(x)
    step = round_step((high - low) / 8)
    parts = []
    for number in range(math.ceil(low / step), math.floor(high / step) + 1):
        at = number * step
        parts.append(line(x(at), _BOTTOM, x(at), _BOTTOM + 4, 0.8))
        parts.append(text(f"{at:.{decimals(step)}f}", x(at), _BOTTOM + 14, _SMALL, ' text-anchor="middle"'))
    return parts

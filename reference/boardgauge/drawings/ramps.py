"""Draw what is no wave on a timing chart: the ramps of timings, the curve of a sensor, and the arrows of causes.

Law of this module: a ramp begins where its timing begins to count and ends where it is over or cut short; an arrow
begins at the moment that is the cause and its head stands at the change. Told apart by shape alone: a ramp that ran to
its end carries a dot there, one that was cut short drops by a dotted line.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise
from math import hypot, isnan

from boardgauge.drawings.chart import Cause, Curve, Ramp
from boardgauge.drawings.svg_text import line, path, rect, text
from boardgauge.drawings.time_axis import TimeAxis

TIMING_HEIGHT, CURVE_HEIGHT = 17.0, 40.0
_FILL = 'fill="#e6e6e6" stroke="none"'
_LEAST_LABELS_APART = 8.5


def draw_ramp(ramp: Ramp, high: float, low: float, axis: TimeAxis) -> Iterator[str]:
    """Give a ramp between two levels, with its window hatched behind it."""
    points = [(axis.x(time), low - part * (low - high)) for time, part in _with_breaks(ramp.points, axis)]
    end = points[-1]
    yield path([*points, (end[0], low)], f'class="ramp-ground" {_FILL}', closed=True)
    if ramp.window is not None:
        yield from _hatched(ramp.window, high, low, axis)
    yield path(points, 'class="ramp" fill="none" stroke="black" stroke-width="1.1" stroke-linejoin="round"')
    if ramp.over:
        yield line(end[0], end[1], end[0], low, 1.1, ' class="over"')
        yield f'<circle class="end" cx="{end[0]:.2f}" cy="{end[1]:.2f}" r="1.9"/>'
    elif ramp.cut:
        yield line(end[0], end[1], end[0], low, 1.1, ' class="cut" stroke-dasharray="1.2 1.6"')


def _with_breaks(points: Sequence[tuple[int, float]], axis: TimeAxis) -> Iterator[tuple[int, float]]:
    """Add the borders of breaks: what runs on through a break is higher behind it."""
    borders = [time for piece in axis.pieces for time in (piece.start, piece.end)]
    for (a, low), (b, high) in pairwise(points):
        yield a, low
        for time in borders:
            if a < time < b:
                yield time, low + (high - low) * (time - a) / (b - a)
    yield points[-1]


def _hatched(window: tuple[int, int], high: float, low: float, axis: TimeAxis) -> Iterator[str]:
    left, right = axis.x(window[0]), axis.x(window[1])
    if right - left < 2:
        # Too narrow to be hatched on this paper: one thick stroke.
        middle = (left + right) / 2
        left, right = middle - 1, middle + 1
        yield rect(left, high - 2, 2, low - high + 4, 'class="window" fill="black" fill-opacity="0.45"')
        return
    yield rect(left, high - 2, right - left, low - high + 4, 'class="window" fill="url(#allowed)"')
    for x in (left, right):
        yield line(x, high - 2, x, low + 2, 0.6, ' class="limit"')


def base_line(high: float, low: float, left: float, right: float) -> Iterator[str]:
    """Give the line on which ramps stand, and where their top is."""
    yield line(left, low, right, low, 0.6, ' class="base"')
    yield line(left, high, right, high, 0.4, ' class="base" stroke-dasharray="1 3"')


def span_of(curve: Curve) -> tuple[float, float]:
    """Give the least and the greatest number that a curve and its limits need, with some room."""
    numbers = [v for _, v in curve.points if not isnan(v)] + [v for v, _ in curve.limits]
    least, most = min(numbers, default=0.0), max(numbers, default=1.0)
    room = max((most - least) * 0.1, 0.5 if most == least else 0.0)
    return least - room, most + room


def draw_curve(curve: Curve, high: float, low: float, axis: TimeAxis, ends: tuple[float, float]) -> Iterator[str]:
    """Give a sensor's curve with its limits; ``ends`` are the x of the axis."""
    least, most = span_of(curve)

    def y(number: float) -> float:
        return low - (number - least) / (most - least) * (low - high)

    yield line(ends[0], high, ends[0], low, 0.6, ' class="base"')
    places = _apart([y(number) for number, _ in curve.limits], high, low)
    for (number, words), place in zip(curve.limits, places, strict=True):
        yield line(ends[0], y(number), ends[1], y(number), 0.7, ' class="limit" stroke-dasharray="4 2.5"')
        yield text(words, ends[0] - 5, place + 2.5, 8.0, ' text-anchor="end"')
    for part in _parts(curve.points):
        drawn: list[tuple[float, float]] = []
        for time, number in part:
            if curve.steps and drawn:
                drawn.append((axis.x(time), drawn[-1][1]))
            drawn.append((axis.x(time), y(number)))
        if len(drawn) > 1:
            yield path(drawn, 'class="curve" fill="none" stroke="black" stroke-width="1.3" stroke-linejoin="round"')


def height_at(curve: Curve, time: int, high: float, low: float) -> float:
    """Give where a curve is drawn at a time, in the middle of a jump."""
    least, most = span_of(curve)
    before = [v for t, v in curve.points if t < time and not isnan(v)] or [v for _, v in curve.points[:1]]
    after = [v for t, v in curve.points if t >= time and not isnan(v)] or before
    number = (before[-1] + after[0]) / 2
    return low - (number - least) / (most - least) * (low - high)


def _parts(points: Sequence[tuple[int, float]]) -> Iterator[list[tuple[int, float]]]:
    part: list[tuple[int, float]] = []
    for time, number in points:
        if isnan(number):
            yield part
            part = []
        else:
            part.append((time, number))
    yield part


def _apart(wanted: list[float], high: float, low: float) -> list[float]:
    """Move labels off each other, keeping their order."""
    order = sorted(range(len(wanted)), key=lambda i: wanted[i])
    placed = [wanted[i] for i in order]
    for number in range(1, len(placed)):
        placed[number] = max(placed[number], placed[number - 1] + _LEAST_LABELS_APART)
    over = max(0.0, placed[-1] - low - 4) if placed else 0.0
    found = list(wanted)
    for index, y in zip(order, placed, strict=True):
        found[index] = y - over
    return found


def draw_cause(cause: Cause, start: tuple[float, float], end: tuple[float, float]) -> Iterator[str]:
    """Give the arrow of a cause, bent so that it does not run along the edges it joins."""
    (x1, y1), (x2, y2) = start, end
    away = abs(y2 - y1)
    bend = 5.0 + min(14.0, away * 0.07)
    one = (x1 + bend, y1 + (y2 - y1) * 0.25) if x2 - x1 < 2 * bend else (x1 + (x2 - x1) * 0.3, y1 + (y2 - y1) * 0.15)
    two = (x2 + bend, y1 + (y2 - y1) * 0.7) if x2 - x1 < 2 * bend else (x2 - bend, y2 - (y2 - y1) * 0.35)
    curve = f"M {x1:.2f} {y1:.2f} C {one[0]:.2f} {one[1]:.2f} {two[0]:.2f} {two[1]:.2f} {x2:.2f} {y2:.2f}"
    said = f'data-from="{cause.at}" data-to="{cause.time}"'
    yield f'<path class="cause" {said} d="{curve}" fill="none" stroke="white" stroke-width="2.2"/>'
    yield f'<path d="{curve}" fill="none" stroke="black" stroke-width="0.7"/>'
    dx, dy = x2 - two[0], y2 - two[1]
    long = hypot(dx, dy) or 1.0
    ux, uy = dx / long, dy / long
    back = (x2 - 5.0 * ux, y2 - 5.0 * uy)
    head = [(x2, y2), (back[0] - 1.9 * uy, back[1] + 1.9 * ux), (back[0] + 1.9 * uy, back[1] - 1.9 * ux)]
    yield path(head, 'class="head" fill="black"', closed=True)
    yield f'<circle class="from" cx="{x1:.2f}" cy="{y1:.2f}" r="1.5"/>'

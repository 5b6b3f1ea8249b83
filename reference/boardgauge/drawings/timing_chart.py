"""Draw a timing chart: signals over time, one row each, as SVG.

Law of this module: a pure function of the chart; black on white, and what is told apart is told apart by shape, stroke
or hatching. Where a moment stands is the axis's to say, and no part of the chart places one otherwise.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import pairwise

from boardgauge.drawings.chart import Cause, Chart, Ramp
from boardgauge.drawings.page import FAMILY
from boardgauge.drawings.ramps import draw_cause, draw_ramp, height_at
from boardgauge.drawings.svg_text import escaped, lanes, line, rect, text, width_of, wrapped
from boardgauge.drawings.time_axis import TimeAxis
from boardgauge.drawings.waveform import (
    EDGE,
    LABEL,
    LANE,
    LEFT,
    RIGHT,
    SMALL,
    TEXT,
    Place,
    draw_row,
    marks_of,
    places_of,
    slashes,
)

WIDTH = 720.0
"""Points: a page of letter paper on its side, less its margins."""
_TITLE = 14.0
_LEADING = 1.3
_PATTERNS = (
    '<defs><pattern id="allowed" width="4.5" height="4.5" patternUnits="userSpaceOnUse"'
    ' patternTransform="rotate(45)"><line x1="0" y1="0" x2="0" y2="4.5" stroke="black" stroke-width="0.9"/></pattern>'
    '<pattern id="unknown" width="5" height="5" patternUnits="userSpaceOnUse">'
    '<path d="M 0 0 L 5 5 M 0 5 L 5 0" stroke="black" stroke-width="0.5"/></pattern></defs>'
)


def timing_chart(chart: Chart) -> str:
    """Give a chart as SVG. Raises ValueError if its breaks do not lie in it, in order."""
    axis = axis_of(chart)
    parts = [text(chart.title, EDGE, EDGE + _TITLE, _TITLE, ' font-weight="bold"')] if chart.title else []
    y = EDGE + _TITLE * _LEADING if chart.title else 0.0
    for words in wrapped(chart.subtitle, TEXT, WIDTH - 2 * EDGE) if chart.subtitle else ():
        parts.append(text(words, EDGE, y + TEXT, TEXT))
        y += TEXT * _LEADING
    heads = lanes([(axis.x(one.latest), one.label) for one in chart.lines], LABEL, LEFT, RIGHT)
    y += 10 + LANE * (1 + max((lane for _, lane in heads), default=-1))
    top = y
    places, y = places_of(chart, axis, y)
    marks = marks_of(chart, axis)
    bottom = y + 9
    parts += _grid(chart, axis, top, bottom)
    parts += _lines(chart, axis, [top - lane * LANE for _, lane in heads], bottom)
    for place in places:
        parts += draw_row(chart, place, axis, marks)
    parts += _causes(chart, places, axis)
    parts += _axis(chart, axis, bottom)
    for (middle, lane), one in zip(heads, chart.lines, strict=True):
        parts.append(text(one.label, middle, top - 3 - lane * LANE, LABEL, ' text-anchor="middle"', halo=True))
    y = bottom + 34
    key, y = _key(chart, axis, y)
    meant, y = _meant(marks, y)
    below, y = _notes(chart, y)
    height = y + EDGE
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH:.2f}pt" height="{height:.2f}pt"'
        f' viewBox="0 0 {WIDTH:.2f} {height:.2f}" font-family="{FAMILY}">'
    )
    ground = rect(0, 0, WIDTH, height, 'fill="white"')
    return "\n".join([head, _title(chart), _PATTERNS, ground, *parts, *key, *meant, *below, "</svg>", ""])


def axis_of(chart: Chart) -> TimeAxis:
    """Give the axis on which a chart is drawn."""
    return TimeAxis.of(chart.start, chart.end, chart.breaks, LEFT, RIGHT)


def _title(chart: Chart) -> str:
    return f"<title>{escaped(chart.title)}</title>"


# -- round the rows ------------------------------------------------------------------------------------------------


def _grid(chart: Chart, axis: TimeAxis, top: float, bottom: float) -> Iterator[str]:
    for time in axis.ticks(chart.zero):
        yield line(axis.x(time), top, axis.x(time), bottom, 0.5, ' class="grid" stroke-opacity="0.2"')


def _lines(chart: Chart, axis: TimeAxis, tops: list[float], bottom: float) -> Iterator[str]:
    for one, top in zip(chart.lines, tops, strict=True):
        xs = sorted({axis.x(one.earliest), axis.x(one.latest)})
        for x in xs if xs[-1] - xs[0] > 1.5 else xs[-1:]:
            yield line(x, top, x, bottom, 0.9, ' class="counted" stroke-dasharray="5 3"')


def _causes(chart: Chart, places: list[Place], axis: TimeAxis) -> Iterator[str]:
    rows = {place.row.id: place for place in places}
    for cause in chart.causes:
        source, target = rows.get(cause.source), rows.get(cause.target)
        if source is None or target is None or not chart.start <= cause.at <= cause.time <= chart.end:
            continue
        down = target.middle > source.middle
        start = source.high if source.row.timing else source.middle
        if source.row.curve is not None:
            start = height_at(source.row.curve, cause.at, source.high, source.low)
        end = target.high if down and not target.row.timing else target.low
        yield from draw_cause(cause, (axis.x(cause.at), start), (axis.x(cause.time), end))


def _axis(chart: Chart, axis: TimeAxis, y: float) -> Iterator[str]:
    for piece in axis.pieces:
        yield line(piece.left, y, piece.right, y, 0.9)
    for before, after in pairwise(axis.pieces):
        yield line(before.right, y, after.left, y, 0.9)
    for x in axis.breaks():
        yield from slashes(x, y - 4, y + 4)
    last = LEFT - 20.0
    for time in axis.ticks(chart.zero):
        x, words = axis.x(time), _seconds(time - chart.zero)
        yield line(x, y, x, y + 4, 0.9, ' class="tick"')
        half = width_of(words, SMALL) / 2
        if x - half > last + 4:
            yield text(words, x, y + 13, SMALL, ' text-anchor="middle" class="time"')
            last = x + half
    yield text(chart.axis, (LEFT + RIGHT) / 2, y + 25, SMALL, ' text-anchor="middle" font-style="italic"')


def _seconds(time: int) -> str:
    return f"{time / 1_000_000:.6f}".rstrip("0").rstrip(".")


def _key(chart: Chart, axis: TimeAxis, y: float) -> tuple[list[str], float]:
    """Explain the signs that a chart uses."""
    signs: list[tuple[str, str]] = []
    if chart.windows:
        signs.append(("allowed", "change allowed"))
    ramps = [ramp for row in chart.rows for ramp in row.ramps]
    if any(ramp.window is not None for ramp in ramps):
        signs.append(("allowed", "timing may be over"))
    if any(ramp.over for ramp in ramps):
        signs.append(("over", "over"))
    if any(ramp.cut for ramp in ramps):
        signs.append(("cut", "cut short"))
    if chart.causes:
        signs.append(("cause", "brings about"))
    if any(row.initial is None or any(edge.value is None for edge in row.edges) for row in chart.rows):
        signs.append(("unknown", "not known"))
    if any((e.latest - e.earliest) * axis.scale > 1 for row in chart.rows for e in row.drawn()):
        signs.append(("slant", "change not known more closely"))
    if chart.breaks:
        left_out = sum(b - a for a, b in chart.breaks)
        signs.append(("break", f"time left out, {_seconds(round(left_out, -5))} s in all"))
    parts, x = list[str](), LEFT
    for sign, words in signs:
        if sign == "slant":
            parts += [line(x, y + 8, x + 5, y + 8, 1.1), line(x + 5, y + 8, x + 11, y, 1.1)]
            parts.append(line(x + 11, y, x + 16, y, 1.1))
        elif sign in {"over", "cut"}:
            ramp = Ramp(((0, 0.0), (16, 1.0)), sign == "over", sign == "cut")
            parts += draw_ramp(ramp, y - 1, y + 9, TimeAxis.of(0, 16, (), x, x + 16))
        elif sign == "cause":
            parts += draw_cause(Cause("", 0, "", 0), (x, y), (x + 16, y + 8))
        elif sign == "break":
            parts += [line(x, y + 4, x + 16, y + 4, 1.1), *slashes(x + 8, y - 1, y + 9)]
        else:
            parts.append(rect(x, y - 1, 16, 10, f'fill="url(#{sign})" stroke="black" stroke-width="0.6"'))
        parts.append(text(words, x + 21, y + 7, SMALL))
        x += 21 + width_of(words, SMALL) + 18
    return parts, y + (18 if signs else 0)


def _meant(marks: Mapping[str, str], y: float) -> tuple[list[str], float]:
    """Say what the letters in bands stand for."""
    parts, x = list[str](), LEFT
    for words, mark in marks.items():
        said = f"{mark}  {words}"
        if x > LEFT and x + width_of(said, SMALL) > RIGHT:
            x, y = LEFT, y + SMALL * _LEADING + 2
        parts.append(text(said, x, y + 7, SMALL, ' class="meant"'))
        x += width_of(said, SMALL) + 18
    return parts, y + (SMALL * _LEADING + 4 if marks else 0)


def _notes(chart: Chart, y: float) -> tuple[list[str], float]:
    parts = []
    y += 6
    for heading, words in chart.notes:
        parts.append(text(heading, EDGE, y + TEXT, TEXT, ' font-style="italic"'))
        for one in wrapped(words, TEXT, WIDTH - 2 * EDGE - 80):
            parts.append(text(one, EDGE + 80, y + TEXT, TEXT))
            y += TEXT * _LEADING
    if chart.footer:
        y += 5
        for one in wrapped(chart.footer, SMALL, WIDTH - 2 * EDGE):
            parts.append(text(one, EDGE, y + SMALL, SMALL))
            y += SMALL * _LEADING
    return parts, y

"""Draw one row of a timing chart: its levels and changes, its windows, arrows and breaks.

Law of this module: every change of a row is one stroke, from its earliest moment at the old level to its latest at the
new one: upright where it is known to the moment, slanted where it is not. Levels lie between changes and nowhere else.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from xml.sax.saxutils import escape

from attrs import frozen

from boardgauge.drawings.chart import Arrow, Band, Chart, Row, Window
from boardgauge.drawings.ramps import CURVE_HEIGHT, TIMING_HEIGHT, base_line, draw_curve, draw_ramp
from boardgauge.drawings.svg_text import lanes, line, path, rect, text, width_of, wrapped
from boardgauge.drawings.time_axis import TimeAxis

EDGE = 12.0
"""The margin of a chart, in points as everything here."""
LEFT, RIGHT = 190.0, 702.0
"""Where the axis begins and ends."""
HIGH = 15.0
"""From the low level of a row to the high one."""
LANE = 11.5
"""From one lane of labels to the next."""
TEXT, LABEL, SMALL = 9.5, 9.0, 8.0
"""The type sizes below the title's."""
_NAMES = 132.0
_BETWEEN = 13.0
_SLASH = 3.0


@frozen
class Place:
    """Where a row is drawn: the y of its two levels, with the room above and below for labels."""

    row: Row
    high: float
    low: float

    @property
    def middle(self) -> float:
        return (self.high + self.low) / 2

    def level(self, value: bool) -> float:
        return self.high if value else self.low


def _arrows(chart: Chart, row: Row, axis: TimeAxis) -> list[tuple[Arrow, float, int]]:
    """Give the arrows of a row with the middle and the lane of their labels."""
    arrows = [arrow for arrow in chart.arrows if arrow.row == row.id]
    wanted = [((axis.x(a.time) + axis.x(a.time if a.until is None else a.until)) / 2, a.label) for a in arrows]
    found = lanes(wanted, LABEL, LEFT, RIGHT)
    return [(arrow, middle, lane) for arrow, (middle, lane) in zip(arrows, found, strict=True)]


def _windows(chart: Chart, row: Row, axis: TimeAxis) -> list[tuple[Window, float, int]]:
    windows = [window for window in chart.windows if window.row == row.id]
    found = lanes([((axis.x(w.earliest) + axis.x(w.latest)) / 2, w.label) for w in windows], LABEL, LEFT, RIGHT)
    return [(window, middle, lane) for window, (middle, lane) in zip(windows, found, strict=True)]


def places_of(chart: Chart, axis: TimeAxis, y: float) -> tuple[list[Place], float]:
    places, marks = [], marks_of(chart, axis)
    for row in chart.rows:
        above = [lane for _, _, lane in _arrows(chart, row, axis)]
        below = [lane for _, _, lane in _windows(chart, row, axis)]
        y += _BETWEEN + (8 + LANE * (1 + max(above)) if above else 0)
        tall = CURVE_HEIGHT if row.curve is not None else TIMING_HEIGHT if row.timing else HIGH
        places.append(Place(row, y, y + tall))
        y += tall + (5 + LANE * (1 + max(below)) if below else 0)
        y += SMALL / 2 if not all(inside for _, _, inside in _marked(row, axis, marks)) else 0
    return places, y


def marks_of(chart: Chart, axis: TimeAxis) -> dict[str, str]:
    """Give a letter for each pattern that has no room for its words; the letter stands in the band, the words below."""
    found: dict[str, str] = {}
    for band in (band for row in chart.rows for band in row.bands):
        if band.text.strip() and band.text not in found and _room_for_words(band, axis) is None:
            found[band.text] = _letter(len(found))
    return found


def _marked(row: Row, axis: TimeAxis, marks: Mapping[str, str]) -> Iterator[tuple[str, float, bool]]:
    """Give the letters at a row: where their middles are, and whether there is room for them inside their bands."""
    last = 0.0
    for band in row.bands:
        if band.text not in marks or _room_for_words(band, axis) is not None:
            continue
        mark = marks[band.text]
        half = width_of(mark, SMALL) / 2
        middle = (axis.x(band.start) + axis.x(band.end)) / 2
        inside = 2 * half + 4 <= axis.x(band.end) - axis.x(band.start) and not _on_a_break(middle, half, axis)
        if not inside:
            # Below a band that is too short even for a letter, and beside the letter before.
            middle = max(middle, last + half + 2)
            last = middle + half
        yield mark, middle, inside


def _letter(number: int) -> str:
    return (_letter(number // 26 - 1) if number >= 26 else "") + chr(ord("a") + number % 26)


def draw_row(chart: Chart, place: Place, axis: TimeAxis, marks: Mapping[str, str]) -> Iterator[str]:
    row = place.row
    yield f'<g class="row" data-row="{escape(row.id)}">'
    yield from _names(place)
    for window, middle, lane in _windows(chart, row, axis):
        yield from _window(window, middle, lane, place, axis)
    if row.curve is not None:
        yield from draw_curve(row.curve, place.high, place.low, axis, (LEFT, RIGHT))
    elif row.timing:
        yield from base_line(place.high, place.low, LEFT, RIGHT)
        for ramp in row.ramps:
            yield from draw_ramp(ramp, place.high, place.low, axis)
    else:
        yield from _wave(chart, place, axis)
    for band in row.bands:
        yield from _band(chart, band, place, axis)
    for mark, middle, inside in _marked(row, axis, marks):
        y = place.middle + 2.8 if inside else place.low + SMALL + 0.5
        yield text(mark, middle, y, SMALL, ' text-anchor="middle" class="mark"')
    for x in axis.breaks():
        yield from slashes(x, place.high - 3, place.low + 3)
    for arrow, middle, lane in _arrows(chart, row, axis):
        yield from _arrow(arrow, middle, lane, place, axis)
    yield "</g>"


def _names(place: Place) -> Iterator[str]:
    row = place.row
    bold = ' font-weight="bold"' if row.emphasised else ""
    names = wrapped(row.name, TEXT, _NAMES - 6)
    if len(names) > 2:
        names = [names[0], names[1].rstrip(".,;: ")[:-1] + "…"]
    detail = len(names) == 1 and row.detail
    y = place.middle + (-1 if detail else 3.2 if len(names) == 1 else -1.5)
    for number, name in enumerate(names):
        yield text(name, EDGE, y + number * 10.5, TEXT, bold)
    if detail:
        yield text(row.detail, EDGE, y + 9.5, SMALL)
    yield text(row.high, LEFT - 5, place.high + 2.5, SMALL, ' text-anchor="end"')
    yield text(row.low, LEFT - 5, place.low + 2.5, SMALL, ' text-anchor="end"')


def _wave(chart: Chart, place: Place, axis: TimeAxis) -> Iterator[str]:
    """Draw levels, then changes, so that a change never hides under a level."""
    row, wide = place.row, 1.7 if place.row.emphasised else 1.1
    since, value = chart.start, row.initial
    strokes: list[str] = []
    for edge in row.edges:
        yield from _level(since, edge.earliest, value, place, axis, wide)
        if edge in row.drawn():
            strokes.append(_change(edge.earliest, edge.latest, value, edge.value, place, axis, wide))
        since, value = edge.latest, edge.value
    yield from _level(since, chart.end, value, place, axis, wide)
    yield from strokes


def _level(since: int, until: int, value: bool | None, place: Place, axis: TimeAxis, wide: float) -> Iterator[str]:
    if until <= since or any(band.start <= since and until <= band.end for band in place.row.bands):
        return
    left, right = axis.x(since), axis.x(until)
    if value is None:
        box = (left, place.high, right - left, place.low - place.high)
        yield rect(*box, 'class="unknown" fill="url(#unknown)" stroke="black" stroke-width="0.6"')
    else:
        y = place.level(value)
        yield line(left, y, right, y, wide, ' class="level" stroke-linecap="round"')


def _change(
    earliest: int, latest: int, old: bool | None, new: bool | None, place: Place, axis: TimeAxis, wide: float
) -> str:
    # What is lost or found again is bounded by an upright stroke over the whole height.
    start = place.level(old) if old is not None else place.level(not new)
    end = place.level(new) if new is not None else place.level(not old)
    return line(axis.x(earliest), start, axis.x(latest), end, wide, ' class="edge" stroke-linecap="round"')


def _band(chart: Chart, band: Band, place: Place, axis: TimeAxis) -> Iterator[str]:
    """Draw a lasting pattern as data on a bus is drawn: two levels that meet where it begins and ends."""
    left, right = axis.x(band.start), axis.x(band.end)
    tip = min(3.0, (right - left) / 2)
    points = [(left + tip, place.high), (right - tip, place.high), (right, place.middle)]
    points += [(right - tip, place.low), (left + tip, place.low), (left, place.middle)]
    if band.start <= chart.start:
        points[0], points[4:] = (left, place.high), [(left, place.low)]
    if band.end >= chart.end:
        points[1:4] = [(right, place.high), (right, place.low)]
    yield path(points, 'class="band" fill="white" stroke="black" stroke-width="1.1"', closed=True)
    room = _room_for_words(band, axis)
    if room is not None:
        yield text(room[0], room[1], place.middle + 2.8, SMALL, ' text-anchor="middle"')


def _room_for_words(band: Band, axis: TimeAxis) -> tuple[str, float] | None:
    """Give the words of a band for which there is room between breaks, and where their middle is."""
    left, right = axis.x(band.start), axis.x(band.end)
    spans = [(max(left, p.left), min(right, p.right)) for p in axis.pieces if p.left < right and left < p.right]
    for words in (band.text, band.brief):
        for start, end in sorted(spans, key=lambda span: span[0] - span[1]):
            if words and width_of(words, SMALL) + 6 <= end - start:
                return words, (start + end) / 2
    return None


def _on_a_break(middle: float, half: float, axis: TimeAxis) -> bool:
    return any(abs(x - middle) < half + _SLASH + 4 for x in axis.breaks())


def _window(window: Window, middle: float, lane: int, place: Place, axis: TimeAxis) -> Iterator[str]:
    left, right = axis.x(window.earliest), axis.x(window.latest)
    high, low = place.high - 3, place.low + 3
    yield rect(left, high, right - left, low - high, 'class="window" fill="url(#allowed)"')
    for x in (left, right):
        yield line(x, high, x, low + 3, 0.7, ' class="limit"')
    y = low + LANE * (1 + lane) - 1
    yield text(window.label, middle, y, LABEL, ' text-anchor="middle"', halo=True)


def _arrow(arrow: Arrow, middle: float, lane: int, place: Place, axis: TimeAxis) -> Iterator[str]:
    x = axis.x(arrow.time)
    base = place.high - 12 - lane * LANE
    yield text(arrow.label, middle, base, LABEL, ' text-anchor="middle" font-weight="bold"', halo=True)
    if arrow.until is not None:
        end, y = axis.x(arrow.until), place.high - 5
        yield path([(x, y + 3), (x, y), (end, y), (end, y + 3)], 'class="bracket" fill="none" stroke="black"')
        return
    yield line(x, base + 2.5, x, place.high - 2, 1, ' class="arrow"')
    yield path([(x - 3, place.high - 6.5), (x + 3, place.high - 6.5), (x, place.high)], 'fill="black"', closed=True)


def slashes(x: float, high: float, low: float) -> Iterator[str]:
    """Cut what is drawn with the double slash of a break."""
    one, other = x - _SLASH, x + _SLASH
    corners = [(one - 2, low), (one + 2, high), (other + 2, high), (other - 2, low)]
    yield path(corners, 'class="break" fill="white" stroke="none"', closed=True)
    yield line(one - 2, low, one + 2, high, 0.8)
    yield line(other - 2, low, other + 2, high, 0.8)

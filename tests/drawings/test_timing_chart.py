"""Law: a timing chart places every moment where its axis says, draws every change once, and needs no colour."""

from __future__ import annotations

import re
from itertools import pairwise
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boardgauge.drawings.chart import Arrow, Band, Chart, Edge, Line, Row, Window
from boardgauge.drawings.svg_text import lanes, width_of
from boardgauge.drawings.time_axis import BREAK_WIDTH, TimeAxis
from boardgauge.drawings.timing_chart import axis_of, timing_chart
from boardgauge.drawings.waveform import SMALL

S = 1_000_000
SVG = "{http://www.w3.org/2000/svg}"
PLAIN = Chart("a chart", 0, 100 * S, (Row("a", "a", False, (Edge(10 * S, 10 * S, True),)),))


def elements(svg: str, kind: str) -> list[ElementTree.Element]:
    """Give the elements of a class."""
    return [one for one in ElementTree.fromstring(svg).iter() if one.get("class") == kind]


def number(one: ElementTree.Element, name: str) -> float:
    return float(one.get(name, "nan"))


@st.composite
def rows(draw: st.DrawFn, name: str) -> Row:
    """A row whose changes come in order, some of them uncertain, some of them to not known."""
    times = sorted(draw(st.lists(st.integers(1, 100 * S - 1), max_size=24, unique=True)))
    value = initial = draw(st.sampled_from([True, False, None]))
    edges = []
    for early, late in zip(times[::2], times[1::2], strict=False):
        value = draw(st.sampled_from([other for other in (True, False, None) if other is not value]))
        edges.append(Edge(early, draw(st.sampled_from([early, late])), value))
    return Row(name, name, initial, tuple(edges), emphasised=draw(st.booleans()))


@st.composite
def charts(draw: st.DrawFn) -> Chart:
    """A chart of up to three rows with a window, arrows, a line, and breaks where nothing changes."""
    made = tuple(draw(rows(name)) for name in "abc"[: draw(st.integers(1, 3))])
    moments = sorted({0, 100 * S, *(t for row in made for e in row.edges for t in (e.earliest, e.latest))})
    quiet = [(a + S, b - S) for a, b in pairwise(moments) if b - a > 10 * S]
    low, high = sorted(draw(st.lists(st.integers(0, 100 * S), min_size=2, max_size=2, unique=True)))
    words = st.text(max_size=30)
    return Chart(
        draw(words),
        0,
        100 * S,
        made,
        windows=(Window("a", low, high, draw(words)),),
        arrows=tuple(Arrow("a", t, draw(words)) for t in draw(st.lists(st.integers(0, 100 * S), max_size=3))),
        lines=(Line(low, high, draw(words)),),
        breaks=tuple(one for one in quiet if draw(st.booleans())),
        notes=((draw(words), draw(words)),),
        subtitle=draw(words),
        footer=draw(words),
    )


@settings(max_examples=25, deadline=None)
@given(charts())
def test_every_change_is_one_stroke_between_its_earliest_and_its_latest(chart: Chart) -> None:
    axis, svg = axis_of(chart), timing_chart(chart)
    drawn = sorted((number(e, "x1"), number(e, "x2")) for e in elements(svg, "edge"))
    meant = [(e.earliest, e.latest) for row in chart.rows for e in row.edges]
    assert drawn == sorted((float(f"{axis.x(a):.2f}"), float(f"{axis.x(b):.2f}")) for a, b in meant)


@settings(max_examples=15, deadline=None)
@given(charts())
def test_a_window_is_hatched_from_one_limit_to_the_other(chart: Chart) -> None:
    axis, svg = axis_of(chart), timing_chart(chart)
    (band,) = elements(svg, "window")
    left, right = axis.x(chart.windows[0].earliest), axis.x(chart.windows[0].latest)
    assert (number(band, "x"), number(band, "x") + number(band, "width")) == pytest.approx((left, right), abs=0.02)
    assert band.get("fill") == "url(#allowed)"
    assert sorted(number(limit, "x1") for limit in elements(svg, "limit")) == pytest.approx([left, right], abs=0.006)


@settings(max_examples=15, deadline=None)
@given(charts())
def test_it_is_black_and_white(chart: Chart) -> None:
    svg = timing_chart(chart)
    paints = {one.get(name) for one in ElementTree.fromstring(svg).iter() for name in ("fill", "stroke")}
    assert paints <= {None, "none", "black", "white", "url(#allowed)", "url(#unknown)"}


@settings(max_examples=15, deadline=None)
@given(charts())
def test_everything_lies_on_the_sheet(chart: Chart) -> None:
    root = ElementTree.fromstring(timing_chart(chart))
    width, height = (float(root.get(name, "").removesuffix("pt")) for name in ("width", "height"))
    for one in (inner for part in root if part.tag != f"{SVG}defs" for inner in part.iter()):
        for name, most in (("x", width), ("x1", width), ("x2", width), ("y", height), ("y1", height), ("y2", height)):
            assert 0 <= float(one.get(name, 0)) <= most


@settings(max_examples=15, deadline=None)
@given(charts())
def test_the_same_chart_gives_the_same_text(chart: Chart) -> None:
    assert timing_chart(chart) == timing_chart(chart)


def test_levels_fill_the_row_between_its_changes() -> None:
    svg = timing_chart(PLAIN)
    first, second = elements(svg, "level")
    assert number(first, "x2") == number(second, "x1") == pytest.approx(axis_of(PLAIN).x(10 * S), abs=0.006)
    assert number(first, "y1") > number(second, "y1")


def test_an_uncertain_change_is_slanted() -> None:
    (edge,) = elements(timing_chart(Chart("t", 0, S, (Row("a", "a", True, (Edge(S // 4, S // 2, False),)),))), "edge")
    assert number(edge, "x2") > number(edge, "x1")
    assert number(edge, "y2") > number(edge, "y1")


def test_an_unknown_stretch_is_crossed() -> None:
    row = Row("a", "a", True, (Edge(10 * S, 10 * S, None), Edge(20 * S, 20 * S, True)))
    chart = Chart("t", 0, 100 * S, (row,))
    (box,) = elements(timing_chart(chart), "unknown")
    axis = axis_of(chart)
    assert number(box, "x") == pytest.approx(axis.x(10 * S), abs=0.006)
    assert number(box, "width") == pytest.approx(axis.x(20 * S) - axis.x(10 * S), abs=0.006)


def test_changes_inside_a_band_are_not_drawn_one_by_one() -> None:
    edges = tuple(Edge(t * S, t * S, bool(t % 2)) for t in range(1, 90))
    row = Row("led", "LED", False, edges, bands=(Band(11 * S, 81 * S, "1 s lit, 1 s dark"),))
    svg = timing_chart(Chart("t", 0, 100 * S, (row,)))
    assert len(elements(svg, "edge")) == 10 + 8
    assert len(elements(svg, "band")) == 1
    assert "1 s lit, 1 s dark" in svg


def test_a_break_cuts_every_row_and_the_axis() -> None:
    chart = Chart("t", 0, 100 * S, (Row("a", "a", False), Row("b", "b", True)), breaks=((20 * S, 80 * S),))
    assert len(elements(timing_chart(chart), "break")) == 3 + 1  # two rows, the axis, and the key below
    assert "time left out, 60 s in all" in timing_chart(chart)


def test_breaks_out_of_order_are_refused() -> None:
    with pytest.raises(ValueError, match="not in order"):
        timing_chart(Chart("t", 0, 100 * S, (), breaks=((50 * S, 110 * S),)))


def test_what_cannot_be_printed_is_replaced() -> None:
    svg = timing_chart(Chart("a < b & \x01", 0, S, ()))
    assert "a &lt; b &amp; \ufffd" in svg
    ElementTree.fromstring(svg)


# -- the axis ------------------------------------------------------------------------------------------------------


@settings(max_examples=50, deadline=None)
@given(st.integers(0, 10**10), st.integers(10, 10**10), st.integers(0, 10**10))
def test_ticks_are_round_and_inside(start: int, length: int, zero: int) -> None:
    axis = TimeAxis.of(start, start + length, (), 100, 700)
    ticks = axis.ticks(zero)
    assert ticks
    assert all(start <= tick <= start + length for tick in ticks)
    assert len(ticks) < 2 or all((tick - zero) % axis.step == 0 for tick in ticks)
    assert re.fullmatch("[125]0*", str(axis.step))


@settings(max_examples=50, deadline=None)
@given(st.lists(st.integers(0, 10**9), min_size=4, max_size=8, unique=True))
def test_time_runs_to_the_right_at_one_scale_outside_breaks(times: list[int]) -> None:
    times = sorted(times)[: len(times) // 2 * 2]
    breaks = tuple(zip(times[1:-1:2], times[2:-1:2], strict=True))
    axis = TimeAxis.of(times[0], times[-1], breaks, 100, 700)
    xs = [axis.x(time) for time in times]
    assert xs == sorted(xs)
    for piece in axis.pieces:
        assert piece.right - piece.left == pytest.approx((piece.end - piece.start) * axis.scale)
    assert xs[-1] == pytest.approx(700)
    for begin, end in breaks:
        assert axis.x(end) - axis.x(begin) == pytest.approx(BREAK_WIDTH)


def test_no_tick_lies_in_a_break_and_every_piece_has_one() -> None:
    axis = TimeAxis.of(0, 1000 * S, ((10 * S, 900 * S), (901 * S, 990 * S)), 100, 700)
    ticks = axis.ticks(0)
    assert not [tick for tick in ticks if 10 * S < tick < 900 * S or 901 * S < tick < 990 * S]
    assert all(any(piece.start <= tick <= piece.end for tick in ticks) for piece in axis.pieces)


# -- labels --------------------------------------------------------------------------------------------------------


@settings(max_examples=25, deadline=None)
@given(st.lists(st.tuples(st.floats(100, 700), st.text("abc ", min_size=1, max_size=40)), max_size=5))
def test_no_label_covers_another(wanted: list[tuple[float, str]]) -> None:
    placed = lanes(wanted, 9, 100, 700)
    spans = [
        (lane, middle - width_of(text, 9) / 2, middle + width_of(text, 9) / 2)
        for (_, text), (middle, lane) in zip(wanted, placed, strict=True)
    ]
    assert all(left >= 99.9 and right <= 700.1 for _, left, right in spans)
    for index, (lane, left, right) in enumerate(spans):
        for other, begin, end in spans[index + 1 :]:
            assert lane != other or right <= begin or end <= left


def test_two_labels_close_together_stand_on_either_side() -> None:
    (left, lane), (right, other) = lanes([(400, "still off at 1.000 s"), (410, "on at 1.100 s")], 9, 100, 700)
    assert lane == other == 0
    assert left < 400 < 410 < right


@settings(max_examples=40, deadline=None)
@given(st.lists(st.integers(1, 99), min_size=1, max_size=9, unique=True), st.booleans())
def test_every_band_says_what_it_is(parts: list[int], broken: bool) -> None:
    """In its own words where they have room, else by a letter whose words stand below the chart, once each."""
    times = [0, *(part * S for part in sorted(parts)), 100 * S]
    names = ("steady: standby", "3 flashes: waiting for the pressure to come back", "dark")
    bands = tuple(Band(a, b, names[n % 3]) for n, (a, b) in enumerate(pairwise(times)))
    breaks = ((times[-2] + S // 4, 100 * S - S // 4),) if broken else ()
    chart = Chart("", 0, 100 * S, (Row("l", "l", False, (), "", "", bands=bands),), breaks=breaks)
    texts = list(ElementTree.fromstring(timing_chart(chart)).iter(f"{SVG}text"))
    marks = [one.text for one in texts if one.get("class") == "mark"]
    meant = dict((one.text or "").split("  ", 1) for one in texts if one.get("class") == "meant")
    whole = [one.text for one in texts if one.text in names and one.get("class") is None]
    assert len(marks) + len(whole) == len(bands)
    assert set(marks) == set(meant)
    assert sorted([*whole, *(meant[mark] for mark in marks if mark)]) == sorted(band.text for band in bands)


def test_a_letter_below_a_short_band_is_clear_of_the_axis() -> None:
    """A band too short for its letter has it below, and the axis has room for it."""
    bands = (Band(0, S // 2, "one long pattern of a lamp", "one"), Band(S // 2, 100 * S, "steady", "steady"))
    svg = timing_chart(Chart("", 0, 100 * S, (Row("lamp", "lamp", False, bands=bands),)))
    (mark,) = elements(svg, "mark")
    axis = min(number(one, "y") for one in elements(svg, "time")) - SMALL
    ticks = [number(one, "y1") for one in ElementTree.fromstring(svg).iter(f"{SVG}line")]
    assert mark.text == "a"
    assert max(y for y in ticks if y < axis) >= number(mark, "y") + 1.5

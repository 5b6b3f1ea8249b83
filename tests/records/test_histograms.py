"""Histograms: every board in one bar, no bar finer than the measuring, drawn so that black and white does."""

from __future__ import annotations

import re
from xml.etree import ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boardgauge.drawings.rendering import typeset
from boardgauge.records.histogram import MOST_BARS, as_svg, as_text, histogram, round_step
from boardgauge.records.spread import Interval

LIMITS = Interval(42.9, 47.1)
TIMES = st.lists(st.tuples(st.floats(0, 5000), st.floats(0, 2)), min_size=1, max_size=60)


def of(drawn: list[tuple[float, float]]) -> list[Interval]:
    """Give the intervals that begin so and are so wide."""
    return [Interval(low, low + width) for low, width in drawn]


@given(TIMES)
def test_every_board_stands_in_its_bar(drawn: list[tuple[float, float]]) -> None:
    """The bars count all boards, each where the middle of its interval lies."""
    values = of(drawn)
    made = histogram("t", values, LIMITS)
    assert sum(made.counts) == len(values)
    assert made.counts[0] > 0
    assert made.counts[-1] > 0
    slack = made.step * 1e-6
    for number, count in enumerate(made.counts):
        low, high = made.edge(number), made.edge(number + 1)
        assert sum(low + slack <= v.middle < high - slack for v in values) <= count
        assert sum(low - slack <= v.middle < high + slack for v in values) >= count


@given(TIMES)
def test_bars_are_no_finer_than_the_measuring(drawn: list[tuple[float, float]]) -> None:
    """A bar is at least as wide as the interval of the middle board, of a round width, and there are not too many."""
    values = of(drawn)
    made = histogram("t", values, LIMITS)
    widths = sorted(value.width for value in values)
    assert made.step >= widths[len(widths) // 2] * (1 - 1e-9)
    assert len(made.counts) <= MOST_BARS + 1
    assert f"{made.step:.6e}"[:8] in {"1.000000", "2.000000", "5.000000"}


@given(st.floats(1e-6, 1e6))
def test_round_steps(least: float) -> None:
    """A round step is no less than what it is asked for, and less than two and a half times as much."""
    step = round_step(least)
    assert least * (1 - 1e-9) <= step <= least * 2.5 * (1 + 1e-9)


@given(TIMES)
def test_pictures_are_black_on_white(drawn: list[tuple[float, float]]) -> None:
    """A picture is XML with a bar for each that has boards, limits and mean, in no colour and inside its frame."""
    made = histogram("restart & delay", of(drawn), LIMITS)
    svg = as_svg(made, ["a note < that is told"])
    root = ET.fromstring(svg)
    classes = [element.get("class") for element in root.iter()]
    assert classes.count("bar") == sum(count > 0 for count in made.counts)
    assert (classes.count("limit"), classes.count("mean")) == (2, 1)
    colours = set(re.findall(r'(?:fill|stroke)="([^"]+)"', svg))
    assert colours <= {"black", "white", "none", "url(#bar)"}
    width = float(root.get("viewBox", "").split()[2])
    for element in root.iter("{http://www.w3.org/2000/svg}rect"):
        assert float(element.get("x", "0")) >= -1
        assert float(element.get("x", "0")) + float(element.get("width", "0")) <= width + 1


def test_the_text_has_limits_among_bars() -> None:
    """Lines go up in time; the limits stand where they lie, inside or outside the bars."""
    inside = as_text(histogram("t", of([(45.0, 0.1), (45.3, 0.1), (45.32, 0.1)]), LIMITS))
    assert inside[0].startswith("-- least allowed")
    assert inside[-1].startswith("-- most allowed")
    outside = as_text(histogram("t", of([(40.0, 0.1), (50.0, 0.1)]), LIMITS))
    kinds = [line.split()[0] == "--" for line in outside]
    assert kinds[0] is False
    assert kinds[-1] is False
    assert sum(kinds) == 2


@given(TIMES)
def test_no_board_stands_on_the_wrong_side_of_a_limit(drawn: list[tuple[float, float]]) -> None:
    """In the text what stands between the two limits is what lies between them, however wide the bars are."""
    values = of(drawn)
    made = histogram("t", values, LIMITS)
    counted, between = 0, False
    inside = 0
    for row in as_text(made):
        if row.startswith("--"):
            between = row.startswith("-- least")
            continue
        count = int(row.split(" s ")[1].split()[0])
        counted += count
        inside += count if between else 0
    assert counted == len(values)
    slack = made.step * 1e-5
    assert sum(LIMITS.low + slack <= v.middle < LIMITS.high - slack for v in values) <= inside
    assert sum(LIMITS.low - slack <= v.middle < LIMITS.high + slack for v in values) >= inside


def test_a_bar_with_a_limit_in_it_is_two() -> None:
    """Two boards at 14 s of at least 13.5 s stand below that line, in a bar that begins there."""
    text = as_text(histogram("t", of([(14.0, 0.1), (14.2, 0.1), (17.0, 0.1), (24.0, 0.1)]), Interval(13.5, 16.5)))
    assert [re.sub(" +", " ", row.strip()) for row in text] == [
        "10 to 13.5 s 0",
        "-- least allowed 13.5 s",
        "13.5 to 15 s 2 ##",
        "15 to 16.5 s 0",
        "-- most allowed 16.5 s",
        "16.5 to 20 s 1 #",
        "20 to 25 s 1 #",
    ]


def test_both_limits_are_allowed() -> None:
    """A board exactly at a limit stands between the limits."""
    rows = as_text(histogram("t", of([(13.5, 0), (16.5, 0), (20.0, 0)]), Interval(13.5, 16.5)))
    least, most = (next(n for n, row in enumerate(rows) if row.startswith(f"-- {word}")) for word in ("least", "most"))
    assert sum(int(row.split(" s ")[1].split()[0]) for row in rows[least + 1 : most]) == 2


def test_many_boards_have_bars_that_fit() -> None:
    """A bar of the text is never longer than its line, and a bar with a board is never empty."""
    lines = as_text(histogram("t", of([(45.0, 0.1)] * 5000 + [(46.0, 0.1)]), LIMITS))
    assert max(map(len, lines)) < 100
    assert sum("#" in line for line in lines) == 2


def test_a_picture_can_be_typeset() -> None:
    """The picture is one that the typesetter takes."""
    svg = as_svg(histogram("t", of([(45.0, 0.1), (46.0, 0.1)]), LIMITS))
    assert typeset(svg, "png", "t").startswith(b"\x89PNG")


def test_nothing_has_no_histogram() -> None:
    """No times are refused."""
    with pytest.raises(ValueError, match="one value"):
        histogram("t", [], LIMITS)

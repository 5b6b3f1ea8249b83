"""A timing chart on paper: every row on one page, all pages on one axis, nothing too small to read."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boardgauge.drawings.chart import Cause, Chart, Edge, Row
from boardgauge.drawings.chart_pages import chart_pages
from boardgauge.drawings.page import PAPERS, Paper
from boardgauge.drawings.print_pages import LEAST_PRINT
from boardgauge.drawings.timing_chart import timing_chart
from boardgauge.drawings.waveform import SMALL

S = 1_000_000
SVG = "{http://www.w3.org/2000/svg}"
PAPER = st.sampled_from(["letter", "a4"])


def chart_of(rows: int) -> Chart:
    """Give a chart of so many rows, each brought about by the one before."""
    made = tuple(Row(f"r{n}", f"row {n}", False, (Edge((n + 1) * S, (n + 1) * S, True),)) for n in range(rows))
    causes = tuple(Cause(f"r{n}", (n + 1) * S, f"r{n + 1}", (n + 2) * S) for n in range(rows - 1))
    return Chart("a chart", 0, 100 * S, made, causes=causes, footer="made for a test")


@settings(max_examples=12, deadline=None)
@given(st.integers(1, 60), PAPER)
def test_every_row_is_on_one_page_and_legible(rows: int, paper: Paper) -> None:
    """Each page is the sheet of paper on its side; what is on it stays on it and is not printed too small."""
    short, long = PAPERS[paper]
    found: list[str] = []
    for page in chart_pages(chart_of(rows), paper):
        root = ElementTree.fromstring(page)
        assert (root.get("width"), root.get("height")) == (f"{long:.2f}pt", f"{short:.2f}pt")
        found += [row for one in root.iter() if (row := one.get("data-row")) is not None]
        place = re.search(r"translate\(([0-9.]+) ([0-9.]+)\) scale\(([0-9.]+)\)", page)
        assert place is not None
        left, top, scale = map(float, place.groups())
        drawn = next(root.iter(f"{SVG}g")).find(f"{SVG}svg")
        assert drawn is not None
        assert scale * SMALL >= LEAST_PRINT - 0.01
        assert left + scale * float(drawn.get("width", "nan")) <= long
        assert top + scale * float(drawn.get("height", "nan")) <= short
    assert found == [f"r{number}" for number in range(rows)]


def test_pages_are_numbered_on_one_axis_and_say_what_no_arrow_can() -> None:
    """Each has the ticks of the whole; where an arrow would go over to another page, that is said."""
    chart = chart_of(40)
    pages = chart_pages(chart, "letter")
    assert len(pages) > 1
    ticks = re.compile(r'class="time">([^<]*)<')
    for number, page in enumerate(pages, 1):
        assert f"a chart (page {number} of {len(pages)})" in page
        assert ticks.findall(page) == ticks.findall(timing_chart(chart))
        assert "made for a test · An arrow from a row to one on another page" in page


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_a_chart_that_fits_is_one_page_of_its_own_size(paper: Paper) -> None:
    """It is not enlarged, not split, and has no number."""
    (page,) = chart_pages(chart_of(5), paper)
    assert "scale(1.0000)" in page
    assert "(page" not in page
    assert "another page" not in page

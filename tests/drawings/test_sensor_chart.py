"""A sensor's chart shows its table, row for row, and is never without its cautions."""

from __future__ import annotations

import re
from fractions import Fraction as F
from html import unescape

import pytest

from boardgauge.drawings.page import PAPERS
from boardgauge.drawings.rendering import typeset
from boardgauge.drawings.sensor_chart import TooManyRows, sensor_chart
from boardgauge.sensors import Divider, check_sensor, curve_names, find_curve, sensor_table
from boardgauge.sensors.sensor_words import CAUTIONS, CHECKING, INSULATING

NTC = find_curve("ntc-10k")


def words(svg: str) -> list[str]:
    return [unescape(text) for text in re.findall(r"<text[^>]*>([^<]*)</text>", svg)]


@pytest.mark.parametrize("name", curve_names())
@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_nothing_lies_outside_the_page(name: str, paper: str) -> None:
    """Every text begins and every stroke ends on the page, inside the printer's margin."""
    width, height = PAPERS[paper]
    svg = sensor_chart(sensor_table(find_curve(name)), "made by a test", paper)  # type: ignore[arg-type]
    xs = [float(x) for x in re.findall(r'\b(?:x|x1|x2|cx)="(-?[0-9.]+)"', svg)]
    ys = [float(y) for y in re.findall(r'\b(?:y|y1|y2|cy)="(-?[0-9.]+)"', svg)]
    assert 0 <= min(xs) <= max(xs) <= width - 30
    assert 0 <= min(ys) <= max(ys) <= height - 30


def test_every_row_is_there() -> None:
    """Each row of the table stands on the page with its degrees and ohms, and its point on the curve."""
    table = sensor_table(NTC, divider=Divider(F(10_000), "bottom", F(5)))
    svg = sensor_chart(table, "footer")
    told = words(svg)
    assert svg.count('class="row"') == len(table.rows)
    for cell in ("−30", "77", "10.00 kΩ", "9.783 kΩ", "10.22 kΩ", "2.500", "volts"):
        assert cell in told


@pytest.mark.parametrize("step", [F(1, 1), F(2), F(5), F(20)])
def test_cautions_are_never_left_out(step: F) -> None:
    """However many rows there are, all the steps and cautions stand below them, or the page is refused."""
    table = sensor_table(NTC, F(0), F(60), step)
    svg = " ".join(words(sensor_chart(table, "footer")))
    for text in (*CHECKING, *INSULATING, CAUTIONS):
        assert text.split(". ")[0].split(":")[0] in svg
    with pytest.raises(TooManyRows, match="rows do not fit on a page of letter"):
        sensor_chart(sensor_table(NTC, F(0), F(60), F(1, 2)), "footer")


def test_the_measured_point() -> None:
    """A check is marked by a cross and its verdict; over the range, at the edge."""
    table = sensor_table(NTC)
    for ohms, verdict in ((F(9800), "good"), (None, "open")):
        svg = sensor_chart(table, "footer", check=check_sensor(NTC, F(25), ohms))
        assert svg.count('class="measured"') == 2
        assert f"measured: {verdict}" in words(svg)
    assert 'class="measured"' not in sensor_chart(table, "footer")


def test_black_on_white() -> None:
    """No colour tells anything apart, and no face is drawn grey but the grid."""
    svg = sensor_chart(sensor_table(NTC), "footer")
    assert set(re.findall(r'(?:fill|stroke)="([^"]+)"', svg)) <= {"black", "white", "none"}


def test_it_is_typeset() -> None:
    """The page becomes a PNG and a PDF."""
    svg = sensor_chart(sensor_table(find_curve("pt100")), "footer")
    assert typeset(svg, "png", "t").startswith(b"\x89PNG")
    assert typeset(svg, "pdf", "t").startswith(b"%PDF")

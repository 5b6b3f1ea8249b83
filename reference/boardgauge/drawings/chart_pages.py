"""Put a timing chart on sheets of paper, its rows on as many as it takes to stay legible.

Law of this module: every row is on exactly one page, all pages have the same axis, and nothing is printed smaller than
``LEAST_PRINT`` or larger than it is drawn.
"""

from __future__ import annotations

import re

from attrs import evolve

from boardgauge.drawings.chart import Chart, Row
from boardgauge.drawings.page import MARGIN, PAPERS, Paper
from boardgauge.drawings.print_pages import LEAST_PRINT
from boardgauge.drawings.timing_chart import WIDTH, timing_chart
from boardgauge.drawings.waveform import SMALL

_SIZE = re.compile(r'width="([0-9.]+)pt" height="([0-9.]+)pt"')
_APART = "An arrow from a row to one on another page is not drawn."


def chart_pages(chart: Chart, paper: Paper) -> tuple[str, ...]:
    """Give the pages of a chart as SVG, each a sheet of paper on its side.

    Raises ValueError if the chart's breaks do not lie in it, in order.
    """
    parts: list[list[Row]] = []
    for row in chart.rows:
        if parts and _fits(_part(chart, [*parts[-1], row], "page 00 of 00"), paper):
            parts[-1].append(row)
        else:
            parts.append([row])
    if len(parts) < 2:
        return (_on_paper(timing_chart(chart), paper),)
    if _fits(chart, paper):  # the words of a split chart may be what had no room
        return (_on_paper(timing_chart(chart), paper),)
    pages = (_part(chart, rows, f"page {number} of {len(parts)}") for number, rows in enumerate(parts, 1))
    return tuple(_on_paper(timing_chart(page), paper) for page in pages)


def _part(chart: Chart, rows: list[Row], page: str) -> Chart:
    """Give the chart of some of the rows, with what is drawn at them."""
    here = {row.id for row in rows}
    causes = tuple(one for one in chart.causes if {one.source, one.target} <= here)
    lost = any(len({one.source, one.target} & here) == 1 for one in chart.causes)
    return evolve(
        chart,
        title=f"{chart.title} ({page})",
        rows=tuple(rows),
        windows=tuple(one for one in chart.windows if one.row in here),
        arrows=tuple(one for one in chart.arrows if one.row in here),
        causes=causes,
        footer=" · ".join(filter(None, (chart.footer, _APART if lost else ""))),
    )


def _scale(svg: str, paper: Paper) -> float:
    short, long = PAPERS[paper]
    return min(1.0, (long - 2 * MARGIN) / WIDTH, (short - 2 * MARGIN) / _height(svg))


def _fits(chart: Chart, paper: Paper) -> bool:
    return _scale(timing_chart(chart), paper) * SMALL >= LEAST_PRINT


def _height(svg: str) -> float:
    size = _SIZE.search(svg)
    assert size is not None, "a chart says how large it is"
    return float(size[2])


def _on_paper(svg: str, paper: Paper) -> str:
    short, long = PAPERS[paper]
    scale = _scale(svg, paper)
    left = (long - WIDTH * scale) / 2
    # Inside a drawing in points a length without a unit is one.
    inner = _SIZE.sub(r'width="\1" height="\2"', svg, count=1)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{long:.2f}pt" height="{short:.2f}pt"'
        f' viewBox="0 0 {long:.2f} {short:.2f}"><rect width="{long:.2f}" height="{short:.2f}" fill="white"/>'
        f'<g transform="translate({left:.2f} {MARGIN:.2f}) scale({scale:.4f})">\n{inner}</g></svg>\n'
    )

"""A report as one HTML file, with a timing chart of each recording to look into.

Law of this module: nothing is loaded from elsewhere, every text is escaped, and without its script the page says the
same, with the charts as they are printed. The script draws what the chart's values hold.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cache
from importlib.resources import files

from boardgauge.drawings.chart import Chart
from boardgauge.drawings.page import Paper
from boardgauge.reports.certificate import certificate
from boardgauge.reports.chart_data import chart_data, script_text
from boardgauge.reports.report import BoardReport, JudgedRun
from boardgauge.reports.room import Room
from boardgauge.sheets.as_html import to_html
from boardgauge.sheets.blocks import Block, Caution, Paragraph, Points, Sheet
from boardgauge.sheets.cautions import cautions
from boardgauge.sheets.handout import Handout, footer
from boardgauge.sheets.story_chart import figure_of_chart

EVERYTHING = Room(10**6, 10**6, 10**6, 10**6, 10**6, True, 10**6)


def to_html_report(report: BoardReport, charts: Sequence[Chart | None], paper: Paper = "letter") -> str:
    """Give the report as a page; ``charts`` has the chart of each run, None where nothing changes in it."""
    made = certificate(report, EVERYTHING)
    whole = Handout(made.title, tuple(_cover(made.cover, report)), tuple(_sheets(report, charts)), footer(report.board))
    page = to_html(whole, paper)
    data = [None if chart is None else chart_data(chart) for chart in charts]
    script = (
        f"<style>{_part('recording.css')}</style>\n"
        f'<script type="application/json" id="charts">{script_text(data)}</script>\n'
        f"<script>{_part('recording.js')}</script>\n"
    )
    head, end, tail = page.rpartition("</body>")
    return f"{head}{script}{end}{tail}"


def _cover(blocks: Sequence[Block], report: BoardReport) -> Iterator[Block]:
    """Give what the certificate says, whole, with all cautions for the board in place of the short ones."""
    for block in blocks:
        if isinstance(block, Caution):
            yield block
            yield cautions(report.board)
        else:
            yield block


def _sheets(report: BoardReport, charts: Sequence[Chart | None]) -> Iterator[Sheet]:
    for number, (run, chart) in enumerate(zip(report.runs, charts, strict=True)):
        yield Sheet(f"recording-{number + 1}", f"Recording {number + 1}: {run.name}", tuple(_run(run, chart)), False)


def _run(run: JudgedRun, chart: Chart | None) -> Iterator[Block]:
    judgement = run.judgement
    begins = "with power-up" if judgement.known_start else "at an unknown moment in the board's life"
    yield Paragraph(f"{judgement.verdict}; {run.seconds:.1f} s, begins {begins}.")
    yield Points(tuple(f"{file.name}: SHA-256 {file.sha256}" for file in run.files))
    if judgement.remarks:
        yield Points(
            tuple(
                f"{remark.channel}, {judgement.seconds(remark.start):.3f} to {judgement.seconds(remark.end):.3f} s: "
                f"{remark.kind}: {remark.text}"
                if remark.channel
                else remark.text
                for remark in judgement.remarks
            ),
            "To be known of the recording",
        )
    if chart is None:
        yield Paragraph("Nothing changes in this recording, so there is nothing to draw.")
    else:
        yield figure_of_chart(chart, f"recording {run.name}")


@cache
def _part(name: str) -> str:
    return (files("boardgauge.reports") / "view" / name).read_text(encoding="utf-8")

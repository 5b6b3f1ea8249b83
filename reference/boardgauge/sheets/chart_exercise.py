"""The chart of a story twice: with empty boxes in place of what the board does, and whole.

Law of this module: both have the same axis, so that the one can be laid on the other.
"""

from __future__ import annotations

from attrs import evolve

from boardgauge.drawings.chart import Band
from boardgauge.machine.run import POWER
from boardgauge.sheets.blocks import Figure
from boardgauge.sheets.stories import Story
from boardgauge.sheets.story_chart import drawn_chart, figure_of_chart
from boardgauge.sheets.study import Study


def full_chart(study: Study, story: Story) -> Figure | None:
    """Give the whole chart, None where nothing changes."""
    chart = drawn_chart(study, story)
    return None if chart is None else figure_of_chart(evolve(chart, axis="seconds"), "")


def blank_chart(study: Study, story: Story) -> Figure | None:
    """Give the chart with an empty box for each output and lamp that changes; None where none does."""
    chart = drawn_chart(study, story)
    if chart is None:
        return None
    rows, given = [], {POWER, *study.board.inputs}
    for row in chart.rows:
        if row.id in given:
            rows.append(row)
        else:
            rows.append(evolve(row, edges=(), bands=(Band(chart.start, chart.end, " ", " "),), low="", high=""))
    if all(row.id in given for row in rows):
        return None
    return figure_of_chart(evolve(chart, rows=tuple(rows), axis="seconds"), "")

"""Draw a story as a timing chart: the supply, inputs, outputs and lamps that change in it.

Law of this module: the waves are those of the run that the sentences tell of; long quiet stretches are left out at a
break. A lamp is drawn as what it shows, not flash by flash.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from itertools import pairwise

from attrs import evolve

from boardgauge.drawings import words
from boardgauge.drawings.chart import Band, Chart, Edge, Row
from boardgauge.drawings.run_chart import Asked, clip, moments_of, run_chart, sensor_row
from boardgauge.drawings.timing_chart import timing_chart
from boardgauge.language.model import Board, InputKind
from boardgauge.language.quantities import S
from boardgauge.machine.compile import compile_board
from boardgauge.machine.run import POWER, Edges, Run
from boardgauge.machine.settle import Engine
from boardgauge.sheets.blocks import Block, Drawing, Figure, Paragraph, Sheet
from boardgauge.sheets.stories import Story, stories
from boardgauge.sheets.study import Study

_AROUND = 4 * S
_STATES = {
    InputKind.SWITCH: ("open", "closed"),
    InputKind.LINK: ("open", "fitted"),
    InputKind.BUTTON: ("released", "pressed"),
}
_SIZE = re.compile(r'<svg[^>]* width="([0-9.]+)pt" height="([0-9.]+)pt"')


CHARTS = "charts"


def chart_sheet(study: Study) -> Sheet:
    """Give the timing charts of the calls, and of what no call shows."""
    told, _ = stories(study)
    figures = [figure for story in told if (figure := story_chart(study, story)) is not None]
    blocks: tuple[Block, ...] = tuple(figures) or (Paragraph("Nothing changes at the terminals of this board."),)
    return Sheet(CHARTS, "Timing charts", blocks, sideways=True)


def story_chart(study: Study, story: Story) -> Figure | None:
    """Give the chart of a story, None where nothing changes in it."""
    chart = drawn_chart(study, story)
    return None if chart is None else figure_of_chart(chart, story.title)


def drawn_chart(study: Study, story: Story, meanings: bool = True) -> Chart | None:
    """Give the chart of a story as a value, None where nothing changes in it.

    Without ``meanings`` a lamp shows as it is seen: its pattern, and not what the board means by it.
    """
    times = [entry.time for entry in story.entries]
    start, end = max(0, times[0] - _AROUND), times[-1] + _AROUND
    rows = tuple(_rows(study, story, start, end, meanings))
    if not rows:
        return None
    changes = sorted(
        {m for row in rows for m in moments_of(row, start, end)} | {b.start for r in rows for b in r.bands}
    )
    return Chart(
        title="",
        start=start,
        end=end,
        rows=rows,
        zero=times[0],
        breaks=tuple(_breaks([start, *changes, end])),
        axis=f"seconds from: {story.title}",
    )


def figure_of_chart(chart: Chart, title: str) -> Figure:
    """Draw a chart of a story."""
    svg = timing_chart(chart)
    size = _SIZE.search(svg)
    assert size is not None, "a chart says how large it is"
    shown = title[:1].upper() + title[1:]
    return Figure(Drawing(svg, float(size[1]), float(size[2]), f"Timing chart: {title}".rstrip(": ")), title=shown)


def chart_of_run(board: Board, run: Run, title: str) -> str | None:
    """Give a whole run as a chart (SVG), None where nothing changes at the terminals in it."""
    chart = run_chart(Engine(compile_board(board)), run, Asked(title=title))
    return None if chart is None else timing_chart(chart)


def _breaks(times: list[int]) -> Iterator[tuple[int, int]]:
    """Leave out the middle of stretches far longer than the others."""
    gaps = sorted(b - a for a, b in pairwise(times) if b > a)
    if not gaps:
        return
    usual = max(20 * S, 2 * gaps[len(gaps) // 2])
    for a, b in pairwise(times):
        if b - a > 2 * usual:
            keep = usual // 2
            yield a + keep, b - keep


def _rows(study: Study, story: Story, start: int, end: int, meanings: bool) -> Iterator[Row]:
    board, run = study.board, story.run
    if _changes(run.power, start + 1, end):
        yield _row(POWER, "supply", run.power, start, end, "off", "on")
    for row in board.inputs.values():
        if not _changes(run.inputs[row.id], start, end):
            continue
        if row.kind is InputKind.SENSOR:
            yield clip(sensor_row(study.engine, row, run), start, end)
        else:
            low, high = _STATES.get(row.kind, ("off", "on"))
            yield _row(row.id, words.thing(board, row.id), run.inputs[row.id], start, end, low, high)
    for output in board.outputs.values():
        edges = run.outputs[output.id]
        if _changes(edges, start, end):
            yield _row(output.id, words.thing(board, output.id), edges, start, end, "off", "on")
    for number, lamp in enumerate(board.lamps.values()):
        bands = tuple(_bands(study, story, number, start, end))
        bands = bands if meanings else tuple(_as_seen(bands))
        if len(bands) > 1:
            # A lamp is known by its bands alone: its level between them is never drawn.
            turns = tuple(Edge(band.start, band.start, False) for band in bands[1:])
            yield Row(lamp.id, words.thing(board, lamp.id), False, turns, "", "", bands=bands)


def _changes(edges: Edges, start: int, end: int) -> bool:
    return any(start <= time <= end for time, _ in edges.changes)


def _row(name: str, label: str, edges: Edges, start: int, end: int, low: str, high: str) -> Row:
    inside = tuple(Edge(time, time, bool(value)) for time, value in edges.changes if start < time <= end)
    detail = name if name != label else ""
    return Row(name, label, bool(edges.at(start)), inside, low, high, detail)


def _bands(study: Study, story: Story, number: int, start: int, end: int) -> Iterator[Band]:
    lamp = tuple(study.board.lamps.values())[number]
    since, line = start, study.engine.lamp_lines(story.before)[number]
    for entry in story.entries:
        new = study.engine.lamp_lines(entry.config)[number]
        if new != line:
            if entry.time > since:
                yield Band(since, entry.time, *_shown(study, lamp.id, line))
            since, line = entry.time, new
    yield Band(since, end, *_shown(study, lamp.id, line))


def _as_seen(bands: Iterable[Band]) -> Iterator[Band]:
    """Give bands by their patterns alone: a line that shows the same as the one before goes on with it."""
    last: Band | None = None
    for band in bands:
        pattern = band.text.partition(": ")[0]
        if last is not None and last.text == pattern:
            last = evolve(last, end=band.end)
            continue
        if last is not None:
            yield last
        last = evolve(band, text=pattern, brief=pattern)
    if last is not None:
        yield last


def _shown(study: Study, lamp: str, line: int) -> tuple[str, str]:
    if line < 0:
        return "dark", "dark"
    told = words.lamp_line(study.board, lamp, line)
    return f"{words.pattern(study.board.lamps[lamp].lines[line].shows)}: {told}", told

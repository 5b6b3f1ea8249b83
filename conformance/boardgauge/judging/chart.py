"""Choose the stretch of a trace around a deviation, and lay it out as a timing chart.

Law of this module: a pure function of trace and judgement; nothing is drawn that is not in them. Every change of a
signal inside the stretch is on the chart, and time is left out only where none of them lies.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from attrs import frozen

from boardgauge.drawings import words
from boardgauge.drawings.chart import Arrow, Chart, Line, Window
from boardgauge.drawings.rendering import footer
from boardgauge.judging.chart_rows import Signal, row_of, signals_of
from boardgauge.judging.judgement import Deviation, Judgement
from boardgauge.machine.table import Machine
from boardgauge.traces.trace import Trace

QUIET = 0.1
"""The part of the whole stretch from which on nothing happening is left out."""
_KEPT = 0.12
"""How much is shown on either side of what is left out, as a part of what is kept."""
_FURTHEST_BACK = 600_000_000
"""How far back the change before is looked for where nothing is counted from."""
_PLAIN = 3
"""A quiet stretch between a change and its window is shown whole up to so many times the window's width."""
_LEAST_MARGIN = 50_000
_ENDS = 0.06
"""How much is shown beyond the first and the last moment, likewise."""
_FLASHES = 80
"""Up to so many changes of a lamp that is the matter are drawn one by one."""


@frozen
class _Stretch:
    """From where to where a chart shows, and the moments in it that must not be left out."""

    start: int
    end: int
    moments: tuple[int, ...]


def chart_of(machine: Machine, trace: Trace, judgement: Judgement, deviation: Deviation) -> Chart:
    """Lay out the stretch of a trace around one of its deviations."""
    board = machine.board
    signals = signals_of(machine, trace)
    target = next((s for s in signals if s.id == deviation.signal), None)
    stretch = _widened(_focus(signals, target, trace, deviation), signals, trace, deviation)
    shown = [s for s in signals if s.id == deviation.signal or s.changes_in(stretch.start, stretch.end)]
    condense_until = _drawn_from(target, deviation)
    rows = tuple(row_of(s, stretch.start, stretch.end, trace.longest_gap, s is target, condense_until) for s in shown)
    arrows = _arrows(machine, judgement, deviation, target, stretch)
    windows = _windows(judgement, deviation, target)
    lines = _lines(machine, judgement, deviation, stretch)
    drawn = [time for row in rows for edge in row.drawn() for time in (edge.earliest, edge.latest)]
    drawn += [time for row in rows for band in row.bands for time in (band.start, band.end)]
    rule = words.thing(board, deviation.rule)
    clause = words.clause(deviation.clause)
    return Chart(
        title=f"{board.id}: {rule}" + (f", {clause}" if clause else ""),
        subtitle=judgement.file,
        start=stretch.start,
        end=stretch.end,
        zero=judgement.start,
        rows=rows,
        windows=windows,
        arrows=arrows,
        lines=lines,
        breaks=_breaks(stretch, drawn, deviation),
        notes=_notes(trace, deviation, [s for s in signals if s not in shown], stretch),
        footer=f"{footer(board)} · recording {judgement.trace_digest[:12]}",
    )


# -- the stretch ---------------------------------------------------------------------------------------------------


def _focus(signals: list[Signal], target: Signal | None, trace: Trace, d: Deviation) -> _Stretch:
    """Give the stretch that holds the deviation, what it is counted from and its window."""
    moments = [d.time, *(t for t in (d.earliest, d.latest, d.seen_since) if t is not None)]
    if d.counted_since is not None and d.counted_since[1] >= trace.start:
        moments += [max(trace.start, d.counted_since[0]), d.counted_since[1]]
    else:
        moments.append(_change_before(signals, trace, min(moments)))
    start, end = min(moments), max(moments)
    if target is not None and d.kind != "lamp":
        begins, near = d.time, max((end - start) // 5, 2_000_000)
        end = max([end, *(time for time in _next_changes(target, begins, 3) if time <= begins + near)])
        moments.append(end)
    return _Stretch(max(trace.start, start), min(trace.end, end), tuple(moments))


def _change_before(signals: list[Signal], trace: Trace, time: int) -> int:
    """Give the last change of an input or output well before a time: what the board was doing."""
    found = [trace.start, time - _FURTHEST_BACK]
    for signal in signals:
        if signal.kind != "lamp":
            index = int(np.searchsorted(signal.wave.latest, time - 1_000_000)) - 1
            found += [int(signal.wave.earliest[index])] if index >= 0 else []
    return max(t for t in found if t <= time)


def _next_changes(signal: Signal, time: int, most: int) -> list[int]:
    index = int(np.searchsorted(signal.wave.earliest, time, side="right"))
    return [int(t) for t in signal.wave.latest[index : index + most]]


def _widened(stretch: _Stretch, signals: list[Signal], trace: Trace, d: Deviation) -> _Stretch:
    """Leave a margin at either end, in proportion to what will be left when quiet stretches are cut."""
    inside = [*stretch.moments]
    for signal in signals:
        if signal.kind != "lamp" or signal.id == d.signal:
            inside += [time for early, late, _ in signal.changes(stretch.start, stretch.end) for time in (early, late)]
    margin = max(_LEAST_MARGIN, round(_kept(stretch, _quiet(stretch, inside, d)) * _ENDS))
    return _Stretch(max(trace.start, stretch.start - margin), min(trace.end, stretch.end + margin), stretch.moments)


def _drawn_from(target: Signal | None, d: Deviation) -> int:
    """Give from when on the changes of a lamp that is the matter are drawn one by one."""
    if target is None or d.seen_since is None or d.counted_since is None:
        return d.time
    return d.counted_since[0] if len(target.changes(d.counted_since[0], d.time)) <= _FLASHES else d.seen_since


def _quiet(stretch: _Stretch, moments: list[int], d: Deviation) -> list[tuple[int, int]]:
    """Give the long stretches in which nothing is drawn, but not those that are shown to be compared."""
    inside = sorted({stretch.start, stretch.end, *(t for t in moments if stretch.start < t < stretch.end)})
    limit = QUIET * (stretch.end - stretch.start)
    quiet = [(a, b) for a, b in pairwise(inside) if b - a > limit]
    if d.seen_since is not None:
        # How long a lamp was lit or dark is the matter itself.
        return [(a, b) for a, b in quiet if not (d.seen_since <= a and b <= d.time)]
    if d.earliest is None or d.latest is None:
        return quiet
    low, high = min(d.time, d.earliest), max(d.time, d.latest)
    longest = _PLAIN * (d.latest - d.earliest)
    return [(a, b) for a, b in quiet if not (low <= a and b <= high and b - a <= longest)]


def _kept(stretch: _Stretch, quiet: list[tuple[int, int]]) -> int:
    return stretch.end - stretch.start - sum(b - a for a, b in quiet)


def _breaks(stretch: _Stretch, drawn: list[int], d: Deviation) -> tuple[tuple[int, int], ...]:
    """Cut the long stretches in which nothing is drawn, leaving some of each at its ends."""
    quiet = _quiet(stretch, [*stretch.moments, *drawn], d)
    pad = max(_LEAST_MARGIN, round(_kept(stretch, quiet) * _KEPT))
    return tuple((a + pad, b - pad) for a, b in quiet if b - a > 4 * pad)


# -- what is marked ------------------------------------------------------------------------------------------------


def _arrows(
    machine: Machine, judgement: Judgement, d: Deviation, target: Signal | None, stretch: _Stretch
) -> tuple[Arrow, ...]:
    if target is None:
        return ()
    thing = words.thing(machine.board, d.signal)
    seen = d.observed.removeprefix(f"{thing} ")
    if d.kind == "early" and d.earliest is not None:
        return (Arrow(d.signal, d.time, f"{seen}: {_lag(d.earliest - d.time)} too early"),)
    if d.kind == "lamp":
        since = d.time if d.seen_since is None else max(stretch.start, d.seen_since)
        return (Arrow(d.signal, since, seen, d.time),)
    if d.kind in {"late", "missing"} and d.latest is not None:
        arrows = [Arrow(d.signal, d.time, seen)]
        index = int(np.searchsorted(target.wave.earliest, d.time, side="right"))
        if index < len(target.wave) and target.wave.latest[index] <= stretch.end:
            late = int(target.wave.latest[index])
            word = target.high if target.wave.values[index] == 1 else target.low
            arrows.append(Arrow(d.signal, late, f"{word} at {_at(judgement, late)}: {_lag(late - d.latest)} late"))
        return tuple(arrows)
    if d.kind == "requirement":
        return (Arrow(d.signal, d.time, f"broken by {_at(judgement, d.time)}"),)
    return (Arrow(d.signal, d.time, seen if d.kind == "start" else f"{seen}: nothing asks for it"),)


def _windows(judgement: Judgement, d: Deviation, target: Signal | None) -> tuple[Window, ...]:
    if target is None or d.earliest is None or d.latest is None:
        return ()
    low, high = _at(judgement, d.earliest), _at(judgement, d.latest)
    return (Window(d.signal, d.earliest, d.latest, f"allowed {low} to {high}"),)


def _lines(machine: Machine, judgement: Judgement, d: Deviation, stretch: _Stretch) -> tuple[Line, ...]:
    if d.counted_since is None or d.counted_since[1] < stretch.start:
        return ()
    low, high = d.counted_since
    when = _at(judgement, high)
    if d.kind == "lamp":
        return (Line(high, high, f"to be shown from {when} on"),)
    if high - low >= 2_000:
        when = f"{_at(judgement, low)} to {when}"
    return (Line(low, high, f"{words.thing(machine.board, d.rule)} counted from {when}"),)


def _notes(trace: Trace, d: Deviation, unchanged: list[Signal], stretch: _Stretch) -> tuple[tuple[str, str], ...]:
    notes = [("seen", d.observed), ("expected", d.expected)]
    if d.counted_from:
        notes.append(("counted from", d.counted_from))
    if d.others:
        notes.append(("also", ", ".join(map(words.plain, d.others))))
    if d.following:
        notes.append(("follows", "from the deviation before this one"))
    if unchanged:
        notes.append(("unchanged", ", ".join(_whole(s.says(stretch.start)) for s in unchanged)))
    if trace.unwired:
        notes.append(("not recorded", ", ".join(trace.unwired)))
    return tuple((heading, text) for heading, text in notes if text)


def _whole(text: str) -> str:
    """Keep a few words on one line."""
    return text.replace(" ", "\u00a0")


def _at(judgement: Judgement, time: int) -> str:
    return f"{(time - judgement.start) / 1_000_000:.3f} s"


def _lag(time: int) -> str:
    return f"{time / 1_000_000:.3f} s"

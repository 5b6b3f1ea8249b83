"""Lay out a recording as a timing chart: its signals as recorded, and what the machine and the judge know of them.

Law of this module: waves are the recording's and nobody else's. Ramps and arrows are those of a run of the reference
machine that agrees with the recording, as far as it does; behind that stand the judge's deviations with their windows.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from attrs import evolve

from boardgauge.drawings import words
from boardgauge.drawings.causes import causes_of
from boardgauge.drawings.chart import Arrow, Cause, Chart, Curve, Edge, Ramp, Row, Window
from boardgauge.drawings.rendering import footer
from boardgauge.drawings.run_chart import (
    Asked,
    breaks_of,
    checked,
    clip,
    clip_ramp,
    curve_row,
    limits_of,
    moments_of,
    shown_timing,
    timing_line,
)
from boardgauge.drawings.run_timings import RunTimings
from boardgauge.judging.chart_rows import Signal, row_of, signals_of
from boardgauge.judging.fitted import Fitted, fitted_run
from boardgauge.judging.judgement import Deviation, Judgement
from boardgauge.language.model import InputKind
from boardgauge.language.quantities import S
from boardgauge.machine.run import POWER
from boardgauge.machine.settle import Engine
from boardgauge.traces.trace import Trace

_MOST_POINTS = 1200
_ALIKE = 1_000_000


def recording_chart(engine: Engine, trace: Trace, judgement: Judgement | None, asked: Asked) -> Chart | None:
    """Lay out a recording; None where nothing changes in the stretch. Raises NoSuchSignal.

    Times of the chart count from the start of the recording, as those of ``asked`` do.
    """
    checked(engine, asked)
    fitted = fitted_run(engine, trace)
    deviations = () if judgement is None else judgement.deviations
    rows = list(_rows(engine, trace, fitted, deviations, asked))
    whole = trace.end - trace.start
    moments = [time for row in rows for time in moments_of(row, 0, whole)]
    start = asked.start if asked.start is not None else max(0, min(moments, default=0) - S)
    end = asked.end if asked.end is not None else min(whole, max(moments, default=whole) + S)
    start, end = max(0, start), min(whole, end)
    if end <= start:
        return None
    clipped = [clip(row, start, end) for row in rows]
    wanted = asked.signals or ()
    kept = [row for row in clipped if moments_of(row, start, end) or row.curve is not None or row.id in wanted]
    if not kept:
        return None
    near = [d for d in deviations if start <= d.time - trace.start <= end and _row_of(d) in {row.id for row in kept}]
    marked = [time for row in kept for time in moments_of(row, start, end)]
    marked += [d.time - trace.start for d in near]
    windows = tuple(_windows(near, trace.start, start, end))
    marked += [time for window in windows for time in (window.earliest, window.latest)]
    return Chart(
        title=asked.title,
        subtitle=asked.subtitle,
        start=start,
        end=end,
        rows=tuple(kept),
        windows=windows,
        arrows=tuple(Arrow(_row_of(d), d.time - trace.start, _said(engine, d)) for d in near),
        causes=tuple(_causes(engine, fitted, kept, start, end)),
        breaks=breaks_of(marked, start, end),
        notes=tuple(_notes(trace, judgement, fitted)),
        footer=footer(engine.machine.board) + (f" · recording {trace.sha256[:12]}" if trace.sha256 else ""),
        axis="seconds from the start of the recording",
    )


def _rows(
    engine: Engine, trace: Trace, fitted: Fitted | None, deviations: Sequence[Deviation], asked: Asked
) -> Iterator[Row]:
    board = engine.machine.board
    signals = [s for s in signals_of(engine.machine, trace) if asked.signals is None or s.id in asked.signals]
    for signal in signals:
        if signal.kind == "input" and "#" not in signal.id:
            yield evolve(_wave(signal, trace), name="supply" if signal.id == POWER else signal.name)
    for row in board.inputs.values():
        if (
            row.kind is InputKind.SENSOR
            and row.id in trace.readings
            and (asked.signals is None or row.id in asked.signals)
        ):
            curve = Curve(_points(trace, row.id), limits_of(engine, row), row.unit or "", steps=False)
            yield curve_row(engine, row, curve)
    if fitted is not None:
        for timing, ramps in RunTimings(engine, fitted.run).rows():
            kept = tuple(r for ramp in ramps if (r := _known(ramp, fitted)) is not None)
            kept += tuple(_evidence(engine, timing.owner, deviations, trace.start, fitted))
            if kept and shown_timing(timing, kept, asked):
                yield timing_line(engine, timing, kept)
    for signal in signals:
        if signal.kind != "input":
            yield _wave(signal, trace)


def _wave(signal: Signal, trace: Trace) -> Row:
    row = row_of(signal, trace.start, trace.end, trace.longest_gap, False, trace.end)
    since = trace.start
    edges = tuple(Edge(e.earliest - since, e.latest - since, e.value) for e in row.edges)
    bands = tuple(evolve(b, start=b.start - since, end=b.end - since) for b in row.bands)
    return evolve(row, edges=edges, bands=bands)


def _points(trace: Trace, name: str) -> tuple[tuple[int, float], ...]:
    """Thin a sensor's samples out to what paper can show, keeping the least and the greatest of each stretch."""
    reading = trace.readings[name]
    times, values = reading.times - trace.start, reading.values
    found = [(int(t), float(v)) for t, v in zip(times.tolist(), values.tolist(), strict=True)]
    if len(found) > _MOST_POINTS:
        kept: list[tuple[int, float]] = []
        for part in np.array_split(np.arange(len(found)), _MOST_POINTS // 2):
            least, most = part[np.nanargmin(values[part])], part[np.nanargmax(values[part])]
            kept += [found[i] for i in sorted({int(least), int(most)})]
        found = kept
    return (*found, (trace.end - trace.start, found[-1][1])) if found else ()


def _known(ramp: Ramp, fitted: Fitted) -> Ramp | None:
    """Give a ramp as far as the run agrees with the recording."""
    if fitted.whole or ramp.points[-1][0] <= fitted.until:
        return ramp
    if ramp.points[0][0] >= fitted.until:
        return None
    return clip_ramp(ramp, 0, fitted.until)


def _evidence(engine: Engine, owner: str, deviations: Sequence[Deviation], zero: int, fitted: Fitted) -> Iterator[Ramp]:
    """Give what the judge counted of a rule's timing where the board did not keep to it."""
    for d in deviations:
        if d.rule != owner or d.counted_since is None or d.earliest is None or d.latest is None:
            continue
        since, window = d.counted_since[1] - zero, (d.earliest - zero, d.latest - zero)
        if since < fitted.until and not fitted.whole and d.time - zero <= fitted.until:
            continue
        if d.kind in {"early", "late", "missing"} and since < d.time - zero:
            part = (d.time - zero - since) / max(1, (window[0] + window[1]) // 2 - since)
            yield Ramp(((since, 0.0), (d.time - zero, min(1.0, part))), False, True, window)


def _row_of(d: Deviation) -> str:
    return d.signal


def _said(engine: Engine, d: Deviation) -> str:
    seen = d.observed.removeprefix(f"{words.thing(engine.machine.board, d.signal)} ")
    word = {"early": "too early", "late": "too late", "missing": "did not come", "lamp": "wrong pattern"}.get(d.kind)
    return f"deviates: {word or seen}"


def _windows(near: Sequence[Deviation], zero: int, start: int, end: int) -> Iterator[Window]:
    for d in near:
        if d.earliest is not None and d.latest is not None:
            low, high = d.earliest - zero, d.latest - zero
            if start <= low and high <= end:
                yield Window(d.signal, low, high, f"allowed {low / S:.3f} to {high / S:.3f} s")


def _causes(engine: Engine, fitted: Fitted | None, rows: Sequence[Row], start: int, end: int) -> Iterator[Cause]:
    """Give the arrows of the run that agrees, each end moved to the edge that was recorded."""
    if fitted is None:
        return
    by_id = {row.id: row for row in rows}
    for cause in causes_of(engine, fitted.run):
        # A lamp's flashes say late what it shows, so no edge of it can be pointed at.
        if cause.target in engine.machine.board.lamps or (cause.time >= fitted.until > 0 and not fitted.whole):
            continue
        if cause.source not in by_id or cause.target not in by_id or cause.source == cause.target:
            continue
        at, time = _edge_near(by_id[cause.source], cause.at), _edge_near(by_id[cause.target], cause.time)
        if at is not None and time is not None and start <= min(at, time) and max(at, time) <= end:
            yield evolve(cause, at=min(at, time), time=time)


def _edge_near(row: Row, time: int) -> int | None:
    if row.timing or row.curve is not None:
        return time
    near = min(row.drawn(), key=lambda e: abs((e.earliest + e.latest) // 2 - time), default=None)
    if near is None or not near.earliest - _ALIKE <= time <= near.latest + _ALIKE:
        return None
    return (near.earliest + near.latest) // 2


def _notes(trace: Trace, judgement: Judgement | None, fitted: Fitted | None) -> Iterator[tuple[str, str]]:
    if judgement is not None:
        yield "judged", judgement.verdict
    if fitted is None:
        yield (
            "timings",
            "not drawn: they can be followed only in a recording that begins before power-up, has a channel for the "
            "supply and one for every sensor",
        )
    elif fitted.unsupplied:
        yield (
            "timings",
            f"as the reference machine runs on these inputs, up to {fitted.until / S:.3f} s, from where on the supply "
            "is not known; from there on only what the judge counted is drawn",
        )
    elif not fitted.whole:
        yield (
            "timings",
            f"as the reference machine runs on these inputs, up to {fitted.until / S:.3f} s, where the outputs can no "
            "longer be followed so; from there on only what the judge counted is drawn",
        )
    else:
        yield "timings", "as the reference machine runs on these inputs, each as long as the outputs show it to be"
    if trace.unwired:
        yield "not recorded", ", ".join(trace.unwired)

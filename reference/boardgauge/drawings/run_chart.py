"""Lay out what a simulated board did as a timing chart: terminals, lamps, timings, and what brought what about.

Law of this module: a pure function of the run and of what is asked for; every change of a row that is shown is on the
chart, and time is left out only where none of them lies. The supply stands first, then inputs, timings, outputs, lamps.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from itertools import pairwise

from attrs import evolve, frozen

from boardgauge.drawings import words
from boardgauge.drawings.causes import causes_of, timing_row
from boardgauge.drawings.chart import Band, Cause, Chart, Curve, Edge, Ramp, Row
from boardgauge.drawings.rendering import footer
from boardgauge.drawings.run_timings import RunTimings
from boardgauge.drawings.time_words import time_range
from boardgauge.language.model import Input, InputKind
from boardgauge.language.problems import nearest_of
from boardgauge.language.quantities import S
from boardgauge.language.quantity_writer import write_plain_time, write_quantity
from boardgauge.machine.config import Config
from boardgauge.machine.run import POWER, Edges, Run
from boardgauge.machine.settle import Engine
from boardgauge.machine.table import Region, Timing

_LONGEST_NAME = 40


class NoSuchSignal(LookupError):
    """The board has no signal, rule or timing of that id; the message names the nearest."""


@frozen
class Asked:
    """What of a run is to be shown: a stretch (None: from the first to the last change), and signals (None: all that
    change)."""

    start: int | None = None
    end: int | None = None
    signals: tuple[str, ...] | None = None
    title: str = ""
    subtitle: str = ""


def run_chart(engine: Engine, run: Run, asked: Asked) -> Chart | None:
    """Lay out a run; None where nothing changes in the stretch. Raises NoSuchSignal for a signal that is not there."""
    checked(engine, asked)
    rows = tuple(_rows(engine, run, asked))
    moments = [time for row in rows for time in moments_of(row, 0, run.end)]
    if not moments:
        return None
    start = max(0, min(moments) - S) if asked.start is None else asked.start
    end = min(run.end, max(moments) + max(S, (max(moments) - start) // 25)) if asked.end is None else asked.end
    return finished(engine, run, rows, max(0, start), min(run.end, end), asked)


def finished(engine: Engine, run: Run, rows: Sequence[Row], start: int, end: int, asked: Asked) -> Chart | None:
    """Cut rows to a stretch, leave out what does not change in it, and put the chart together."""
    clipped = [clip(row, start, end) for row in rows]
    # What was asked for by name is shown even if it stands still.
    wanted = asked.signals or ()
    kept = [row for row in clipped if moments_of(row, start, end) or row.id in wanted]
    if not kept or end <= start:
        return None
    shown = {row.id for row in kept}
    causes = tuple(c for c in _linked(causes_of(engine, run), shown) if start <= c.at <= c.time <= end)
    moments = [time for row in kept for time in moments_of(row, start, end)]
    return Chart(
        title=asked.title,
        subtitle=asked.subtitle,
        start=start,
        end=end,
        rows=tuple(kept),
        causes=causes,
        breaks=breaks_of(moments, start, end),
        footer=footer(engine.machine.board),
        axis="seconds",
    )


def checked(engine: Engine, asked: Asked) -> None:
    """Raise NoSuchSignal for a signal that is asked for and not there."""
    known = known_signals(engine)
    for name in asked.signals or ():
        if name not in known:
            near = nearest_of(name, known)
            hint = f'; did you mean "{near}"?' if near else f": there are {', '.join(known)}"
            raise NoSuchSignal(f'board {engine.machine.board.id} has no signal, rule or timing "{name}"{hint}')


def known_signals(engine: Engine) -> list[str]:
    """Give what can be asked for: the supply, inputs, timings and rules, outputs, lamps."""
    board = engine.machine.board
    timings = [t.name for t in engine.machine.timings if t.role not in {"requirement", "not judged"}]
    names = [POWER, *board.inputs, *timings, *board.rules, *board.conditions, *board.outputs, *board.lamps]
    return list(dict.fromkeys(names))


# -- rows ----------------------------------------------------------------------------------------------------------


def _rows(engine: Engine, run: Run, asked: Asked) -> Iterator[Row]:
    board = engine.machine.board

    def shown(name: str) -> bool:
        return asked.signals is None or name in asked.signals

    if shown(POWER):
        yield _wave(POWER, "supply", run.power, "off", "on")
    for row in board.inputs.values():
        if shown(row.id):
            yield (
                sensor_row(engine, row, run)
                if row.kind is InputKind.SENSOR
                else _wave(row.id, words.thing(board, row.id), run.inputs[row.id], *words.states(row.kind))
            )
    for timing, ramps in RunTimings(engine, run).rows():
        if shown_timing(timing, ramps, asked):
            yield timing_line(engine, timing, ramps)
    if asked.signals is not None:
        for region in engine.machine.regions:
            if region.rule in asked.signals and region.kind != "output":
                yield _kept(engine, region, run)
        for name in asked.signals:
            if name in board.conditions:
                yield _followed(engine, name, run)
    for output in board.outputs.values():
        if shown(output.id):
            yield _wave(output.id, words.thing(board, output.id), run.outputs[output.id], "off", "on")
    for number, lamp in enumerate(board.lamps.values()):
        if shown(lamp.id):
            yield _lamp(engine, run, number, lamp.id)


def shown_timing(timing: Timing, ramps: tuple[Ramp, ...], asked: Asked) -> bool:
    """Tell whether a timing that ran is shown."""
    if asked.signals is not None:
        own = {timing.name} if timing.role == "window" else {timing.name, timing.owner}
        return bool(own & set(asked.signals))
    # The windows of a count run for an hour and seldom decide anything: shown where one runs out.
    return timing.role != "window" or any(ramp.over for ramp in ramps)


def _wave(name: str, label: str, edges: Edges, low: str, high: str) -> Row:
    changes = tuple(Edge(time, time, bool(value)) for time, value in edges.changes)
    return Row(name, label, bool(edges.initial), changes, low, high, name if name != label else "")


def _followed(engine: Engine, name: str, run: Run) -> Row:
    edges, value = [], False
    for entry in run.story:
        new = entry.config.powered and engine.holds(entry.config, name)
        if new != value:
            edges.append(Edge(entry.time, entry.time, new))
            value = new
    label = words.thing(engine.machine.board, name)
    return Row(name, label, False, tuple(edges), "no", "yes", name if name != label else "")


def sensor_row(engine: Engine, row: Input, run: Run) -> Row:
    """Give the row of a sensor, with the limits that the rules compare it with."""
    edges = run.inputs[row.id]
    points = [(0, float(edges.initial)), *((time, float(value)) for time, value in edges.changes)]
    points.append((run.end, points[-1][1]))
    return curve_row(engine, row, Curve(tuple(points), limits_of(engine, row), row.unit or ""))


def curve_row(engine: Engine, row: Input, curve: Curve) -> Row:
    """Give a row for the curve of a sensor."""
    label = words.thing(engine.machine.board, row.id)
    return Row(row.id, label, False, (), "", "", row.id if row.id != label else "", curve=curve)


def limits_of(engine: Engine, row: Input) -> tuple[tuple[float, str], ...]:
    """Give every number that the rules compare a sensor with, as written and on the scale of the sensor."""
    from boardgauge.language.units import in_unit

    found: dict[float, str] = {}
    for level in engine.machine.levels:
        if level.input == row.id and level.comparison is not None:
            for limit in (level.comparison.limit, level.comparison.until):
                if limit is not None:
                    number = float(in_unit(limit, row.unit).number if row.unit else limit.number)
                    found[number] = write_quantity(limit)
    return tuple(sorted(found.items()))


def timing_line(engine: Engine, timing: Timing, ramps: tuple[Ramp, ...]) -> Row:
    """Give the row of a timing: its whole time at the top, its range under its name."""
    board = engine.machine.board
    name = words.thing(board, timing.owner)
    if len(name) > _LONGEST_NAME:
        name = words.plain(timing.owner)
    if timing.role in {"step", "at least", "at most", "window"}:
        name = {"step": words.plain(timing.name), "window": f"{name}: time it counts"}.get(
            timing.role, f"{name}: {timing.role.removeprefix('at ')} time"
        )
    if len(timing.choices) == 1:
        lasts = timing.choices[0]
        top = write_plain_time(lasts.nominal)
        detail = time_range(lasts.shortest, lasts.longest) if lasts.shortest != lasts.longest else "exactly"
    else:
        top, detail = "full", words.timing(board, timing)
    return Row(timing_row(timing.name), name, False, (), "0", top, detail, timing=True, ramps=ramps)


def _kept(engine: Engine, region: Region, run: Run) -> Row:
    """Give the row of a rule that keeps something: its place over time."""
    label = words.thing(engine.machine.board, region.rule)
    spans = list(_spans(run, lambda config: config.places[region.index] if config.powered else 0, 0))
    detail = region.rule if region.rule != label else ""
    if len(region.places) == 2:
        edges = tuple(Edge(since, since, bool(place)) for since, _, place in spans[1:])
        low, high = words.plain(region.places[0]), words.plain(region.places[1])
        return Row(region.rule, label, bool(spans[0][2]), edges, low, high, detail)
    bands = tuple(Band(since, until, words.plain(region.places[place])) for since, until, place in spans)
    return Row(region.rule, label, False, _turns(bands), "", "", detail, bands)


def _lamp(engine: Engine, run: Run, number: int, lamp: str) -> Row:
    board = engine.machine.board
    bands = []
    for since, until, line in _spans(run, lambda config: engine.lamp_line(config, number)):
        if line < 0:
            bands.append(Band(since, until, "dark", "dark"))
            continue
        told = words.lamp_line(board, lamp, line)
        shows = words.pattern(board.lamps[lamp].lines[line].shows)
        bands.append(Band(since, until, f"{shows}: {told}", shows))
    label = words.thing(board, lamp)
    return Row(lamp, label, False, _turns(bands), "", "", lamp if lamp != label else "", tuple(bands))


def _turns(bands: Sequence[Band]) -> tuple[Edge, ...]:
    # What is known by its bands alone has its changes where they meet; a level is never drawn.
    return tuple(Edge(band.start, band.start, False) for band in bands[1:])


def _spans(run: Run, value_of: Callable[[Config], int], off: int = -1) -> Iterator[tuple[int, int, int]]:
    """Give (from, to, value) over a run; before its first instant a board has no power, and the value ``off``."""
    since, value = 0, None if run.story and run.story[0].time <= 0 else off
    for entry in run.story:
        new = value_of(entry.config)
        if new != value:
            if value is not None and entry.time > since:
                yield since, entry.time, value
            since, value = entry.time, new
    if run.end > since:
        yield since, run.end, off if value is None else value


# -- the stretch ---------------------------------------------------------------------------------------------------


def moments_of(row: Row, start: int, end: int) -> list[int]:
    """Give the moments of a row that lie in a stretch: its changes, and the ends of its ramps and their windows."""
    found = [time for edge in row.edges for time in (edge.earliest, edge.latest)]
    for ramp in row.ramps:
        found += [ramp.points[0][0]]
        found += [ramp.points[-1][0]] if ramp.over or ramp.cut else []
        found += ramp.window if ramp.window is not None and ramp.over else ()
    if row.curve is not None:
        steps = pairwise(row.curve.points)
        found += [b[0] for a, b in steps if b[1] != a[1]] if row.curve.steps else []
    return [time for time in found if start < time < end]


def clip(row: Row, start: int, end: int) -> Row:
    """Cut a row to a stretch."""
    initial = row.initial
    for edge in row.edges:
        if edge.latest <= start:
            initial = edge.value
    edges = tuple(
        evolve(e, earliest=max(start, e.earliest), latest=min(end, e.latest))
        for e in row.edges
        if e.latest > start and e.earliest <= end
    )
    bands = tuple(
        evolve(b, start=max(start, b.start), end=min(end, b.end)) for b in row.bands if b.start < end and start < b.end
    )
    ramps = tuple(r for ramp in row.ramps if (r := clip_ramp(ramp, start, end)) is not None)
    curve = None if row.curve is None else evolve(row.curve, points=_clip_points(row.curve, start, end))
    return evolve(row, initial=initial, edges=edges, bands=bands, ramps=ramps, curve=curve)


def clip_ramp(ramp: Ramp, start: int, end: int) -> Ramp | None:
    """Cut a ramp to a stretch; None where none of it lies there."""
    first, last = ramp.points[0][0], ramp.points[-1][0]
    if last <= start or first >= end:
        return None
    inside = [(max(start, first), _part(ramp, max(start, first)))]
    inside += [(time, part) for time, part in ramp.points[1:-1] if inside[0][0] < time < end]
    inside.append((min(end, last), _part(ramp, min(end, last))))
    window = None
    if ramp.window is not None and ramp.window[0] < end and start < ramp.window[1]:
        window = max(start, ramp.window[0]), min(end, ramp.window[1])
    ends = last <= end
    return Ramp(tuple(inside), ramp.over and ends, ramp.cut and ends, window)


def _part(ramp: Ramp, time: int) -> float:
    for (a, low), (b, high) in pairwise(ramp.points):
        if a <= time <= b:
            return low + (high - low) * (time - a) / (b - a) if b > a else high
    return ramp.points[-1][1]


def _clip_points(curve: Curve, start: int, end: int) -> tuple[tuple[int, float], ...]:
    inside = [point for point in curve.points if start < point[0] < end]
    before = [number for time, number in curve.points if time <= start]
    first = [(start, before[-1])] if before else []
    last = [(end, (first + inside)[-1][1])] if first or inside else []
    return (*first, *inside, *last)


def breaks_of(moments: Sequence[int], start: int, end: int) -> tuple[tuple[int, int], ...]:
    """Leave out the middle of stretches far longer than most, in which nothing happens."""
    times = sorted({start, end, *moments})
    gaps = sorted(b - a for a, b in pairwise(times))
    if len(gaps) < 3:
        return ()
    # Half of the chart should show where something happens.
    usual = max(S, sorted(gaps)[int(len(gaps) * 0.6)], (end - start) // 60)
    found = []
    for a, b in pairwise(times):
        keep = usual
        if b - a > 5 * usual:
            found.append((a + keep, b - keep))
    return tuple(found)


def _linked(causes: Sequence[Cause], shown: set[str]) -> Iterator[Cause]:
    for cause in causes:
        if cause.source in shown and cause.target in shown and cause.source != cause.target:
            yield cause

"""A timing chart of a run shows what the run holds: its changes, its timings, and causes that are causes."""

from __future__ import annotations

import re
from functools import cache

import pytest

from boardgauge.boards import board_path
from boardgauge.drawings.causes import causes_of, timing_row
from boardgauge.drawings.chart import Chart
from boardgauge.drawings.run_chart import Asked, NoSuchSignal, run_chart
from boardgauge.drawings.run_timings import RunTimings
from boardgauge.drawings.timing_chart import timing_chart
from boardgauge.language import read_board
from boardgauge.machine.compile import compile_board
from boardgauge.machine.run import Run, Timeline
from boardgauge.machine.settle import Engine
from boardgauge.machine.simulate import Simulator

S = 1_000_000


@cache
def engine_of(name: str = "tarnbeck") -> Engine:
    return Engine(compile_board(read_board(board_path(name))))


@cache
def a_run(timings: str = "nominal", fast: bool = False) -> Run:
    """A call with a high-pressure trip, and the wait for the restart."""
    inputs: dict[str, tuple[tuple[int, bool], ...]] = {
        "power": ((S, True),),
        "y": ((11 * S, True), (149 * S, False)),
        "hps": ((0, True), (71 * S, False), (79 * S, True)),
        "lps": ((0, True),),
    }
    if fast:
        inputs["fast"] = ((90 * S, True),)
    engine = engine_of()
    return Simulator(engine.machine, timings, 7, engine=engine).run(Timeline(inputs, 209 * S))  # type: ignore[arg-type]


def chart_of(signals: tuple[str, ...] | None = None, **stretch: int) -> Chart:
    made = run_chart(engine_of(), a_run(), Asked(signals=signals, **stretch))
    assert made is not None
    return made


@pytest.mark.parametrize("timings", ["nominal", "earliest", "latest", "random"])
@pytest.mark.parametrize("fast", [False, True])
def test_a_timing_that_ran_out_ends_in_its_window(timings: str, fast: bool) -> None:
    """Every ramp that is over ends inside its window, whatever the timings and with a speed-up fitted meanwhile."""
    run = a_run(timings, fast)
    ended = [r for _, ramps in RunTimings(engine_of(), run).rows() for r in ramps if r.over]
    assert len(ended) >= 4
    for ramp in ended:
        assert ramp.window is not None
        assert ramp.window[0] <= ramp.points[-1][0] <= ramp.window[1]


def test_a_ramp_is_a_stretch_of_the_run() -> None:
    """Each timing's ramps begin and end where its stretches do, and never fall."""
    run = a_run("random", True)
    for row, ramps in RunTimings(engine_of(), run).rows():
        stretches = {(s.origin, s.end) for s in run.stretches if s.timing == row.index and s.end > s.origin}
        assert {(r.points[0][0], r.points[-1][0]) for r in ramps} == stretches
        for ramp in ramps:
            parts = [part for _, part in ramp.points]
            assert parts == sorted(parts)
            assert ramp.over == (parts[-1] == 1.0)


def test_a_speed_up_makes_a_ramp_steeper() -> None:
    """A link fitted in the middle of a delay turns its ramp there."""
    (row,) = [ramps for t, ramps in RunTimings(engine_of(), a_run(fast=True)).rows() if t.name == "restart_delay"]
    (first, low), (turn, middle), (last, high) = row[0].points
    assert turn == 90 * S
    assert (high - middle) / (last - turn) == pytest.approx(60 * (middle - low) / (turn - first), rel=0.01)


def test_arrows_of_cause_are_those_of_the_rules() -> None:
    """The trip stops the contactor, that the fan; its end starts the delay, whose end starts the contactor again."""
    found = {(c.source, c.at, c.target, c.time) for c in causes_of(engine_of(), a_run())}
    restart = timing_row("restart_delay")
    assert ("hps", 71 * S, "cc", 71 * S) in found
    assert ("cc", 71 * S, "fan", 71 * S) in found
    assert ("cc", 71 * S, restart, 71 * S) in found
    assert (restart, 116 * S, "cc", 116 * S) in found
    assert ("power", S, timing_row("power_up_delay"), S) in found
    assert not any(c[0] == "hps" and c[1] == 79 * S for c in found), "the switch closing again changes nothing"


@pytest.mark.parametrize("timings", ["nominal", "latest", "random"])
def test_every_change_of_an_output_has_a_cause_before_it(timings: str) -> None:
    """No output changes without an arrow to the change, and no arrow runs backwards in time."""
    run = a_run(timings)
    causes = causes_of(engine_of(), run)
    assert all(c.at <= c.time for c in causes)
    arrived = {(c.target, c.time) for c in causes}
    for output, edges in run.outputs.items():
        assert {(output, time) for time, _ in edges.changes} <= arrived


def test_what_changes_is_shown_and_nothing_else() -> None:
    """The rows are the signals that change; those of the run's edges are all on them."""
    run, chart = a_run(), chart_of()
    ids = {row.id for row in chart.rows}
    assert {"power", "y", "hps", "cc", "fan", "led", timing_row("bypass")} <= ids
    assert not ids & {"lps", "alm", "aux", timing_row("cold_run")}
    (row,) = [row for row in chart.rows if row.id == "cc"]
    assert [(e.earliest, e.value) for e in row.edges] == list(run.outputs["cc"].changes)


def test_signals_may_be_chosen_rules_among_them() -> None:
    """A rule's place is drawn as a wave, a count as its numbers; arrows join only what is shown."""
    chart = chart_of(("hps", "hp_wait", "hp_trips", "cc"))
    assert [row.id for row in chart.rows] == ["hps", "hp_wait", "hp_trips", "cc"]
    (count,) = [row for row in chart.rows if row.id == "hp_trips"]
    assert [band.text for band in count.bands] == ["0", "1", "0"]
    assert {c.source for c in chart.causes} | {c.target for c in chart.causes} <= {"hps", "cc"}


def test_an_unknown_signal_is_refused_with_the_nearest() -> None:
    with pytest.raises(NoSuchSignal, match='"hsp"; did you mean "hps"'):
        run_chart(engine_of(), a_run(), Asked(signals=("hsp",)))


def test_breaks_hide_nothing() -> None:
    """No change, no end of a timing and no window of one that is over lies in a break."""
    chart = chart_of()
    moments = [e.earliest for row in chart.rows for e in row.edges]
    moments += [r.points[-1][0] for row in chart.rows for r in row.ramps]
    assert chart.breaks
    assert not any(a < time < b for a, b in chart.breaks for time in moments)


def test_a_stretch_is_cut_at_its_ends() -> None:
    """A timing under way where the chart begins is drawn from there, as high as it has come."""
    chart = chart_of(start=90 * S, end=130 * S)
    (row,) = [row for row in chart.rows if row.id == timing_row("restart_delay")]
    (first, part), *_ = row.ramps[0].points
    assert (first, part) == (90 * S, pytest.approx(19 / 45))
    assert all(chart.start <= c.at <= c.time <= chart.end for c in chart.causes)


def test_a_chart_is_drawn_without_colour() -> None:
    """Ramps, their windows and arrows are in the SVG, and no colour but black, white and one grey."""
    svg = timing_chart(chart_of())
    colours = set(re.findall(r'(?:fill|stroke)="(?!none|url)([^"]+)"', svg))
    assert colours <= {"black", "white", "#e6e6e6"}
    assert svg.count('class="ramp"') == sum(len(row.ramps) for row in chart_of().rows) + 1 + ("cut short" in svg)
    assert svg.count('class="cause"') == len(chart_of().causes) + 1

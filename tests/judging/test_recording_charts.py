"""A chart of a recording shows the recording's edges, and ramps and arrows only where a run of the machine agrees."""

from __future__ import annotations

from functools import cache
from importlib.resources import files
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boardgauge.boards import board_path
from boardgauge.command.finding import find_wiring
from boardgauge.drawings.causes import timing_row
from boardgauge.drawings.run_chart import Asked
from boardgauge.drawings.timing_chart import timing_chart
from boardgauge.judging.fitted import fitted_run
from boardgauge.judging.judge import Judge
from boardgauge.judging.recording_chart import recording_chart
from boardgauge.language import read_board
from boardgauge.machine.compile import compile_board
from boardgauge.machine.run import Timeline
from boardgauge.machine.settle import Engine
from boardgauge.machine.simulate import Simulator
from boardgauge.many.judging_one import trace_of
from boardgauge.traces import condition, default_wiring
from boardgauge.traces.simulated import recording_of
from boardgauge.traces.trace import Trace

RECORDINGS = Path(__file__).parent.parent / "recordings"
DEMO = Path(str(files("boardgauge.cases").joinpath("demo")))
S = 1_000_000


@cache
def engine_of(name: str) -> Engine:
    return Engine(compile_board(read_board(board_path(name))))


@cache
def trace_from(name: str, path: Path) -> Trace:
    board = engine_of(name).machine.board
    return trace_of((str(path),), find_wiring(None, board, board_path(name)), board)


GOOD = (
    ("tarnbeck", RECORDINGS / "s05_hp_two_calls__good__logger.csv.gz"),
    ("quillmere", DEMO / "quillmere_two_calls__good.vcd"),
)


@pytest.mark.parametrize(("name", "path"), GOOD)
def test_a_good_recording_is_followed_to_its_end(name: str, path: Path) -> None:
    """A run agrees with it throughout, each edge of an output within what measuring and lag leave open."""
    engine, trace = engine_of(name), trace_from(name, path)
    fitted = fitted_run(engine, trace)
    assert fitted is not None
    assert fitted.whole
    board = engine.machine.board
    for output in board.outputs.values():
        late = [value for time, value in fitted.run.outputs[output.id].changes if time > 10 * S]
        seen = [value for early, _, value in trace.waves[output.id].changes() if early - trace.start > 10 * S]
        assert late == seen


@settings(max_examples=12, deadline=None)
@given(st.integers(0, 10_000))
def test_what_a_board_took_is_found_again(seed: int) -> None:
    """Of a simulated board with timings drawn at random, the ramps that show end where the board's timings ended."""
    engine = engine_of("tarnbeck")
    board = engine.machine.board
    inputs: dict[str, tuple[tuple[int, bool], ...]] = {
        "power": ((S, True),),
        "y": ((11 * S, True), (149 * S, False)),
        "hps": ((0, True), (71 * S, False), (79 * S, True)),
        "lps": ((0, True),),
    }
    run = Simulator(engine.machine, "random", seed, engine=engine).run(Timeline(inputs, 160 * S))
    trace = condition(recording_of(run, board, None, "x.vcd"), default_wiring(board), board)
    fitted = fitted_run(engine, trace)
    assert fitted is not None
    assert fitted.whole
    shown = [t.index for t in engine.machine.timings if t.name in {"power_up_delay", "restart_delay"}]
    for timing in shown:
        real = [s.end for s in run.stretches if s.timing == timing and s.how == "expired"]
        found = [s.end for s in fitted.run.stretches if s.timing == timing and s.how == "expired"]
        assert len(real) == len(found)
        haste = board.responds_within + 2 * board.outputs["cc"].lag + board.filter.greatest
        assert all(abs(a - b) <= haste for a, b in zip(real, found, strict=True))


def test_a_chart_of_a_recording_has_its_edges_and_ramps() -> None:
    name, path = GOOD[0]
    engine, trace = engine_of(name), trace_from(name, path)
    chart = recording_chart(engine, trace, Judge.of(engine.machine.board).judge(trace), Asked(title="t"))
    assert chart is not None
    rows = {row.id: row for row in chart.rows}
    meant = [(e - trace.start, late - trace.start) for e, late, _ in trace.waves["cc"].changes()]
    assert [(e.earliest, e.latest) for e in rows["cc"].edges] == meant
    assert sum(ramp.over for ramp in rows[timing_row("restart_delay")].ramps) == 5
    assert any(c.source == "hps" and c.target == "cc" for c in chart.causes)
    timing_chart(chart)


def test_where_a_board_deviates_the_ramp_is_what_the_judge_counted() -> None:
    """A restart too soon: the ramp is cut short at the edge, before its window, and the edge is marked."""
    path = DEMO / "quillmere_two_calls__restarts_too_soon.vcd"
    engine, trace = engine_of("quillmere"), trace_from("quillmere", path)
    judgement = Judge.of(engine.machine.board).judge(trace)
    chart = recording_chart(engine, trace, judgement, Asked(title="t"))
    assert chart is not None
    first = judgement.deviations[0]
    (row,) = [row for row in chart.rows if row.id == timing_row("anti_short_cycle")]
    last = row.ramps[-1]
    assert last.cut
    assert last.window == (first.earliest - trace.start, first.latest - trace.start)  # type: ignore[operator]
    assert last.points[-1][0] < last.window[0]
    assert [arrow.time for arrow in chart.arrows] == [d.time - trace.start for d in judgement.deviations]
    assert not any(c.time > first.time - trace.start for c in chart.causes)


def test_without_a_known_start_no_timing_is_drawn() -> None:
    """A recording that begins with the supply on tells nothing of what runs: the chart says so."""
    name, path = GOOD[0]
    engine, trace = engine_of(name), trace_from(name, path)
    from attrs import evolve

    blind = evolve(trace, unwired=("power",))
    chart = recording_chart(engine, blind, None, Asked(title="t"))
    assert chart is not None
    assert not any(row.timing for row in chart.rows)
    assert any(heading == "timings" and text.startswith("not drawn") for heading, text in chart.notes)

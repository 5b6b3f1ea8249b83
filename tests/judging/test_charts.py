"""Law: the chart of a deviation shows every change of the stretch once, marks the window where it is, and leaves time
out only where nothing changes.
"""

from __future__ import annotations

from functools import cache
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st

from boardgauge.command.explaining import stem_of
from boardgauge.command.program import main
from boardgauge.drawings.chart import Chart
from boardgauge.drawings.timing_chart import axis_of, timing_chart
from boardgauge.judging.chart import QUIET, chart_of
from boardgauge.judging.judge import Judge
from boardgauge.judging.judgement import Deviation, Judgement
from boardgauge.judging.rhythm import rhythms
from boardgauge.language import read_board_text
from boardgauge.machine.table import Machine
from boardgauge.traces import Trace, Wave, condition, default_wiring, recording_from

S = 1_000_000
END = 600 * S
SMALL = """
language = 1
[board]
id = "small"
title = "A small board, invented"
responds_within = "0.2 s"
filter = "0.15 s to 0.3 s"
[inputs]
call = { kind = "call", text = "heating call" }
door = { kind = "switch", contact = "normally closed" }
[rules.rest]
kind = "delay"
clause = "2.4"
begins = "power_up or motor ends"
lasts = "45 s ± 10 %"
if_begun_again = "starts over"
[outputs.motor]
starts = "call and not rest"
stops = "not call"
lag = "50 ms"
[outputs.fan]
on = "motor"
lag = "50 ms"
[lamps.led]
tolerance = "± 20 %"
changes_within = "0.5 s"
lines = [
  { when = "motor", shows = "1 s lit, 1 s dark" },
  { when = "otherwise", shows = "steady", means = "standby" },
]
"""


@cache
def judge() -> Judge:
    return Judge.of(read_board_text(SMALL, "small.toml"))


def machine() -> Machine:
    return judge().engine.machine


def wave(name: str, initial: bool | None, changes: list[tuple[int, int, bool | None]]) -> Wave:
    early = np.array([c[0] for c in changes], dtype=np.int64)
    late = np.array([c[1] for c in changes], dtype=np.int64)
    values = np.array([-1 if c[2] is None else int(c[2]) for c in changes], dtype=np.int8)
    return Wave(name, name, initial, early, late, late, values, early, late)


@st.composite
def waves(draw: st.DrawFn, name: str) -> Wave:
    times = sorted(draw(st.lists(st.integers(1, END - 1), max_size=30, unique=True)))
    value = initial = draw(st.sampled_from([True, False, None]))
    changes = []
    for early, late in zip(times[::2], times[1::2], strict=False):
        value = draw(st.sampled_from([other for other in (True, False, None) if other is not value]))
        changes.append((early, draw(st.sampled_from([early, min(late, early + S // 2)])), value))
    return wave(name, initial, changes)


@st.composite
def cases(draw: st.DrawFn) -> tuple[Trace, Deviation]:
    names = ("power", "call", "door", "motor", "fan", "led")
    trace = Trace("small", "run.vcd", "0" * 64, 0, END, {name: draw(waves(name)) for name in names})
    kind = draw(st.sampled_from(["early", "late", "unasked", "missing", "lamp", "requirement", "start"]))
    since, earliest, latest, time = sorted(draw(st.lists(st.integers(0, END), min_size=4, max_size=4)))
    if kind == "early":
        earliest, latest, time = time, END, earliest
    timed = kind in {"early", "late", "missing"}
    signal = "led" if kind == "lamp" else draw(st.sampled_from(["motor", "fan"]))
    known = kind in {"early", "late", "lamp"} and draw(st.booleans())
    return trace, Deviation(
        kind,  # type: ignore[arg-type]  # one of the words above
        time,
        signal,
        signal,
        "rest",
        "2.4",
        earliest if timed else None,
        latest if timed else None,
        "it did this",
        "it does that",
        counted_since=(since, since) if known else None,
        seen_since=earliest if kind == "lamp" else None,
    )


def judged(deviation: Deviation) -> Judgement:
    return Judgement("run.vcd", "small", "deviates", (deviation,), (), (), (), 0, END, True)


def charted(trace: Trace, deviation: Deviation) -> Chart:
    return chart_of(machine(), trace, judged(deviation), deviation)


@settings(max_examples=20, deadline=None)
@given(cases())
def test_every_change_of_the_stretch_is_drawn_once(case: tuple[Trace, Deviation]) -> None:
    trace, deviation = case
    chart = charted(trace, deviation)
    shown = {row.id: row for row in chart.rows}
    for name, one in trace.waves.items():
        inside = [(a, b, v) for a, b, v in one.changes() if b >= chart.start and a <= chart.end]
        assert bool(inside) <= (name in shown)
        if name in shown:
            cut = [(max(a, chart.start), min(b, chart.end), v) for a, b, v in inside]
            assert [(e.earliest, e.latest, e.value) for e in shown[name].edges] == cut
            drawn = [e for e in shown[name].edges if e in shown[name].drawn()]
            assert name == "led" or len(drawn) == len(cut)


@settings(max_examples=20, deadline=None)
@given(cases())
def test_time_is_left_out_only_where_nothing_is_drawn(case: tuple[Trace, Deviation]) -> None:
    trace, deviation = case
    chart = charted(trace, deviation)
    moments = [t for row in chart.rows for e in row.drawn() for t in (e.earliest, e.latest)]
    moments += [t for row in chart.rows for b in row.bands for t in (b.start, b.end)]
    moments += [t for w in chart.windows for t in (w.earliest, w.latest)]
    moments += [t for a in chart.arrows for t in (a.time, a.until) if t is not None]
    moments += [t for one in chart.lines for t in (one.earliest, one.latest)]
    for begin, end in chart.breaks:
        assert not [t for t in moments if begin <= t <= end]
        assert end - begin > QUIET / 2 * (chart.end - chart.start)
    assert all(chart.start <= t <= chart.end for t in moments)


@settings(max_examples=20, deadline=None)
@given(cases())
def test_any_deviation_can_be_drawn(case: tuple[Trace, Deviation]) -> None:
    chart = charted(*case)
    ElementTree.fromstring(timing_chart(chart))
    assert axis_of(chart).scale > 0
    assert chart.arrows
    assert [row.id for row in chart.rows if row.emphasised] == [case[1].signal]


@settings(max_examples=20, deadline=None)
@given(cases())
def test_rows_come_supply_first_then_inputs_outputs_lamps(case: tuple[Trace, Deviation]) -> None:
    order = ["power", "call", "door", "motor", "fan", "led"]
    names = [row.id for row in charted(*case).rows]
    assert names == [name for name in order if name in names]


# -- recordings --------------------------------------------------------------------------------------------------------


def trace_of(text: str) -> Trace:
    board = machine().board
    return condition(recording_from(text.encode(), "run.csv"), default_wiring(board), board)


EARLY = "time,power,call,door,motor,fan,led\n" + "\n".join(
    f"{t / 10:.1f},{int(t >= 10)},{int(60 <= t < 800 or t >= 900)},1,{m},{m},{led}"
    for t in range(1400)
    for m in [int(480 <= t < 802 or t >= 1050)]
    for led in [int(t >= 10 and (not m or (t - (480 if t < 900 else 1050)) // 10 % 2 == 0))]
)
"""The motor stops at 80.2 s and starts at 105.0 s, less than 40.5 s later; sampled ten times a second."""


@cache
def early() -> tuple[Trace, Judgement]:
    trace = trace_of(EARLY)
    return trace, judge().judge(trace)


def early_chart() -> Chart:
    trace, judgement = early()
    return chart_of(machine(), trace, judgement, judgement.deviations[0])


def test_an_early_restart_shows_its_window_and_what_it_counts_from() -> None:
    judgement = early()[1]
    first = judgement.deviations[0]
    assert (first.kind, first.signal, first.rule) == ("early", "motor", "rest")
    chart = early_chart()
    (window,) = chart.windows
    assert (window.row, window.earliest, window.latest) == ("motor", first.earliest, first.latest)
    assert "allowed" in window.label
    (line,) = chart.lines
    assert (line.earliest, line.latest) == first.counted_since
    (arrow,) = chart.arrows
    assert arrow.time == first.time
    assert arrow.label.endswith("s too early")
    assert chart.start < 80 * S < 80.1 * S < chart.end
    assert chart.breaks


def test_it_is_titled_by_board_rule_and_clause_and_footed_by_spec() -> None:
    chart = early_chart()
    assert chart.title == "small: rest, § 2.4"
    assert machine().board.digest[:12] in chart.footer
    assert "Boardgauge" in chart.footer


def test_signals_that_do_not_change_are_listed() -> None:
    chart = early_chart()
    assert "door" not in [row.id for row in chart.rows]
    unchanged = dict(chart.notes)["unchanged"].replace("\u00a0", " ")
    assert unchanged == "power on, door closed"


def test_sampled_changes_lie_between_two_samples() -> None:
    (motor,) = [row for row in early_chart().rows if row.id == "motor"]
    assert [(e.earliest, e.latest) for e in motor.edges] == [(80_100_000, 80_200_000), (104_900_000, 105_000_000)]


# -- rhythms -----------------------------------------------------------------------------------------------------------


def flashes(groups: int, number: int, pause: int = 1500) -> list[tuple[int, bool | None]]:
    changes: list[tuple[int, bool | None]] = []
    time = 0
    for _ in range(groups):
        for _ in range(number):
            changes += [(time * 1000, True), ((time + 250) * 1000, False)]
            time += 500
        time += pause - 250
    return changes


def test_a_blink_is_one_rhythm() -> None:
    changes: list[tuple[int, bool | None]] = [(t * S // 10, t % 2 == 0) for t in range(50)]
    (found,) = rhythms(changes)
    assert (found.start, found.end) == (0, 49 * S // 10)
    assert found.text == "100 ms lit, 100 ms dark"


@pytest.mark.parametrize("number", range(2, 8))
def test_groups_of_flashes_are_one_rhythm(number: int) -> None:
    (found,) = rhythms(flashes(5, number))
    assert found.text == f"{number} flashes, again and again"


def test_a_rhythm_ends_where_another_begins() -> None:
    first: list[tuple[int, bool | None]] = [(t * S, t % 2 == 0) for t in range(20)]
    changes = first + [(20 * S + t, value) for t, value in flashes(4, 3)]
    assert [r.text for r in rhythms(changes)] == ["1 s lit, 1 s dark", "3 flashes, again and again"]


@settings(max_examples=50, deadline=None)
@given(st.lists(st.integers(1, 10 * S), min_size=1, max_size=80))
def test_rhythms_do_not_overlap_and_end_at_changes(lengths: list[int]) -> None:
    times = np.cumsum(lengths).tolist()
    changes: list[tuple[int, bool | None]] = [(t, i % 2 == 0) for i, t in enumerate(times)]
    found = rhythms(changes)
    assert all(r.start in times and r.end in times and r.start < r.end for r in found)
    assert all(a.end <= b.start for a, b in pairwise(found))


def test_what_is_not_known_is_in_no_rhythm() -> None:
    changes: list[tuple[int, bool | None]] = [(t * S, None if t == 25 else t % 2 == 0) for t in range(50)]
    assert [(r.start, r.end) for r in rhythms(changes)] == [(0, 25 * S), (26 * S, 49 * S)]


# -- the command line --------------------------------------------------------------------------------------------------


@pytest.fixture
def files(tmp_path: Path) -> Path:
    (tmp_path / "small.toml").write_text(SMALL, encoding="utf-8")
    (tmp_path / "run.csv").write_text(EARLY, encoding="utf-8")
    return tmp_path


def test_judge_explain_writes_numbered_charts_into_a_folder(files: Path) -> None:
    where = files / "charts"
    result = CliRunner().invoke(
        main, ["judge", str(files / "small.toml"), str(files / "run.csv"), "--explain", str(where)]
    )
    assert result.exit_code == 1, result.output
    names = sorted(path.name for path in where.iterdir())
    assert names == [f"run-{n}.svg" for n in range(1, len(early()[1].deviations) + 1)]
    assert f"chart {where / 'run-1.svg'}" in result.output
    assert "small: rest, § 2.4" in (where / "run-1.svg").read_text(encoding="utf-8")


def test_judge_explain_writes_one_file(files: Path) -> None:
    where = files / "why.svg"
    result = CliRunner().invoke(
        main, ["judge", str(files / "small.toml"), str(files / "run.csv"), "--explain", str(where)]
    )
    assert result.exit_code == 1, result.output
    ElementTree.fromstring(where.read_text(encoding="utf-8"))


def test_a_file_that_is_no_picture_is_refused(files: Path) -> None:
    (files / "other.csv").write_text("")
    result = CliRunner().invoke(
        main, ["judge", str(files / "small.toml"), str(files / "run.csv"), "--explain", str(files / "other.csv")]
    )
    assert result.exit_code == 2
    assert "expected a folder, or a file that ends in" in result.output


@pytest.mark.parametrize(
    ("given", "stem"), [("logs/run7.csv.gz", "run7"), ("run.vcd", "run"), ("a.b.csv", "a.b"), (".csv", ".csv")]
)
def test_charts_are_called_after_the_recording(given: str, stem: str) -> None:
    assert stem_of(given) == stem

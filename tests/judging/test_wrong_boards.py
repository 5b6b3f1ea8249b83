"""The judge is tested with wrong boards: a spec with one fault is simulated, and judged by the right one.

Law: a fault that shows is a deviation, by the rule at fault or one that it stands on; the same run of the right board
conforms.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cache
from typing import Any

import pytest
from attrs import evolve

from boardgauge.judging.judge import Judge
from boardgauge.language import read_board_text
from boardgauge.language.expression_reader import read_condition
from boardgauge.language.model import Board
from boardgauge.language.quantities import Duration
from boardgauge.machine.compile import compile_board
from boardgauge.machine.run import Run, Timeline, Value
from boardgauge.machine.simulate import Simulator
from boardgauge.traces import Channel, Recording, Trace, condition
from boardgauge.traces.recording import channel_of

S = 1_000_000
LEAD = S
SPEC = """
language = 1
[board]
id = "small-cooler"
title = "A small cooler (invented)"
tolerance = "± (4 % + 0.2 s)"
responds_within = "0.2 s"
filter = "20 ms to 100 ms"
[inputs]
call = { kind = "call" }
low = { kind = "switch", contact = "normally closed" }
high = { kind = "switch", contact = "normally closed" }
cold = { kind = "signal" }
reset = { kind = "button" }
[rules]
rest = { kind = "delay", begins = "power_up or motor ends", lasts = "20 s", if_begun_again = "starts over" }
run_on = { kind = "delay", begins = "motor ends", lasts = "8 s", if_begun_again = "starts over", cut_by = "motor" }
low_out = { kind = "lockout", trips = "(low open and motor and not bypass) for 2 s", clears = "reset begins" }
high_wait = { kind = "lockout", trips = "motor and high open", clears = "high closed and not rest" }
trips = { kind = "count", counts = "high_wait begins", limit = 2, within = "200 s", forgets = "not call" }
high_out = { kind = "lockout", trips = "trips reached", clears = "only by power loss" }
frost = { kind = "accumulator", adds_while = "motor and cold", target = "30 s", resets = "thaw ends" }
thaw = { kind = "mode", begins = "frost reached", ends = "not motor or not cold", at_most = "15 s" }
[rules.bypass]
kind = "delay"
begins = "motor begins"
lasts = "10 s"
if_begun_again = "starts over"
cut_by = "not motor"
[outputs.motor]
starts = "call and high closed and not rest and not low_out and not high_wait and not high_out"
stops = "not call or high open or low_out or high_out"
[outputs.fan]
on = "(motor or run_on) and not thaw"
[outputs.heater]
on = "thaw"
[outputs.alarm]
on = "low_out or high_out"
[lamps.status]
flash = "0.25 s lit, 0.25 s dark"
between_groups = "1.5 s dark"
tolerance = "± 20 %"
changes_within = "0.5 s"
not_judged_for = "3 s"
lines = [
  { when = "low_out", shows = "2 flashes" },
  { when = "high_out", shows = "4 flashes" },
  { when = "motor", shows = "1 s lit, 1 s dark" },
  { when = "otherwise", shows = "steady" },
]
"""
ON, OFF, OPEN, CLOSED = True, False, False, True
Changes = Mapping[str, tuple[tuple[float, Value], ...]]
RUNS: dict[str, tuple[Changes, int]] = {
    "stop and start": ({"call": ((2, ON), (30, OFF), (35, ON))}, 70),
    "low pressure": (
        {"call": ((2, ON),), "low": ((25, OPEN), (28, CLOSED), (40, OPEN), (50, CLOSED)), "reset": ((70, ON),)},
        110,
    ),
    "low from the start": ({"call": ((2, ON),), "low": ((5, OPEN),)}, 60),
    "high pressure": ({"call": ((2, ON),), "high": ((40, OPEN), (45, CLOSED), (80, OPEN), (85, CLOSED))}, 130),
    "call lost in the lockout": (
        {"call": ((2, ON), (110, OFF), (120, ON)), "high": ((40, OPEN), (45, CLOSED), (80, OPEN), (85, CLOSED))},
        150,
    ),
    "high, one trip": ({"call": ((2, ON),), "high": ((40, OPEN), (45, CLOSED))}, 100),
    "frost": ({"call": ((2, ON),), "cold": ((25, ON), (40, OFF), (45, ON))}, 95),
}


@cache
def right() -> Board:
    """Give the board in order."""
    return read_board_text(SPEC, "small-cooler.toml")


@cache
def judge() -> Judge:
    """Give its judge."""
    return Judge.of(right())


def changed(table: str, name: str, **values: Any) -> Callable[[Board], Board]:
    """Give the fault that sets keys of one table."""

    def fault(board: Board) -> Board:
        tables = getattr(board, table)
        changes: dict[str, Any] = {table: {**tables, name: evolve(tables[name], **values)}}
        return evolve(board, **changes)

    return fault


def lasting(rule: str, seconds: float, key: str = "lasts") -> Callable[[Board], Board]:
    """Give the fault that a rule lasts another time."""

    def fault(board: Board) -> Board:
        duration = getattr(board.rules[rule], key)
        assert isinstance(duration, Duration)
        return changed("rules", rule, **{key: evolve(duration, nominal=int(seconds * S))})(board)

    return fault


def lines_swapped(board: Board) -> Board:
    """Swap what the two lockouts show."""
    lamp = board.lamps["status"]
    first, second, *rest = lamp.lines
    lines = (evolve(first, shows=second.shows), evolve(second, shows=first.shows), *rest)
    return changed("lamps", "status", lines=lines)(board)


def rule(name: str, **conditions: str) -> Callable[[Board], Board]:
    """Give the fault that conditions of a rule read otherwise."""
    return changed("rules", name, **{key: read_condition(text) for key, text in conditions.items()})


def output(name: str, **conditions: str) -> Callable[[Board], Board]:
    """Give the fault that conditions of an output read otherwise."""
    return changed("outputs", name, **{key: read_condition(text) for key, text in conditions.items()})


FAULTS: dict[str, tuple[Callable[[Board], Board], str, set[str]]] = {
    "rest too short": (lasting("rest", 17), "stop and start", {"rest"}),
    "rest too long": (lasting("rest", 23), "stop and start", {"rest"}),
    "run on too short": (lasting("run_on", 6), "stop and start", {"run_on"}),
    "run on too long": (lasting("run_on", 10), "stop and start", {"run_on"}),
    "bypass too short": (lasting("bypass", 6), "low from the start", {"bypass", "low_out"}),
    "bypass too long": (lasting("bypass", 14), "low from the start", {"bypass", "low_out"}),
    "no bypass": (
        rule("low_out", trips="(low open and motor) for 2 s exactly"),
        "low from the start",
        {"bypass", "low_out"},
    ),
    "low pressure overlooked": (rule("low_out", trips="low open and not low open"), "low pressure", {"low_out"}),
    "low lockout not latched": (rule("low_out", clears="not rest"), "low pressure", {"low_out", "rest", "motor"}),
    "reset not heeded": (changed("rules", "low_out", clears=None), "low pressure", {"low_out"}),
    "high pressure overlooked": (
        lambda b: output("motor", stops="not call or low_out or high_out")(
            rule("high_wait", trips="high open and not high open")(b)
        ),
        "high pressure",
        {"motor", "high_wait"},
    ),
    "locks out at the first trip": (changed("rules", "trips", limit=1), "high, one trip", {"trips", "high_out"}),
    "locks out at the third trip": (changed("rules", "trips", limit=3), "high pressure", {"trips", "high_out"}),
    "hard lockout not latched": (
        rule("high_out", clears="not rest"),
        "call lost in the lockout",
        {"high_out", "alarm"},
    ),
    "window too short": (lasting("trips", 20, "within"), "high pressure", {"trips", "high_out"}),
    "sum too short": (lasting("frost", 25, "target"), "frost", {"frost", "thaw"}),
    "sum too long": (lasting("frost", 35, "target"), "frost", {"frost", "thaw"}),
    "sum does not pause": (rule("frost", adds_while="motor"), "frost", {"frost", "thaw"}),
    "thaw too short": (lasting("thaw", 12, "at_most"), "frost", {"thaw"}),
    "thaw too long": (lasting("thaw", 18, "at_most"), "frost", {"thaw"}),
    "fan on in the thaw": (output("fan", on="motor or run_on"), "frost", {"fan", "thaw"}),
    "heater stuck off": (output("heater", on="thaw and not thaw"), "frost", {"heater", "thaw"}),
    "heater stuck on": (output("heater", on="call or not call"), "frost", {"heater", "thaw"}),
    "alarm stuck off": (output("alarm", on="call and not call"), "high pressure", {"alarm", "high_out", "trips"}),
    "end of the call not heeded": (
        output("motor", stops="high open or low_out or high_out"),
        "stop and start",
        {"motor"},
    ),
    "lamp lines swapped": (lines_swapped, "high pressure", {"status"}),
}


def simulated(board: Board, changes: Changes, end: int) -> Run:
    """Run a board at nominal times."""
    inputs = {name: tuple((int(time * S), value) for time, value in edges) for name, edges in changes.items()}
    return Simulator(compile_board(board)).run(Timeline({"power": ((0, True),), **inputs}, end * S))


def recorded(run: Run) -> Trace:
    """Write a run down as a recorder would, a second before the supply comes on and then every change."""
    channels: dict[str, Channel] = {}
    for name, edges in {"power": run.power, **run.inputs, **run.outputs, **run.lamps}.items():
        times = [-LEAD, *(time for time, _ in edges.changes)]
        values = [float(edges.initial), *(float(value) for _, value in edges.changes)]
        channels[name] = channel_of(name, *_arrays(times, values))
    return condition(Recording("a simulated board", "long CSV", -LEAD, run.end, channels), None, right())


def _arrays(times: list[int], values: list[float]) -> Any:
    import numpy as np

    return np.array(times, dtype=np.int64), np.array(values, dtype=np.float64)


@pytest.mark.parametrize("name", RUNS)
def test_the_right_board_conforms(name: str) -> None:
    """Each of the runs, on the board in order, conforms."""
    found = judge().judge(recorded(simulated(right(), *RUNS[name])))
    assert (found.verdict, found.deviations) == ("conforms", ())


@pytest.mark.parametrize("name", FAULTS)
def test_a_wrong_board_deviates_by_its_fault(name: str) -> None:
    """One fault, one first deviation that names the rule at fault or one that it stands on."""
    fault, run, rules = FAULTS[name]
    found = judge().judge(recorded(simulated(fault(right()), *RUNS[run])))
    assert found.verdict == "deviates"
    assert found.deviations[0].rule in rules


def test_a_fault_within_the_tolerance_is_none() -> None:
    """A rest that is 3 % long is in order."""
    found = judge().judge(recorded(simulated(lasting("rest", 20.6)(right()), *RUNS["stop and start"])))
    assert found.verdict == "conforms"


def test_a_run_that_does_not_meet_the_fault_conforms() -> None:
    """A wrong hard lockout is not seen without a second trip; the coverage says that it was not exercised."""
    fault = rule("high_out", clears="not rest")
    found = judge().judge(recorded(simulated(fault(right()), *RUNS["stop and start"])))
    assert found.verdict == "conforms"
    assert not next(row for row in found.rules if row.rule == "high_out").exercised

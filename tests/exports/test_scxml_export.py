"""An exported chart, run in an independent SCXML engine, shows what the reference shows at nominal times.

The engine is ``python-statemachine``. It waits in real time; here its clock is one of our own, that stands still
while it works and jumps while it waits.
"""

from __future__ import annotations

import random
import re
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest
import statemachine.engines.sync as engine
import statemachine.event_data as event_data
from attrs import evolve
from statemachine.io.scxml.processor import SCXMLProcessor

from boardgauge.boards import board_path
from boardgauge.exports.cannot_export import CannotExport
from boardgauge.exports.scxml import event_of, ways_of_chart, write_scxml
from boardgauge.language import read_board, read_board_text
from boardgauge.language.model import Board
from boardgauge.language.quantities import TimeRange
from boardgauge.machine.compile import compile_board
from boardgauge.machine.run import Timeline
from boardgauge.machine.settle import Engine
from boardgauge.machine.simulate import Simulator

S = 1_000_000
Poke = tuple[int, str]


class Clock:
    """The engine's clock: while it waits, the next thing planned happens."""

    def __init__(self, pokes: list[Poke]) -> None:
        self.now = 0
        self.pokes = list(pokes)
        self.machine: Any = None
        self.seen: list[tuple[int, frozenset[str]]] = []

    def monotonic(self) -> float:
        return self.now / S

    def poke(self) -> None:
        self.now, name = self.pokes.pop(0)
        self.machine.send(name, at=self.now / 1000)

    def look(self) -> None:
        states = frozenset(str(s.id) for s in self.machine.configuration if re.match(r"(out|lamp)\..*\.", str(s.id)))
        if not self.seen or self.seen[-1][1] != states:
            self.seen.append((self.now, states))

    def sleep(self, _: float) -> None:
        self.look()
        due = [round(t.execution_time * S) for t in self.machine._engine.external_queue.queue.queue]
        if self.pokes and self.pokes[0][0] < min(due, default=1 << 60):
            self.poke()
        else:
            self.now = max(self.now, min(due))


@contextmanager
def clock_of(clock: Clock) -> Iterator[None]:
    patch = pytest.MonkeyPatch()
    # What is due at a moment is due at it, whatever a float makes of the sum.
    patch.setattr(engine, "monotonic", lambda: clock.monotonic() + 1e-7)
    patch.setattr(engine, "sleep", clock.sleep)
    patch.setattr(event_data, "monotonic", clock.monotonic)
    try:
        yield
    finally:
        patch.undo()


def run_chart(text: str, pokes: list[Poke]) -> list[tuple[int, frozenset[str]]]:
    processor = SCXMLProcessor(trusted=True)
    # The engine's data model is Python, in which a number is joined to a text only once it is one.
    processor.parse_scxml("chart", re.sub(r"(left_\w+) \+ 'ms'", r"str(\1) + 'ms'", text))
    clock = Clock(pokes)
    with clock_of(clock):
        clock.machine = processor.start()
        clock.look()
        while clock.pokes:
            clock.poke()
            clock.look()
    return clock.seen


def run_reference(board: Board, pokes: list[tuple[int, str, tuple[tuple[int, bool], ...] | bool]]) -> list[Any]:
    """Run the simulated board at nominal times; what it takes in, it takes in at once."""
    inputs = {n: evolve(row, filter=TimeRange(), responds_within=0) for n, row in board.inputs.items()}
    board = evolve(board, inputs=inputs, same_moment=0, rides_through=TimeRange())
    machine_engine = Engine(compile_board(board))
    changes: dict[str, list[tuple[int, bool]]] = {}
    for time, _, what in pokes:
        if isinstance(what, bool):
            changes.setdefault("power", []).append((time, what))
        else:
            ((index, value),) = what
            name = machine_engine.machine.levels[index].input
            row = changes.setdefault(name, [])
            if (row[-1][1] if row else machine_engine.machine.levels[index].at_rest) != value:
                row.append((time, value))
    end = pokes[-1][0] + 10_000 * S
    timeline = Timeline({name: tuple(rows) for name, rows in changes.items()}, end)
    run = Simulator(machine_engine.machine, "nominal", engine=machine_engine).run(timeline)
    seen: list[Any] = []
    for time, config in [(0, machine_engine.off()), *((entry.time, entry.config) for entry in run.story)]:
        found = {
            f"out.{name}.{'on' if on else 'off'}"
            for name, on in zip(board.outputs, machine_engine.outputs(config), strict=True)
        }
        for name, line in zip(board.lamps, machine_engine.lamp_lines(config), strict=True):
            found.add(f"lamp.{name}.{'unlit' if line < 0 else line + 1}")
        if seen and seen[-1][0] == time:
            seen.pop()
        if not seen or seen[-1][1] != frozenset(found):
            seen.append((time, frozenset(found)))
    return seen


def random_pokes(board: Board, rng: random.Random, number: int) -> list[Any]:
    machine = compile_board(board)
    ways = ways_of_chart(machine)
    lengths = [d.nominal for t in machine.timings for d in t.choices] or [5 * S]
    found: list[Any] = [(S + 1, "supply.on", True)]
    time = S
    for _ in range(number):
        # Never at the end of a time: nothing is claimed of what happens at one moment.
        step = rng.choice([rng.randrange(S // 10, 20 * S), rng.choice(lengths) + rng.randrange(-S // 20, S // 20)])
        time += max(1000, step) // 1000 * 1000 + 1000
        at = time + len(found) % 997 + 1
        if rng.random() < 0.06:
            found += [(at, "supply.off", False), (at + S, "supply.on", True)]
            time += 2 * S
            continue
        indices, values = rng.choice(ways)
        taken = rng.randrange(len(values))
        name = event_of(machine, indices, values[taken], taken)
        found.append((at, name, tuple(zip(indices, values[taken], strict=True))))
    # What goes by itself for ever comes to an end with the supply.
    return [*found, (time + 200 * S + 1, "supply.off", False)]


@pytest.mark.parametrize("name", ["iec-ton", "iec-tof", "iec-tp", "iec-sr", "iec-ctu", "hearthgate"])
def test_random_scenarios_show_the_same(name: str) -> None:
    board = read_board(board_path(name))
    text = write_scxml(board)
    rng = random.Random(name)
    for _ in range(1 if len(text) > 100_000 else 5):
        pokes = random_pokes(board, rng, 40)
        assert run_chart(text, [(t, n) for t, n, _ in pokes]) == run_reference(board, pokes)


WINDOWS = """
language = 1
[board]
id = "two-strikes"
title = "Two strikes (invented)"
tolerance = "exactly"
[inputs.hit]
kind = "signal"
[inputs.clear]
kind = "button"
[rules.hits]
kind = "count"
counts = "hit begins"
limit = 2
within = "100 s"
forgets = "(clear pressed) begins while hit"
[rules.out]
kind = "lockout"
trips = "hits reached"
clears = "(clear pressed) begins"
lasts = "15 s"
[outputs.bell]
on = "out"
[lamps.led]
lines = [
  { when = "out", shows = "steady" },
  { when = "hit", shows = "1 s lit, 1 s dark" },
  { when = "otherwise", shows = "dark" },
]
"""


def test_counts_within_a_window_and_lamps_show_the_same() -> None:
    board = read_board_text(WINDOWS, "two.toml")
    text = write_scxml(board)
    rng = random.Random(3)
    rang = 0
    for _ in range(20):
        pokes = random_pokes(board, rng, 30)
        seen = run_chart(text, [(t, n) for t, n, _ in pokes])
        assert seen == run_reference(board, pokes)
        rang += sum("out.bell.on" in states for _, states in seen)
    assert rang > 5


def test_the_on_delay_of_the_standard_gives_its_edges() -> None:
    # IEC 61131-3, TON with PT 10: in on [5,20) [30,36) [50,52) [54,56) [70,90) gives 15 on, 20 off, 80 on, 90 off.
    text = write_scxml(read_board(board_path("iec-ton")))
    pokes: list[Poke] = [(0, "supply.on")]
    for on, off in ((5, 20), (30, 36), (50, 52), (54, 56), (70, 90)):
        pokes += [(on * S, "in.in1.on"), (off * S, "in.in1.off")]
    edges = [(time, "out.q.on" in states) for time, states in run_chart(text, pokes)]
    assert edges[1:] == [(15 * S, True), (20 * S, False), (80 * S, True), (90 * S, False)]


ADDING = """
language = 1
[board]
id = "wash-timer"
title = "Wash timer (invented)"
tolerance = "exactly"
[inputs.run]
kind = "call"
[inputs.done]
kind = "button"
[settings.wash_time]
positions = [{ name = "short", is = "20 s" }, { name = "long", is = "50 s" }]
read = "at power-up"
factory = "short"
[rules.worked]
kind = "accumulator"
adds_while = "run and not rinse"
target = "wash_time"
resets = "(done pressed) begins or rinse ends"
KEPT
[rules.rinse]
kind = "mode"
begins = "worked reached and run"
ends = "not run"
at_most = "15 s"
[outputs.valve]
on = "rinse"
[outputs.ready]
on = "worked reached"
"""
BY_JUMPER = (
    ADDING.replace("KEPT", "")
    .replace('name = "short"', 'when = "j fitted"')
    .replace('name = "long"', 'when = "j open"')
    .replace('factory = "short"', "")
    .replace("[settings", '[inputs.j]\nkind = "link"\n[settings')
)
KEEPING = """
language = 1
[board]
id = "keeps"
title = "Keeps its times (invented)"
tolerance = "exactly"
[inputs.a]
kind = "signal"
[inputs.b]
kind = "button"
[rules.wait]
kind = "delay"
begins = "a begins"
lasts = "40 s"
if_begun_again = "starts over"
kept_without_power = true
[rules.held]
kind = "lockout"
trips = "(b pressed) begins"
clears = "a ends"
lasts = "25 s"
kept_without_power = true
[rules.often]
kind = "count"
counts = "a begins"
limit = 2
within = "60 s"
forgets = "held ends"
kept_without_power = true
[outputs.x]
on = "wait"
[outputs.y]
on = "held"
[outputs.z]
on = "often reached"
"""
JUMPERS = """
language = 1
[board]
id = "jumpers"
title = "Times by jumpers (invented)"
tolerance = "exactly"
[inputs.go]
kind = "call"
[inputs.j]
kind = "link"
[settings.at_first]
read = "at power-up"
positions = [{ when = "j fitted", is = "9 s" }, { when = "j open", is = "21 s" }]
[settings.each_time]
read = "always"
positions = [{ when = "j fitted", is = "4 s" }, { when = "j open", is = "13 s" }]
[rules.first]
kind = "delay"
begins = "go begins"
lasts = "at_first"
if_begun_again = "starts over"
[rules.second]
kind = "delay"
begins = "go begins"
lasts = "each_time"
if_begun_again = "runs on"
[outputs.p]
on = "first"
[outputs.q]
on = "second"
"""


@pytest.mark.parametrize(
    ("text", "output"),
    [
        (ADDING.replace("KEPT", ""), "valve"),
        (ADDING.replace("KEPT", "kept_without_power = true"), "valve"),
        (BY_JUMPER, "valve"),
        (KEEPING, "x"),
        (JUMPERS, "q"),
    ],
)
def test_what_stands_still_and_what_inputs_choose_show_the_same(text: str, output: str) -> None:
    board = read_board_text(text, "board.toml")
    chart = write_scxml(board)
    rng = random.Random(11)
    shown = 0
    for _ in range(4 if len(chart) > 50_000 else 12):
        pokes = random_pokes(board, rng, 30)
        seen = run_chart(chart, [(t, n) for t, n, _ in pokes])
        assert seen == run_reference(board, pokes)
        shown += sum(f"out.{output}.on" in states for _, states in seen)
    assert shown > 5


def test_a_part_of_a_time_is_kept_while_it_stands_still() -> None:
    """20 s of running, in two pieces of 12 s and 8 s with a minute between them."""
    text = write_scxml(read_board_text(ADDING.replace("KEPT", ""), "wash.toml"))
    pokes: list[Poke] = [(S, "supply.on"), (2 * S, "in.run.on"), (14 * S, "in.run.off"), (74 * S, "in.run.on")]
    pokes.append((90 * S, "supply.off"))
    edges = [(time, "out.ready.on" in states) for time, states in run_chart(text, pokes)]
    assert (82 * S, True) in edges
    assert not any(on for time, on in edges if time < 82 * S)


def test_what_is_kept_without_power_runs_on_from_where_it_stood() -> None:
    """A delay of 40 s, of which 10 s ran before a minute without supply; and a lockout of 25 s, of which 4 s did."""
    text = write_scxml(read_board_text(KEEPING, "keeps.toml"))
    pokes: list[Poke] = [(S, "supply.on"), (10 * S, "in.a.on"), (12 * S, "in.a.off"), (16 * S, "in.b.pressed")]
    pokes += [(20 * S, "supply.off"), (80 * S, "supply.on")]
    seen = run_chart(text, pokes)
    last = {name: max(time for time, states in seen if f"out.{name}.on" in states) for name in ("x", "y")}
    off = {name: min(t for t, states in seen if t > last[name] and f"out.{name}.off" in states) for name in last}
    assert off == {"x": 110 * S, "y": 101 * S}


def test_a_chart_asks_for_the_time_only_where_something_may_stand_still() -> None:
    assert "datamodel" in write_scxml(read_board_text(ADDING.replace("KEPT", ""), "wash.toml"))
    plain = write_scxml(read_board(board_path("iec-tp")))
    assert 'datamodel="null"' in plain
    assert "_event" not in plain


def test_what_the_format_cannot_hold_is_refused_with_the_rule() -> None:
    with pytest.raises(CannotExport, match="the inputs choose how long worked lasts"):
        write_scxml(read_board_text(BY_JUMPER.replace('"at power-up"', '"always"'), "wash.toml"))


def test_the_same_board_gives_the_same_text() -> None:
    board = read_board(board_path("extract-fan"))
    assert write_scxml(board) == write_scxml(board)

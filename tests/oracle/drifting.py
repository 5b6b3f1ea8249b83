"""Hypothesis strategies for what the grid does not cover: boards, and their traces in microseconds.

Law of this module: a board is tiny, so that a solver can search all its ways; its trace comes from the simulated board,
and is then perhaps spoilt by about as much as a judge has to notice.
"""

from __future__ import annotations

from hypothesis import strategies as st

from boardgauge.language.model import Board
from boardgauge.language.quantities import MS, S
from boardgauge.machine.run import Timeline
from boardgauge.machine.settle import Engine
from boardgauge.machine.simulate import Simulator
from oracle.chains import pick
from oracle.trace import Trace, ticks

HEAD = """language = 1
[board]
id = "drawn"
title = "drawn, invented"
tolerance = "{tolerance}"
responds_within = "{responds}"
clock = "{clock}"
[inputs.a]
kind = "call"
[inputs.b]
kind = "call"
"""

ADDED = """[rules.full]
kind = "accumulator"
adds_while = "{adds}"
target = "{first} s"
resets = "vent ends"
[rules.vent]
kind = "delay"
begins = "(full reached) begins"
lasts = "{second} s"
if_begun_again = "runs on"
[outputs.out0]
on = "vent"
lag = "{lag}"
"""

CHAIN = """[rules.wait]
kind = "delay"
begins = "a {word}"
lasts = "{first} s"
if_begun_again = "{again}"
[rules.then]
kind = "delay"
begins = "wait expires"
lasts = "{second} s"
if_begun_again = "starts over"
[outputs.out0]
on = "{shows}"
lag = "{lag}"
"""

SPED_UP = """[speed_ups.fast]
while = "b"
times_faster = {faster}
what = ["wait", "then"]
"""

LATCHED = """[outputs.out0]
starts = "a and not b"
stops = "b or rest"
lag = "{lag}"
[rules.rest]
kind = "delay"
begins = "{begins}"
lasts = "{first} s"
if_begun_again = "{again}"
"""

FORMS = ("accumulator", "shared clock", "speed-up", "close inputs")


@st.composite
def drifting_texts(draw: st.DrawFn, form: str) -> str:
    """Draw a board of a form."""
    again = pick(draw, ("starts over", "runs on"))
    keys = {
        "tolerance": pick(draw, ("± 5 %", "± (4 % + 0.3 s)", "± 0.5 s")),
        "responds": pick(draw, ("0 s", "0.2 s")) if form != "close inputs" else "1 s",
        "clock": "shared" if form == "shared clock" else "independent",
        "first": draw(st.integers(3, 12)),
        "second": draw(st.integers(3, 12)),
        "lag": "0 s",
        "adds": pick(draw, ("a", "a and not b", "a or b")),
        "word": pick(draw, ("begins", "ends", "changes")),
        "again": again,
        "shows": pick(draw, ("then", "wait or then")),
        "faster": draw(st.integers(2, 10)),
        "begins": pick(draw, ("out0 ends", "b begins", "a begins")),
    }
    if keys["responds"] != "0 s":
        keys["lag"] = pick(draw, ("0 s", "0.1 s"))
    body = {"accumulator": ADDED, "close inputs": LATCHED}.get(form, CHAIN) + SPED_UP * (form == "speed-up")
    return (HEAD + body).format(**keys)


@st.composite
def drifting_traces(draw: st.DrawFn, board: Board, engine: Engine, close: bool) -> Trace:
    """Draw what a board showed; ``close``: input changes may be less than a second apart."""
    level = {"a": draw(st.booleans()), "b": False}
    changes: dict[str, list[tuple[int, bool]]] = {name: [(0, value)] for name, value in level.items()}
    time = S
    for _ in range(draw(st.integers(1, 4))):
        time += draw(st.integers(100, 900) if close and draw(st.booleans()) else st.integers(1200, 9000)) * MS
        name = pick(draw, ("a", "a", "b"))
        level[name] = not level[name]
        changes[name].append((time, level[name]))
    rows = {name: tuple(row) for name, row in changes.items()}
    timeline = Timeline({"power": ((0, False), (S, True)), **rows}, time + draw(st.integers(2, 20)) * S)
    run = Simulator(engine.machine, "random", draw(st.integers(0, 9999)), engine=engine).run(timeline)
    signals = {"power": run.power, **run.inputs, **run.outputs}
    found = {n: ticks([(0, bool(r.initial)), *((t, bool(v)) for t, v in r.changes)]) for n, r in signals.items()}
    return Trace(found, timeline.end)


@st.composite
def slipped(draw: st.DrawFn, trace: Trace) -> Trace:
    """Draw a trace with an edge of the output moved by up to 2 s or left out, or as it is."""
    row = list(trace.signals["out0"])
    how = pick(draw, ("move", "move", "drop", "nothing"))
    if len(row) > 1 and how != "nothing":
        index = draw(st.integers(1, len(row) - 1))
        time, value = row.pop(index)
        most = row[index][0] - 1 if index < len(row) else trace.end
        moved = time + draw(st.integers(-2000, 2000)) * MS
        if how == "move":
            row.insert(index, (min(max(moved, row[index - 1][0] + 1, S + 1), most), value))
    return Trace({**trace.signals, "out0": ticks(row)}, trace.end)

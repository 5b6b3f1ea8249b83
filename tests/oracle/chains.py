"""Hypothesis strategies for small boards that make judging hard, and for what they did, or cannot have done.

Law of this module: all times are whole seconds. ``chain`` boards have timings that start timings out of sight, side by
side; ``mixed`` boards any rules but accumulators, whatever hangs on what. A trace is what the simulated board showed,
its free choices made in whole seconds, and then perhaps spoilt: one output edge moved, left out, or a pulse put in.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise
from typing import TypeVar

import numpy as np
from hypothesis import strategies as st

from boardgauge.language.model import Board
from boardgauge.language.quantities import Duration, S
from boardgauge.machine.chance import Chance, Draw
from boardgauge.machine.run import Timeline
from boardgauge.machine.settle import Engine
from boardgauge.machine.simulate import SimulatedBoard
from boardgauge.traces import Channel, Recording
from oracle.trace import Trace, ticks

T = TypeVar("T")


class WholeSeconds(Chance):
    """The free choices of a simulated board, in whole seconds."""

    def duration(self, duration: Duration, name: str = "") -> Draw:
        """Draw how long one start of a timing lasts."""
        return Draw(Fraction(self.between(duration.shortest, duration.longest)), 0)

    def between(self, first: int, last: int) -> int:
        """Draw a moment that is a whole number of seconds after the first."""
        return first + self._random.randint(0, max(0, (last - first) // S)) * S


def pick(draw: st.DrawFn, choices: list[T] | tuple[T, ...]) -> T:
    """Draw one of some choices."""
    return choices[draw(st.integers(0, len(choices) - 1))]


# -- boards ---------------------------------------------------------------------------------------------------------


class Writer:
    """Writes a spec, a table at a time, knowing what may be mentioned."""

    def __init__(self, draw: st.DrawFn, responds: int) -> None:
        self.draw = draw
        self.shortest = responds + 1
        self.tables: list[str] = []
        self.inputs: list[str] = []
        self.on_off: list[str] = []
        self.expiring: list[str] = []
        self.reached: list[str] = []

    def range(self, longest: int = 8) -> str:
        low = self.draw(st.integers(self.shortest, self.shortest + longest - 1))
        width = pick(self.draw, (0, 1, 2, 3, 4))
        return f'"{low} s to {low + width} s"' if width else f'"{low} s exactly"'

    def event(self, names: list[str] | None = None) -> str:
        chosen = pick(self.draw, names or [*self.on_off, *self.inputs])
        words = ["begins", "ends", "changes"] + ["expires"] * (2 * (chosen in self.expiring))
        return f"{chosen} {pick(self.draw, words)}"

    def events(self) -> str:
        return " or ".join(dict.fromkeys(self.event() for _ in range(pick(self.draw, (1, 1, 1, 2)))))

    def literal(self, names: list[str] | None = None) -> str:
        pool = names or [*self.inputs, *self.on_off, *(f"{name} reached" for name in self.reached)]
        return pick(self.draw, ("", "", "not ")) + pick(self.draw, pool)

    def condition(self) -> str:
        joint = pick(self.draw, (" and ", " or "))
        return joint.join(dict.fromkeys(self.literal() for _ in range(pick(self.draw, (1, 1, 2)))))

    def trigger(self) -> str:
        form = self.draw(st.integers(0, 3))
        if form == 0:
            return self.condition()
        if form == 1:
            return f"({self.condition()}) for {self.range()[1:-1]}"
        return self.events()

    def add(self, header: str, **keys: str) -> None:
        """Write a table; a value is a text unless it is in quotation marks already or a list."""
        rows = [
            f"{k} = {v if v[0] in '[{' + chr(34) or v.isdigit() else chr(34) + v + chr(34)}" for k, v in keys.items()
        ]
        self.tables.append("\n".join([f"[{header}]", *rows]))

    def delay(self, name: str, begins: str) -> None:
        keys = {"begins": begins, "lasts": self.range(), "if_begun_again": pick(self.draw, ("starts over", "runs on"))}
        if self.draw(st.integers(0, 4)) == 0:
            keys["cut_by"] = self.literal(self.inputs)
        self.add(f"rules.{name}", kind="delay", **keys)
        self.on_off.append(name)
        self.expiring.append(name)

    def text(self, responds: int) -> str:
        head = 'language = 1\n[board]\nid = "drawn"\ntitle = "drawn, invented"\ntolerance = "exactly"\n'
        return "\n".join([f'{head}responds_within = "{responds} s"', *self.tables]) + "\n"


def _start(draw: st.DrawFn, responds: int) -> Writer:
    writer = Writer(draw, responds)
    for name in ("a", "b")[: draw(st.integers(1, 2))]:
        writer.add(f"inputs.{name}", kind="call")
        writer.inputs.append(name)
    return writer


def _outputs(writer: Writer, conditions: list[str], lag: int) -> None:
    for index, condition in enumerate(conditions):
        name = f"out{index}"
        if writer.draw(st.integers(0, 3)) == 0:
            stops = writer.literal(writer.inputs)
            writer.add(f"outputs.{name}", starts=condition, stops=stops, lag=f"{lag} s")
        else:
            writer.add(f"outputs.{name}", on=condition, lag=f"{lag} s")


@st.composite
def chain_texts(draw: st.DrawFn, responds: tuple[int, ...] = (0, 0, 1), lags: tuple[int, ...] = (0, 1)) -> str:
    """Draw a board in which timings start timings, in one row or in two side by side."""
    slow = pick(draw, responds)
    writer = _start(draw, slow)
    rows: list[list[str]] = []
    for row in range(draw(st.integers(1, 2))):
        names: list[str] = []
        for index in range(draw(st.integers(1, 3))):
            begins = writer.event(names[-1:]) if names else pick(draw, (writer.event(writer.inputs), "power_up"))
            name = f"d{row}{index}"
            writer.delay(name, begins)
            names.append(name)
        rows.append(names)
    last = [row[-1] for row in rows]
    if draw(st.booleans()):
        writer.add("rules.flag", kind="toggle", flips=f"{last[0]} ends")
        writer.on_off.append("flag")
        last.append("flag")
    if draw(st.booleans()):
        writer.add("rules.many", kind="count", counts=writer.event([last[-1]]), limit="2", within=writer.range(12))
        last.append("many reached")
    conditions = [last[-1]]
    if len(last) > 1:
        conditions.append(f"{last[0]} {pick(draw, ('and', 'or'))} {last[1]}")
    _outputs(writer, conditions, pick(draw, lags))
    return writer.text(slow)


@st.composite
def mixed_texts(draw: st.DrawFn, responds: tuple[int, ...] = (0, 0, 1), lags: tuple[int, ...] = (0, 1)) -> str:
    """Draw a board of any rules but accumulators; a lockout is cleared by a delay now and then."""
    slow = pick(draw, responds)
    writer = _start(draw, slow)
    lag = pick(draw, lags)
    if draw(st.booleans()):
        writer.add("outputs.seen", on=writer.literal(writer.inputs), lag=f"{lag} s")
        writer.on_off.append("seen")
    for index in range(draw(st.integers(1, 3))):
        _rule(writer, f"r{index}")
    _outputs(writer, [writer.condition() for _ in range(draw(st.integers(1, 2)))], lag)
    return writer.text(slow)


def _rule(writer: Writer, name: str) -> None:
    draw = writer.draw
    kind = pick(draw, ("delay", "delay", "lockout", "lockout and delay", "count", "mode", "sequence", "toggle"))
    if kind == "delay":
        writer.delay(name, writer.events())
        return
    if kind == "lockout and delay":
        writer.delay(f"{name}d", writer.events())
        writer.add(f"rules.{name}", kind="lockout", trips=writer.trigger(), clears=f"not {name}d")
    elif kind == "lockout":
        keys = {"lasts": writer.range()} if draw(st.booleans()) else {}
        writer.add(f"rules.{name}", kind=kind, trips=writer.trigger(), clears=writer.trigger(), **keys)
        writer.expiring += [name] * bool(keys)
    elif kind == "count":
        keys = {"within": writer.range(12)} if draw(st.integers(0, 3)) else {"forgets": writer.events()}
        writer.add(f"rules.{name}", kind=kind, counts=writer.events(), limit=str(draw(st.integers(1, 3))), **keys)
        writer.reached.append(name)
        return
    elif kind == "mode":
        keys = {key: writer.range() for key in ("at_least", "at_most") if draw(st.booleans())}
        writer.add(f"rules.{name}", kind=kind, begins=writer.trigger(), ends=writer.trigger(), **keys)
        writer.expiring += [name] * ("at_most" in keys)
    elif kind == "toggle":
        writer.add(f"rules.{name}", kind=kind, flips=writer.events())
    else:
        until = writer.literal(writer.inputs)
        first = f'{{ name = "{name}x", lasts = {writer.range()} }}'
        second = f'{{ name = "{name}y", until = "{until}", lasts = {writer.range()}, if_not = "end", then = "end" }}'
        writer.add(
            f"rules.{name}", kind=kind, begins=writer.events(), ends=writer.trigger(), steps=f"[{first}, {second}]"
        )
        writer.on_off += [f"{name}x", f"{name}y"]
        writer.expiring += [f"{name}x", f"{name}y"]
    writer.on_off.append(name)


# -- traces ---------------------------------------------------------------------------------------------------------


@st.composite
def drives(draw: st.DrawFn, board: Board, most: int = 8, longest: int = 9) -> Timeline:
    """Draw what happens at the terminals: the supply comes at 1 s, then the inputs change, whole seconds apart."""
    level = {name: draw(st.booleans()) for name in board.inputs}
    changes: dict[str, list[tuple[int, bool]]] = {name: [(0, value)] for name, value in level.items()}
    time = 1
    for _ in range(draw(st.integers(1, most))):
        time += draw(st.integers(0 if time > 1 and len(level) > 1 else 1, longest))
        name = pick(draw, list(level))
        if changes[name][-1][0] != time * S:
            level[name] = not level[name]
            changes[name].append((time * S, level[name]))
    rows = {name: tuple(row) for name, row in changes.items()}
    return Timeline({"power": ((0, False), (S, True)), **rows}, (time + draw(st.integers(3, 15))) * S)


def shown(engine: Engine, timeline: Timeline, seed: int) -> Trace:
    """Give the trace of a simulated board whose every choice is a whole second."""
    board = SimulatedBoard(engine, WholeSeconds(engine.machine, "random", seed), {})
    board.feed(timeline.inputs)
    board.advance(timeline.end)
    run = board.run()
    signals = {"power": run.power, **run.inputs, **run.outputs}
    rows = {n: ((0, bool(row.initial)), *((t // S, bool(v)) for t, v in row.changes)) for n, row in signals.items()}
    return Trace({n: ticks(row) for n, row in rows.items()}, timeline.end // S)


@st.composite
def spoilt(draw: st.DrawFn, trace: Trace, outputs: list[str]) -> Trace:
    """Draw a trace with one output edge moved or left out, a pulse put in or left out, or nothing of the kind."""
    name = pick(draw, outputs)
    row = list(trace.signals[name])
    how = pick(draw, ("move", "move", "move", "drop", "silence", "pulse", "nothing"))
    if how in ("move", "drop") and len(row) > 1:
        index = draw(st.integers(1, len(row) - 1))
        time, value = row.pop(index)
        if how == "move":
            least = row[index - 1][0] + 1
            most = row[index][0] - 1 if index < len(row) else trace.end
            moved = time + draw(st.integers(-4, 4))
            row.insert(index, (min(max(moved, least), most), value))
    elif how == "silence" and len(row) > 2:
        index = draw(st.integers(1, len(row) - 2))
        del row[index : index + 2]
    elif how == "pulse":
        time = draw(st.integers(2, trace.end))
        level = [value for tick, value in row if tick <= time][-1]
        following = min([tick for tick, _ in row if tick > time], default=trace.end + 1)
        row = sorted([*row, (time, not level), (min(time + draw(st.integers(1, 4)), following), level)])
    kept = ticks((tick, value) for tick, value in row if tick <= trace.end)
    return Trace({**trace.signals, name: kept}, trace.end)


def recording(trace: Trace, unit: int = S) -> Recording:
    """Give a trace as an exact recording; ``unit`` is that of its times, in microseconds."""
    channels = {
        name: Channel(name, np.array([t * unit for t, _ in row], np.int64), np.array([float(v) for _, v in row]))
        for name, row in trace.signals.items()
    }
    return Recording("drawn", "VCD", 0, trace.end * unit, channels)


def told(trace: Trace) -> str:
    """Give a trace in words, for a failing test."""
    rows = [f"  {name}: {' '.join(f'{int(v)}@{t}' for t, v in row)}" for name, row in trace.signals.items()]
    assert all(a[0] < b[0] for row in trace.signals.values() for a, b in pairwise(row))
    return "\n".join([*rows, f"  end @{trace.end}"])

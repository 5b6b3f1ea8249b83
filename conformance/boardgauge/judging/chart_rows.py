"""Turn the signals of a trace into rows of a chart.

Law of this module: inputs first, then outputs, then lamps, the supply before all; high is on, closed, fitted, pressed,
lit. A row holds the changes of its signal in the stretch and no others.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

import numpy as np
from attrs import frozen

from boardgauge.drawings import words
from boardgauge.drawings.chart import Band, Edge, Row
from boardgauge.judging.evidence import crossings
from boardgauge.judging.rhythm import rhythms
from boardgauge.language.model import InputKind
from boardgauge.machine.table import Machine
from boardgauge.traces.trace import Trace
from boardgauge.traces.wave import Wave, truth

_LEVELS = {
    InputKind.CALL: ("off", "on"),
    InputKind.SIGNAL: ("off", "on"),
    InputKind.SWITCH: ("open", "closed"),
    InputKind.LINK: ("open", "fitted"),
    InputKind.BUTTON: ("released", "pressed"),
    InputKind.SENSOR: ("no", "yes"),
}
_AROUND = 20_000_000
"""How far beyond the stretch a rhythm is followed: one that runs on over its ends is drawn as running on."""


@frozen(eq=False)
class Signal:
    """A signal that a chart can show."""

    id: str
    name: str
    kind: Literal["input", "output", "lamp"]
    wave: Wave
    low: str
    high: str
    detail: str = ""
    says_high: str = ""
    says_low: str = ""

    def _between(self, start: int, end: int) -> slice:
        first = int(np.searchsorted(self.wave.latest, start, side="left"))
        return slice(first, max(first, int(np.searchsorted(self.wave.earliest, end, side="right"))))

    def changes(self, start: int, end: int) -> list[tuple[int, int, bool | None]]:
        """Give the changes (earliest, latest, value) that can lie in a stretch."""
        part, wave = self._between(start, end), self.wave
        values = map(truth, wave.values[part].tolist())
        return list(zip(wave.earliest[part].tolist(), wave.latest[part].tolist(), values, strict=True))

    def changes_in(self, start: int, end: int) -> bool:
        """Tell whether it changes in a stretch, or is not known in it."""
        return bool(self.changes(start, end)) or self.before(start) is None

    def before(self, time: int) -> bool | None:
        """Give the value before the changes that can lie in a stretch from a time on."""
        first = self._between(time, time).start
        return truth(int(self.wave.values[first - 1])) if first else self.wave.initial

    def says(self, time: int) -> str:
        """Say how it stands where it does not change: ``high-pressure switch closed``."""
        value = self.before(time)
        if value is None:
            return f"{self.name} not known"
        return (self.says_high if value else self.says_low) or f"{self.name} {self.high if value else self.low}"


def signals_of(machine: Machine, trace: Trace) -> list[Signal]:
    """Give the signals of a trace in the order in which they are drawn."""
    return list(_signals(machine, trace))


def _signals(machine: Machine, trace: Trace) -> Iterator[Signal]:
    board, waves = machine.board, trace.waves
    if "power" not in trace.unwired:
        yield Signal("power", "power", "input", waves["power"], "off", "on", _channel(waves["power"]))
    for row in board.inputs.values():
        low, high = _LEVELS[row.kind]
        if row.id in waves:
            says = words.name_holds(board, row.id, True), words.name_holds(board, row.id, False)
            wave = waves[row.id]
            yield Signal(row.id, words.thing(board, row.id), "input", wave, low, high, _detail(wave), *says)
    for level in machine.levels:
        if level.comparison is not None:
            crossed = crossings(trace, level.comparison, board.inputs[level.input])
            if crossed is not None:
                yes, no = (words.comparison(board, level.comparison, value) for value in (True, False))
                name = f"{level.input}#{level.index}"
                yield Signal(name, yes, "input", crossed, "no", "yes", _channel(crossed), yes, no)
    for output in board.outputs.values():
        if output.id in waves:
            wave = waves[output.id]
            yield Signal(output.id, words.thing(board, output.id), "output", wave, "off", "on", _detail(wave))
    for lamp in board.lamps.values():
        if lamp.id in waves:
            wave = waves[lamp.id]
            yield Signal(lamp.id, words.thing(board, lamp.id), "lamp", wave, "dark", "lit", _detail(wave))


def _detail(wave: Wave) -> str:
    return wave.signal if wave.channel in {None, wave.signal} else f"{wave.signal}, channel {wave.channel}"


def _channel(wave: Wave) -> str:
    return "" if wave.channel in {None, wave.signal} else f"channel {wave.channel}"


def row_of(signal: Signal, start: int, end: int, slack: int, emphasised: bool, condense_until: int) -> Row:
    """Give the row of a signal in a stretch; of a lamp that is the matter, flashes are drawn from a time on."""
    edges = tuple(Edge(max(start, early), min(end, late), value) for early, late, value in signal.changes(start, end))
    bands: tuple[Band, ...] = ()
    if signal.kind == "lamp":
        bands = tuple(_bands(signal, start, end, slack, condense_until if emphasised else end))
    return Row(
        signal.id,
        signal.name,
        signal.before(start),
        edges,
        signal.low,
        signal.high,
        signal.detail if signal.detail != signal.name else "",
        bands,
        emphasised,
    )


def _bands(signal: Signal, start: int, end: int, slack: int, until: int) -> Iterator[Band]:
    beyond = _AROUND if until >= end else 0
    changes = [(late, value) for _, late, value in signal.changes(start - _AROUND, min(until, end) + beyond)]
    for found in rhythms(changes, 2 * slack):
        if found.start < end and start < found.end:
            yield Band(max(start, found.start), min(end, found.end), found.text, found.brief)

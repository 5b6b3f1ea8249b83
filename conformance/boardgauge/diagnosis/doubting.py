"""Doubt the recording: its inputs, its sensors, its wiring.

Law of this module: it accuses nothing; it lists what a person should look at before blaming a board.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from attrs import evolve

from boardgauge.diagnosis.influence import cone
from boardgauge.judging.first import FirstJudge
from boardgauge.judging.run import Start
from boardgauge.language.model import Board, Input, InputKind
from boardgauge.traces.trace import Trace

_NEVER_CHANGES = {
    InputKind.CALL: ("on", "off"),
    InputKind.SIGNAL: ("on", "off"),
    InputKind.SWITCH: ("closed", "open"),
    InputKind.LINK: ("fitted", "open"),
    InputKind.BUTTON: ("pressed", "released"),
}


def doubtful_inputs(good: Board, trace: Trace, start: Start | None, signal: str | None) -> tuple[str, ...]:
    """Give the inputs without whose record the trace is that of a good board: it may have seen something else there."""
    parts = frozenset(good.inputs) if signal is None else cone(good, signal)
    judge = FirstJudge.of(good)
    found = []
    for name in good.inputs:
        if name not in parts or not (name in trace.waves or name in trace.readings):
            continue
        masked = evolve(
            trace,
            waves={key: wave for key, wave in trace.waves.items() if key != name},
            readings={key: reading for key, reading in trace.readings.items() if key != name},
            unwired=(*trace.unwired, name),
        )
        if judge.judge(masked, start).verdict != "deviates":
            found.append(name)
    return tuple(found)


def worth_a_look(board: Board, trace: Trace) -> tuple[str, ...]:
    """Say what stands out in the inputs of a trace."""
    return tuple(_remarks(board, trace))


def _remarks(board: Board, trace: Trace) -> Iterator[str]:
    for row in board.inputs.values():
        if row.kind is InputKind.SENSOR:
            yield from _of_sensor(row, trace)
            continue
        wave = trace.waves.get(row.id)
        if wave is None:
            yield f"{row.id} is not wired: what it did is not known"
            continue
        rests = row.kind is InputKind.SWITCH and row.contact == "normally closed"
        word = _NEVER_CHANGES[row.kind]
        if not len(wave) and wave.initial is not None and wave.initial != rests and row.kind is not InputKind.LINK:
            yield f"{row.id} is {word[0 if wave.initial else 1]} throughout"
        elif row.kind is InputKind.SWITCH and len(wave) and bool(wave.values[-1]) != rests and wave.values[-1] >= 0:
            yield f"{row.id} is {word[0 if wave.values[-1] else 1]} at the end"
    for remark in trace.remarks:
        yield f"{remark.channel}: {remark.kind}: {remark.text}"


def _of_sensor(row: Input, trace: Trace) -> Iterator[str]:
    reading = trace.readings.get(row.id)
    if reading is None:
        yield f"{row.id} is not wired: what it measured is not known"
        return
    values = reading.values[~np.isnan(reading.values)]
    if not len(values):
        yield f"{row.id} reads nothing: look for an open or shorted sensor"
        return
    least, greatest = float(values.min()), float(values.max())
    if greatest - least < 1e-9:
        yield f"{row.id} reads {least:.1f} {row.unit} throughout"
    else:
        yield f"{row.id} reads {least:.1f} to {greatest:.1f} {row.unit}: is that what it should measure?"

"""Doubt the recording: its inputs, its sensors, its wiring.

Law of this module: it accuses nothing; it lists what a person should look at before blaming a board.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from attrs import evolve

from boardgauge.diagnosis.influence import cone
from boardgauge.diagnosis.undoing import until
from boardgauge.judging.first import FirstJudge
from boardgauge.judging.judgement import Deviation
from boardgauge.judging.run import Start
from boardgauge.language.model import Board, Input, InputKind
from boardgauge.language.quantities import S
from boardgauge.machine.compile import compile_board
from boardgauge.machine.settle import Engine
from boardgauge.traces.trace import Trace

_ENOUGH = 24
"""An input that may do anything leaves much open; more possibilities than these are not followed."""
_NEVER_CHANGES = {
    InputKind.CALL: ("on", "off"),
    InputKind.SIGNAL: ("on", "off"),
    InputKind.SWITCH: ("closed", "open"),
    InputKind.LINK: ("fitted", "open"),
    InputKind.BUTTON: ("pressed", "released"),
}


def doubtful_inputs(good: Board, trace: Trace, start: Start | None, deviation: Deviation) -> tuple[str, ...]:
    """Give the inputs without whose record the trace is that of a good board until it deviated.

    The board may have seen something else there. (A link is seen by eye.)
    """
    known = deviation.signal in good.outputs or deviation.signal in good.lamps
    parts = cone(good, deviation.signal) if known else frozenset(good.inputs)
    judge = FirstJudge(Engine(compile_board(good)), enough=_ENOUGH)
    trace = until(trace, deviation.time + S)
    found = []
    for name in good.inputs:
        if (
            name not in parts
            or good.inputs[name].kind is InputKind.LINK
            or not (name in trace.waves or name in trace.readings)
        ):
            continue
        masked = evolve(
            trace,
            waves={key: wave for key, wave in trace.waves.items() if key != name},
            readings={key: reading for key, reading in trace.readings.items() if key != name},
            unwired=(*trace.unwired, name),
        )
        judgement = judge.judge(masked, start)
        if judgement.verdict != "deviates" and not judgement.doubts:
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
        rests = row.rests_on
        word = _NEVER_CHANGES[row.kind]
        if not len(wave) and wave.initial is not None and wave.initial != rests and row.kind is not InputKind.LINK:
            yield f"{row.id} is {word[0 if wave.initial else 1]} throughout"
        elif row.kind is InputKind.SWITCH and len(wave) and bool(wave.values[-1]) != rests and wave.values[-1] >= 0:
            yield f"{row.id} is {word[0 if wave.values[-1] else 1]} at the end"
    for remark in trace.remarks:
        yield f"{remark.channel}: {remark.kind}: {remark.text}" if remark.channel else remark.text


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

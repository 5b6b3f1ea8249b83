"""A run of a simulated board, written down as a recorder at its terminals would.

Law of this module: it writes what showed and nothing else; a wiring turns levels over here just as it turns them back
when the recording is read.
"""

from __future__ import annotations

from fractions import Fraction

import numpy as np

from boardgauge.language.model import Board, InputKind
from boardgauge.machine.run import POWER, Edges, Run
from boardgauge.traces.recording import Channel, Recording, channel_of
from boardgauge.traces.sensor_pickup import by_sensor
from boardgauge.traces.wiring import Wire, Wiring, default_wiring


def recording_of(run: Run, board: Board, wiring: Wiring | None = None, file: str = "simulated.vcd") -> Recording:
    """Give the recording of a run, from 0 to its end, with the channels that a wiring names (without one, by name).

    What a wiring says of the way a signal was picked up (bounce, line frequency, thresholds) is not acted out.
    """
    wires = (wiring or default_wiring(board)).wires
    signals: dict[str, Edges] = {POWER: run.power, **run.inputs, **run.outputs, **run.lamps}
    channels = [_channel(wire, signals[wire.signal], board) for wire in wires if wire.signal in signals]
    return Recording(file, "VCD", 0, run.end, {channel.name: channel for channel in channels})


def _channel(wire: Wire, edges: Edges, board: Board) -> Channel:
    row = board.inputs.get(wire.signal)
    sensor = row is not None and row.kind is InputKind.SENSOR
    output = board.outputs.get(wire.signal)
    turned = wire.inverted != (output is not None and output.contact == "normally closed")
    points = [(0, edges.initial), *((time, value) for time, value in edges.changes)]
    times = np.array([time for time, _ in points], dtype=np.int64)
    if sensor:
        assert row is not None
        by = by_sensor(wire, row)
        measured = [value if by is None else Fraction(by.number(Fraction(value))) for _, value in points]
        values = [float((value - wire.offset) / wire.scale) for value in measured]
    else:
        values = [float(bool(value) != turned) for _, value in points]
    return channel_of(wire.channel, times, np.array(values, dtype=np.float64))

"""A run of the simulated board, as a recording and as a trace.

Law of this module: nothing is added and nothing lost. A channel is called like its signal unless a wiring says which
channel shows it, and how.
"""

from __future__ import annotations

import numpy as np

from boardgauge.language.model import Board
from boardgauge.machine.run import Edges, Run
from boardgauge.traces.recording import Recording, channel_of
from boardgauge.traces.wiring import Wire, Wiring


def recording_of(run: Run, board: Board, wiring: Wiring | None = None, name: str = "simulated") -> Recording:
    """Give the recording of a run; with a wiring, its channels as the wiring says they show the signals."""
    edges: dict[str, Edges] = {"power": run.power, **run.inputs, **run.outputs, **run.lamps}
    wires = [w for w in wiring.wires if w.signal in edges] if wiring is not None else [Wire(n, n) for n in edges]
    channels = {}
    for wire in wires:
        row = edges[wire.signal]
        times = [0, *(time for time, _ in row.changes)]
        values = [_level(value, wire, board) for value in (row.initial, *(value for _, value in row.changes))]
        channels[wire.channel] = channel_of(wire.channel, np.array(times, np.int64), np.array(values, np.float64))
    return Recording(name, "VCD", 0, run.end, channels)


def _level(value: object, wire: Wire, board: Board) -> float:
    if isinstance(value, bool):
        output = board.outputs.get(wire.signal)
        turned = wire.inverted != (output is not None and output.contact == "normally closed")
        return float(value != turned)
    # A sensor: the wiring's number is (value - offset) / scale, the inverse of what reading it back does.
    return float((value - wire.offset) / wire.scale)  # type: ignore[operator]  # a Fraction, as it is no boolean

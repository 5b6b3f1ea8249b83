"""The nominal machine beside recordings of good boards.

Law: driven with the inputs of a recording, the machine gives every output edge of the recording, near its time. The
recordings were made of firmware on a simulated controller, for this project (the board is invented).
"""

from __future__ import annotations

from pathlib import Path

import pytest

from boardgauge.machine.run import Timeline, Value
from boardgauge.machine.simulate import Simulator
from boardgauge.traces import read_recording
from machine.small_boards import tarnbeck

RECORDINGS = Path(__file__).parents[1] / "recordings"
GOOD = sorted(path.name for path in RECORDINGS.glob("s*__good.vcd"))
UPSIDE_DOWN = {"j0": "j0", "j1": "j1", "fast": "fast_n"}
SHORTEST_OF_A_RELAY = 20_000
FARTHEST = 160_000


@pytest.mark.parametrize("name", GOOD)
def test_the_machine_gives_the_edges_of_a_good_board(name: str) -> None:
    """Pulses of the driver pins while the controller boots move no relay and are left out."""
    recording = read_recording(RECORDINGS / name)
    machine = tarnbeck().machine
    inputs: dict[str, tuple[tuple[int, Value], ...]] = {}
    for signal in ("power", *machine.board.inputs):
        channel = recording.channels[UPSIDE_DOWN.get(signal, signal)]
        pairs = zip(channel.times.tolist(), channel.values.tolist(), strict=True)
        inputs[signal] = tuple((time, (value == 1.0) != (signal in UPSIDE_DOWN)) for time, value in pairs)
    made = Simulator(machine, engine=tarnbeck()).run(Timeline(inputs, recording.end))
    for output, edges in made.outputs.items():
        channel = recording.channels[output]
        seen = _relay(list(zip(channel.times.tolist(), (channel.values == 1.0).tolist(), strict=True)))
        assert [value for _, value in seen] == [value for _, value in edges.changes], output
        for (there, _), (here, _) in zip(seen, edges.changes, strict=True):
            assert abs(there - here) <= FARTHEST, output


def _relay(edges: list[tuple[int, bool]]) -> list[tuple[int, bool]]:
    found: list[tuple[int, bool]] = []
    for time, value in edges:
        if found and time - found[-1][0] < SHORTEST_OF_A_RELAY:
            found.pop()
        elif found or value:
            found.append((time, value))
    return found

"""Make the recordings that ``boardgauge demo`` judges: a good Quillmere board, and one whose delay is too short.

Law of this module: the same files come out every time, byte for byte. The faulty board is the good one with one rule
altered; nothing is written by hand. Run ``python -m boardgauge.cases.make_demo`` after a change of the board.
"""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

from boardgauge.boards import board_path, wiring_path
from boardgauge.language import read_board, read_board_text
from boardgauge.language.model import Board
from boardgauge.language.quantities import S
from boardgauge.machine.compile import compile_board
from boardgauge.machine.run import Timeline, Value
from boardgauge.machine.simulate import Simulator
from boardgauge.traces import read_wiring
from boardgauge.traces.recording import Recording
from boardgauge.traces.simulated import recording_of
from boardgauge.traces.vcd_writer import write_vcd

DEMO = Path(__file__).parent / "demo"
BOARD = "quillmere"
GOOD = "quillmere_two_calls__good.vcd"
FAULTY = "quillmere_two_calls__restarts_too_soon.vcd"

_SEED = 11
_TOO_SOON_FILE = "quillmere-too-soon.toml"
_TOO_SOON = """
language = 1
base = "quillmere.toml"
[board]
id = "quillmere-too-soon"
title = "Quillmere board with a fault: it restarts too soon"
[change.rules.anti_short_cycle]
begins = "power_up"
[add.rules.restart_delay]
kind = "delay"
begins = "compressor ends"
lasts = "3 min"
if_begun_again = "starts over"
[change.conditions.valve_free]
is = "not compressor and not anti_short_cycle and not restart_delay"
[change.conditions.may_start]
is = "steady_call and safety closed and not anti_short_cycle and not restart_delay and not wrong_way and not locked_out"
"""


def demo_recordings() -> dict[str, Recording]:
    """Give the recordings of the demonstration by file name."""
    board = read_board(board_path(BOARD))
    return {GOOD: _recording(board, board, GOOD), FAULTY: _recording(restarting_too_soon(), board, FAULTY)}


def restarting_too_soon() -> Board:
    """Give a board that waits 3 min after a stop, and the right 4 min after power-up."""
    return read_board_text(
        _TOO_SOON, _TOO_SOON_FILE, library=lambda name: board_path(Path(name).stem).read_text("utf-8")
    )


def _recording(board: Board, named: Board, file: str) -> Recording:
    wiring = read_wiring(wiring_path(BOARD))
    run = Simulator(compile_board(board), "random", _SEED, wiring.settings).run(_two_calls())
    return recording_of(run, named, wiring, file)


def _two_calls() -> Timeline:
    """Give a call in heating with a defrost and a high-pressure trip, and a second call that has to wait."""
    degrees = [(260 + 6 * i, Fraction(4) - Fraction(i, 2)) for i in range(1, 23)]
    degrees += [(420 + 2 * i, Fraction(-7) + Fraction(5 * i, 4)) for i in range(1, 21)]
    seconds: dict[str, list[tuple[float, Value]]] = {
        "power": [(0.8, True)],
        "b": [(2, True)],
        "y": [(12.5, True), (880, False), (900.25, True)],
        "lps": [(0, True), (251, False), (310, True)],
        "safety": [(0, True), (560.5, False), (574, True), (830, False), (830.04, True)],
        "coil": [(0, Fraction(4)), *degrees],
        "fast": [(375, True), (470, False)],
    }
    return Timeline({name: tuple((round(t * S), v) for t, v in row) for name, row in seconds.items()}, 1000 * S)


def main() -> None:
    """Write the recordings into the folder they ship in."""
    DEMO.mkdir(exist_ok=True)
    for file, recording in demo_recordings().items():
        with (DEMO / file).open("w", encoding="ascii", newline="\n") as stream:
            write_vcd(recording, stream, scope=BOARD)


if __name__ == "__main__":
    main()

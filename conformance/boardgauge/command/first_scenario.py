"""A scenario to begin with: what somebody gets who simulates a board and has no scenario yet.

Law of this module: what is told is a whole scenario file that can be played as it stands, of the board's own terminals;
an output answers to it if there is an input that one use of can bring that about.
"""

from __future__ import annotations

from boardgauge.language.model import Board, Input, InputKind
from boardgauge.language.scope import word_of
from boardgauge.language.toml_writer import quoted
from boardgauge.machine.compile import compile_board
from boardgauge.machine.picture import CannotSettle
from boardgauge.machine.scenario import play
from boardgauge.machine.scenario_reader import read_scenario_text

_FIRST = (InputKind.CALL, InputKind.SIGNAL, InputKind.SWITCH, InputKind.BUTTON, InputKind.LINK)
"""Which inputs are tried, the likeliest to set a board going first."""
_USED = 11_000_000
"""When the input is used, in microseconds."""


def first_scenario(board: Board) -> str:
    """Give a scenario in which the power comes on and one input is used."""
    machine = compile_board(board)
    texts = [_using(board, row) for kind in _FIRST for row in board.inputs.values() if row.kind is kind]
    for text in texts:
        try:
            run = play(machine, read_scenario_text(text, "", board))
        except CannotSettle:
            continue
        if any(time >= _USED for edges in run.outputs.values() for time, _ in edges.changes):
            return text
    return texts[0] if texts else _using(board, None)


def _using(board: Board, row: Input | None) -> str:
    steps = ['{ wait = "1 s" }', '{ power = "on" }', '{ wait = "10 s" }']
    if row is not None:
        steps += [f'{{ set = {{ {row.id} = "{word_of(row.kind, not row.rests_on)}" }} }}', '{ wait = "5 min" }']
        steps += [f'{{ set = {{ {row.id} = "{word_of(row.kind, row.rests_on)}" }} }}', '{ wait = "1 min" }']
    else:
        steps += ['{ wait = "5 min" }']
    sensors = [row for row in board.inputs.values() if row.kind is InputKind.SENSOR]
    start = ", ".join(f"{row.id} = {quoted(f'0 {row.unit}')}" for row in sensors)
    lines = ["language = 1", f"board = {quoted(board.id)}", 'title = "One use of the board"']
    lines += [f"start = {{ {start} }}"] if start else []
    return "\n".join([*lines, "steps = [", *(f"  {step}," for step in steps), "]"]) + "\n"

"""The truth table: what every output and lamp does in every operating state.

Law of this module: one row for each operating state that exploring the machine finds, all outputs told apart; where
exploring hit a bound the sheet says so.
"""

from __future__ import annotations

from boardgauge.drawings import words
from boardgauge.drawings.overview import state_names
from boardgauge.machine.operating import OperatingState
from boardgauge.sheets.blocks import Column, Sheet, Table
from boardgauge.sheets.study import Study

OUTPUTS = "outputs"


def output_table(study: Study) -> Sheet:
    """Give the truth table of outputs and lamps by operating state."""
    seen = study.states
    board = study.board
    outputs = tuple(board.outputs)
    columns = [Column("Operating state", 2.6)]
    columns += [Column(_heading(study, output), 1.0, "centre") for output in outputs]
    columns += [Column(words.thing(board, lamp), 1.6) for lamp in board.lamps]
    names = state_names(seen)
    rows = tuple((names[state.number], *_cells(study, state, outputs)) for state in seen.states)
    notes = ["“On” is the coil of the relay. Every state that the board can reach is here, and no other."]
    if not seen.complete:
        notes = [f"NOT COMPLETE: exploring stopped at {seen.explored} configurations; there may be more states."]
    table = Table(OUTPUTS, tuple(columns), rows, "", tuple(notes))
    return Sheet(OUTPUTS, "Outputs by operating state", (table,), own_page=False)


def _heading(study: Study, output: str) -> str:
    label = words.thing(study.board, output)
    return label if label == output else f"{label} ({output})"


def _cells(study: Study, state: OperatingState, outputs: tuple[str, ...]) -> tuple[str, ...]:
    board, machine = study.board, study.machine
    values = dict(state.outputs)
    cells = []
    for output in outputs:
        value = values[output]
        if isinstance(value, tuple):
            cells.append(f"ON while {words.level(board, machine.levels[value[0]], value[1])}")
        else:
            cells.append("ON" if value else "off")
    lines = dict(state.lamps)
    for lamp in board.lamps.values():
        line = lines[lamp.id]
        cells.append("dark" if line < 0 else words.pattern(lamp.lines[line].shows))
    return tuple(cells)

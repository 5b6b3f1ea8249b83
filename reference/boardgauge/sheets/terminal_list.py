"""The terminal list: what is connected where, and how the board reads or drives it.

Law of this module: what the spec says of its inputs, outputs and lamps, and nothing else.
"""

from __future__ import annotations

from collections.abc import Iterator

from boardgauge.drawings import words
from boardgauge.drawings.time_words import time_range
from boardgauge.language.expressions import Condition, names
from boardgauge.language.model import Board, Input, InputKind
from boardgauge.language.quantity_writer import write_quantity
from boardgauge.machine.input_ways import levels_read
from boardgauge.machine.table import Machine
from boardgauge.sheets.blocks import Block, Column, Sheet, Table
from boardgauge.sheets.figures import joined, stopwatch
from boardgauge.sheets.study import Study

TERMINALS = "terminals"


def terminal_list(study: Study) -> Sheet:
    """Give the list of inputs, outputs and lamps."""
    board, machine = study.board, study.machine
    blocks: list[Block] = []
    inputs = tuple(_input(machine, row) for row in board.inputs.values())
    if inputs:
        columns = [Column("Terminal", 1.1), Column("What it is", 3.4), Column("Kind", 1.9), Column("At rest", 0.9)]
        columns += [Column("Seen after", 1.4), Column("Clause", 0.8)]
        note = "At rest: as it stands without power or with nothing connected that moves it."
        blocks.append(Table("input-terminals", tuple(columns), inputs, "Inputs", (note,)))
    outputs = tuple(_outputs(board))
    if outputs:
        columns = [Column("Terminal", 1.1), Column("What it is", 3.4), Column("Contact", 1.9)]
        columns += [Column("Shows within", 1.2), Column("Clause", 0.8)]
        blocks.append(Table("output-terminals", tuple(columns), outputs, "Outputs", tuple(_contact_notes(board))))
    lamps = tuple(
        (row.id, _what(board, row.id, row.note.text), f"{len(row.lines)} patterns", row.note.clause or "")
        for row in board.lamps.values()
    )
    if lamps:
        columns = [Column("Lamp", 1.1), Column("What it is", 3.4), Column("Shows", 1.9), Column("Clause", 0.8)]
        blocks.append(Table("lamp-list", tuple(columns), lamps, "Lamps"))
    return Sheet(TERMINALS, "Terminal list", tuple(blocks))


def _input(machine: Machine, row: Input) -> tuple[str, ...]:
    board = machine.board
    kind = row.kind.value if row.contact is None else f"{row.kind.value}, {row.contact}"
    if row.kind is InputKind.SENSOR:
        kind = f"sensor, {row.unit}"
        if row.accuracy is not None and row.accuracy.number:
            kind += f", ± {write_quantity(row.accuracy)}"
    seen = time_range(row.filter.least, row.filter.greatest) if row.filter.greatest else "at once"
    what = _what(board, row.id, row.note.text)
    if row.note.why:
        what += f". {row.note.why[0].upper()}{row.note.why[1:]}"
    limits = [
        words.comparison(board, level.comparison, True)
        for level in machine.levels
        if level.input == row.id and level.comparison is not None
    ]
    if limits:
        what += f". The board looks whether: {joined(limits, 'or')}"
    if not _is_read(machine, row.id):
        what += ". No rule, output or lamp reads it" + (", a setting does" if _is_set_by(board, row.id) else "")
    return row.id, what, kind, _at_rest(machine, row), seen, row.note.clause or ""


def _at_rest(machine: Machine, row: Input) -> str:
    if row.kind is InputKind.SENSOR:
        return "not known"
    at_rest = next((level.at_rest for level in machine.levels if level.input == row.id), row.contact is not None)
    words_of = {
        InputKind.SWITCH: ("open", "closed"),
        InputKind.LINK: ("open", "fitted"),
        InputKind.BUTTON: ("released", "pressed"),
    }
    return words_of.get(row.kind, ("off", "on"))[at_rest]


def _is_read(machine: Machine, name: str) -> bool:
    read = levels_read(machine)
    speeds = {n for row in machine.speed_ups for n in _names(row.while_)}
    return name in speeds or any(level.input == name and read[level.index] for level in machine.levels)


def _names(condition: Condition) -> Iterator[str]:
    yield from (name for name, _ in names(condition))


def _is_set_by(board: Board, name: str) -> bool:
    whens = [p.when for setting in board.settings.values() for p in setting.positions if p.when is not None]
    return any(name in _names(when) for when in whens)


def _what(board: Board, name: str, text: str | None) -> str:
    label = words.thing(board, name)
    return text if text and len(text) >= len(label) else label


def _outputs(board: Board) -> Iterator[tuple[str, ...]]:
    for row in board.outputs.values():
        what = _what(board, row.id, row.note.text)
        if row.note.why:
            what += f". {row.note.why[0].upper()}{row.note.why[1:]}"
        yield row.id, what, row.contact, stopwatch(row.lag) if row.lag else "at once", row.note.clause or ""


def _contact_notes(board: Board) -> Iterator[str]:
    closed = [words.thing(board, row.id) for row in board.outputs.values() if row.contact == "normally closed"]
    if closed:
        yield (
            f"In every table “on” is the coil. {joined(closed)[0].upper()}{joined(closed)[1:]} "
            "has a normally closed contact: on, it is open."
        )

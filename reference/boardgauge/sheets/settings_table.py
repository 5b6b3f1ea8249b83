"""The settings table: what a person sets on the board, what it sets, and when the board reads it.

Law of this module: every figure is that of a position of the spec, with its limits.
"""

from __future__ import annotations

from collections.abc import Iterator

from boardgauge.drawings import words
from boardgauge.drawings.time_words import least, most
from boardgauge.language.model import Setting
from boardgauge.machine.table import Machine
from boardgauge.sheets.blocks import Block, Column, Paragraph, Sheet, Table
from boardgauge.sheets.figures import joined, sped_up, stopwatch
from boardgauge.sheets.study import Study
from boardgauge.sheets.timing_table import position_name, timing_name

SETTINGS = "settings"


def settings_sheet(study: Study) -> Sheet:
    """Give the table of settings and of speed-ups."""
    board, machine = study.board, study.machine
    blocks: list[Block] = []
    rows = tuple(row for setting in board.settings.values() for row in _rows(machine, setting))
    if rows:
        columns = [Column("Setting", 2.0), Column("Position", 2.6), Column("Nominal"), Column("Least"), Column("Most")]
        columns += [Column("Sets", 2.0), Column("Clause", 0.8)]
        notes = tuple(_when_read(machine, setting) for setting in board.settings.values())
        blocks.append(Table(SETTINGS, tuple(columns), rows, "What can be set", notes))
    else:
        blocks.append(Paragraph("Nothing can be set on this board."))
    fast = tuple(_speed_ups(machine))
    if fast:
        columns = [Column("Speed-up", 1.6), Column("While", 2.2), Column("Times faster", 0.9)]
        columns += [Column("What runs faster", 4.0), Column("Clause", 0.8)]
        notes = ("For tests only. Take it off again, and check that you did.",)
        blocks.append(Table("speed-ups", tuple(columns), fast, "Speed-ups", notes))
    return Sheet(SETTINGS, "Settings table", tuple(blocks), own_page=False)


def _rows(machine: Machine, setting: Setting) -> Iterator[tuple[str, ...]]:
    board = machine.board
    uses = [timing_name(machine, row) for row in machine.timings if row.setting == setting.id]
    for number, position in enumerate(setting.positions):
        name = position_name(board, setting.id, number)
        yield (
            words.thing(board, setting.id) if number == 0 else "",
            f"{name} (factory)" if position.name is not None and position.name == setting.factory else name,
            stopwatch(position.is_.nominal),
            least(position.is_.shortest),
            most(position.is_.longest),
            joined(uses) if number == 0 else "",
            (setting.note.clause or "") if number == 0 else "",
        )


def _when_read(machine: Machine, setting: Setting) -> str:
    label = words.thing(machine.board, setting.id)
    text = f" ({setting.note.text})" if setting.note.text and setting.note.text != label else ""
    if setting.read == "at power-up":
        return f"{label}{text} is read as the power comes on: what is changed later counts from the next power-up on."
    return f"{label}{text} is read whenever the time begins: what is changed counts from the next time on."


def _speed_ups(machine: Machine) -> Iterator[tuple[str, ...]]:
    board = machine.board
    for row in machine.speed_ups:
        what = []
        for timing in machine.timings:
            if row.index in timing.speed_ups:
                times = [stopwatch(sped_up(choice, row.times_faster).nominal) for choice in timing.choices]
                what.append(f"{timing_name(machine, timing)} {joined(times, 'or')}")
        note = board.speed_ups[row.id].note
        yield (
            words.plain(row.id),
            words.holds(board, row.while_, True),
            str(row.times_faster),
            "; ".join(what),
            note.clause or "",
        )

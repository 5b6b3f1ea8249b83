"""A Scenario to a scenario file.

Law of this module: what is written is read back as the same scenario.
"""

from __future__ import annotations

from collections.abc import Mapping

import tomlkit
from tomlkit.items import Table

from boardgauge.language import Board
from boardgauge.language.model import Input, InputKind
from boardgauge.language.quantities import Quantity
from boardgauge.language.quantity_writer import write_plain_time, write_quantity
from boardgauge.machine.run import Value
from boardgauge.machine.scenario import Power, Scenario, SetInputs, Until, Wait

_WORDS = {
    InputKind.CALL: ("on", "off"),
    InputKind.SIGNAL: ("on", "off"),
    InputKind.SWITCH: ("closed", "open"),
    InputKind.LINK: ("fitted", "open"),
    InputKind.BUTTON: ("pressed", "released"),
}


def write_scenario(scenario: Scenario, board: Board) -> str:
    """Give the text of a scenario file."""
    document = tomlkit.document()
    document["language"] = 1
    document["board"] = scenario.board
    document["title"] = scenario.title
    steps = tomlkit.array().multiline(True)
    for step in scenario.steps:
        row = tomlkit.inline_table()
        match step:
            case SetInputs(values=values):
                inner = tomlkit.inline_table()
                inner.update(_written(values, board))
                row["set"] = inner
            case Power(on=on):
                row["power"] = "on" if on else "off"
            case Wait(time=time):
                row["wait"] = write_plain_time(time)
            case Until():
                row["until"] = step.text
                row["at_most"] = write_plain_time(step.at_most)
                if step.or_else != "stop":
                    row["or_else"] = step.or_else
        steps.append(row)
    document["steps"] = steps
    if scenario.start:
        document["start"] = _table(_written(scenario.start, board))
    if scenario.positions:
        document["settings"] = _table(dict(scenario.positions))
    if scenario.durations:
        lengths = {name: [write_plain_time(time) for time in times] for name, times in scenario.durations.items()}
        document["durations"] = _table({n: t[0] if len(t) == 1 else t for n, t in lengths.items()})
    return tomlkit.dumps(document)


def _table(rows: Mapping[str, object]) -> Table:
    table = tomlkit.table()
    table.update(rows)
    return table


def _written(values: Mapping[str, Value], board: Board) -> dict[str, str]:
    return {name: written_value(board.inputs[name], value) for name, value in values.items()}


def written_value(row: Input, value: Value) -> str:
    """Give the value of an input as a scenario writes it: a word for its state, or a number with its unit."""
    if isinstance(value, bool):
        return _WORDS[row.kind][0 if value else 1]
    return write_quantity(Quantity(value, row.unit or ""))

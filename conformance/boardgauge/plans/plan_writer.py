"""A Plan to a plan file.

Law of this module: what is written is read back as the same plan.
"""

from __future__ import annotations

from collections.abc import Mapping

import tomlkit
from tomlkit.items import InlineTable, Table

from boardgauge.language.model import Board
from boardgauge.language.quantities import TimeRange
from boardgauge.language.quantity_writer import write_plain_time, write_time_range
from boardgauge.machine.run import Value
from boardgauge.machine.scenario_writer import written_value
from boardgauge.plans.plan import Measure, Observe, Plan, PlanStep, Set, Sitting, Wait, WaitFor

ON_OFF = ("on", "off")


def write_plan(plan: Plan, board: Board) -> str:
    """Give the text of a plan file. Raises ValueError for a sensor's value that has no exact decimal form."""
    document = tomlkit.document()
    document["language"] = 1
    document["board"] = plan.board
    document["spec_digest"] = plan.spec_digest
    document["title"] = plan.title
    document["expected_time"] = write_plain_time(plan.expected_time)
    document["seed"] = plan.seed
    document["wired"] = _lines(plan.wired)
    if plan.cautions:
        document["cautions"] = _lines(plan.cautions)
    if plan.covers:
        document["covers"] = _lines([_inline(kind=row.kind, goals=list(row.goals)) for row in plan.covers])
    if plan.leaves_out:
        left = [_inline(kind=row.kind, reason=row.reason, goals=list(row.goals)) for row in plan.leaves_out]
        document["leaves_out"] = _lines(left)
    # Last: a key that follows a table would be one of that table.
    sittings = tomlkit.aot()
    for sitting in plan.sittings:
        sittings.append(_sitting(sitting, board))
    document["sittings"] = sittings
    return tomlkit.dumps(document)


def _sitting(sitting: Sitting, board: Board) -> Table:
    table = tomlkit.table()
    table["id"] = sitting.id
    if sitting.settings:
        table["settings"] = _inline(**sitting.settings)
    if sitting.start:
        table["start"] = _inline(**_values(sitting.start, board))
    table["steps"] = _lines([_step(step, board) for step in sitting.steps])
    return table


def _step(step: PlanStep, board: Board) -> InlineTable:
    said: dict[str, object] = {"id": step.id} if step.id else {}
    match step:
        case Set():
            if step.inputs:
                said["set"] = _inline(**_values(step.inputs, board))
            if step.power is not None:
                said["power"] = _on_off(step.power)
            if step.caution:
                said["caution"] = step.caution
        case Wait():
            said["wait"] = write_plain_time(step.time)
        case WaitFor():
            said["wait_for"] = _inline(**{step.signal: _on_off(step.level)})
            said["expected"] = write_time_range(TimeRange(step.earliest, step.latest))
            if step.since:
                said["since"] = step.since
            said["at_most"] = write_plain_time(step.at_most)
        case Observe():
            said["observe"] = _inline(**{name: _on_off(level) for name, level in step.outputs.items()}, **step.lamps)
            said["held"] = write_plain_time(step.held)
        case Measure():
            said["measure"] = step.what
            said["since"] = step.since
            said["until"] = step.until
            said["allowed"] = write_time_range(TimeRange(step.shortest, step.longest))
    if step.why:
        said["why"] = step.why
    return _inline(**said)


def _on_off(level: bool) -> str:
    return ON_OFF[0 if level else 1]


def _values(values: Mapping[str, Value], board: Board) -> dict[str, str]:
    return {name: written_value(board.inputs[name], value) for name, value in values.items()}


def _inline(**said: object) -> InlineTable:
    table = tomlkit.inline_table()
    table.update(said)
    return table


def _lines(rows: object) -> tomlkit.items.Array:
    assert isinstance(rows, (list, tuple))
    array = tomlkit.array().multiline(len(rows) > 1)
    for row in rows:
        array.append(row)
    return array

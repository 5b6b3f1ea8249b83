"""A file of what a person wrote on the sheet of a plan.

Law of this module: sheets come out that fit the plan, or UnusableSpec with everything that is wrong, each with its
place. ``read_sheets`` is the only function here that touches the file system.

::

    language = 1
    board = "sump-pumps"
    reaction = "0.5 s"                 # how far a written time may be off; 0.5 s unless said

    [[sittings]]
    id = "1"
    steps = [
      { step = 2, at = "1.2 s" },      # the running stopwatch as it was done, or seen
      { step = 3, never = true },      # what was waited for did not come
      { step = 5, at = "9 s", saw = { cc = "off", led = "3 flashes" } },   # a look that showed otherwise
    ]
"""

from __future__ import annotations

from pathlib import Path

from boardgauge.language import Board, UnusableSpec
from boardgauge.language.board_values import BoardValues
from boardgauge.language.keys import Key
from boardgauge.language.nodes import read_nodes
from boardgauge.language.problems import nearest_of
from boardgauge.language.quantity_writer import write_pattern
from boardgauge.language.table_reader import Reading, TableReader
from boardgauge.language.text_file import text_of
from boardgauge.plans.entering import REACTION, NotAllWritten, Sheet, Written, check_sheet
from boardgauge.plans.pace import asks_for_a_time
from boardgauge.plans.plan import Observe, Plan, Sitting, WaitFor
from boardgauge.plans.plan_reader import MOST_STEPS

FILE_KEYS = (
    Key("language", "version", "required", "the version of the language, 1"),
    Key("board", "text", "required", "the id of the board"),
    Key("reaction", "time", "optional", "how far a written time may be off, either way", default="0.5 s"),
    Key("sittings", "steps", "required", "what was written, sitting by sitting"),
)
SITTING_KEYS = (
    Key("id", "text", "required", "the sitting of the plan"),
    Key("steps", "steps", "required", "what was written, step by step"),
)
STEP_KEYS = (
    Key("step", "whole number", "required", "the number of the step on the sheet"),
    Key("at", "time", "depends", "the running stopwatch as it was done, seen or begun"),
    Key("never", "yes or no", "optional", "what was waited for did not come"),
    Key("saw", "positions", "optional", "of a look: what showed otherwise than it should"),
)


def read_sheets(path: Path, plan: Plan, board: Board, reaction: int | None = None) -> tuple[tuple[Sheet, ...], int]:
    """Read what was written, and the reaction (microseconds): the file's, unless one is given.

    Raises UnusableSpec with every problem found.
    """
    return read_sheets_text(text_of(path), str(path), plan, board, reaction)


def read_sheets_text(
    text: str, file: str, plan: Plan, board: Board, reaction: int | None = None
) -> tuple[tuple[Sheet, ...], int]:
    """Read it from text; ``file`` is what errors call it. Raises UnusableSpec."""
    reading = Reading()
    root = TableReader(reading, read_nodes(text, file), "", FILE_KEYS)
    BoardValues(reading, board).made_for(root)
    said = root.time("reaction")
    off = reaction if reaction is not None else said if said is not None else REACTION
    sittings = {sitting.id: sitting for sitting in plan.sittings}
    found: list[Sheet] = []
    for row in root.rows("sittings", "steps", SITTING_KEYS):
        id_ = row.text("id")
        if id_ is None:
            continue
        if id_ not in sittings:
            near = nearest_of(id_, sittings)
            row.fail(row.values["id"].at, "id", "the plan has no such sitting", ", ".join(sittings), near)
            continue
        if any(sheet.sitting.id == id_ for sheet in found):
            row.fail(row.values["id"].at, "id", f"sitting {id_} is written twice")
        sheet = Sheet(sittings[id_], _written(row, sittings[id_], board))
        if not reading.problems:
            try:
                check_sheet(sheet, off)
            except NotAllWritten as error:
                row.fail(row.node.at, "steps", str(error))
        found.append(sheet)
    if reading.problems:
        raise UnusableSpec(reading.problems)
    return tuple(found), off


def _written(sitting_row: TableReader, sitting: Sitting, board: Board) -> dict[int, Written]:
    found: dict[int, Written] = {}
    for row in sitting_row.rows("steps", "steps", STEP_KEYS, MOST_STEPS):
        number = row.whole("step", 1, len(sitting.steps))
        at, never = row.time("at"), row.yes_or_no("never")
        if number is None:
            continue
        step = sitting.steps[number - 1]
        if number - 1 in found:
            row.fail(row.values["step"].at, "step", f"step {number} is written twice")
        if not asks_for_a_time(sitting, number - 1):
            row.fail(row.values["step"].at, "step", f"nothing is asked at step {number} of sitting {sitting.id}")
        if never and not isinstance(step, WaitFor):
            row.fail(row.values["never"].at, "never", "only what is waited for may never come")
        if not never:
            row.need("at", "the stopwatch is read at each of these steps")
        elif row.has("at"):
            row.refuse("at", "what never came has no time")
        outputs, lamps = _saw(row, step, board)
        found[number - 1] = Written(None if never else at, outputs, lamps)
    return found


def _saw(row: TableReader, step: object, board: Board) -> tuple[dict[str, bool], dict[str, str]]:
    outputs: dict[str, bool] = {}
    lamps: dict[str, str] = {}
    node = row.take("saw", "positions") if row.has("saw") else None
    if node is None:
        return outputs, lamps
    if not isinstance(step, Observe) or not isinstance(node.value, dict):
        row.fail(node.at, "saw", "only a look shows something; a table of outputs and lamps", '{ fan = "off" }')
        return outputs, lamps
    for name, value in node.value.items():
        if name in board.outputs and value.value in ("on", "off"):
            outputs[name] = value.value == "on"
        elif name in board.lamps:
            lines = [write_pattern(line.shows) for line in board.lamps[name].lines]
            if value.value not in lines:
                row.fail(value.at, f"saw.{name}", "the lamp has no line that shows so", ", ".join(lines))
            lamps[name] = str(value.value)
        else:
            near = nearest_of(name, {**board.outputs, **board.lamps})
            what = 'an output is "on" or "off"' if name in board.outputs else "the board has no such output or lamp"
            row.fail(value.at, f"saw.{name}", what, None, near)
    return outputs, lamps

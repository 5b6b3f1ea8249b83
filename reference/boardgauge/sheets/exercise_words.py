"""The words of exercises: what is given, what is done and when, and what the board does about it.

Law of this module: it tells of a run and a recipe, and of nothing that is not in them.
"""

from __future__ import annotations

from boardgauge.drawings import words
from boardgauge.drawings.overview import state_names
from boardgauge.drawings.time_words import time_range
from boardgauge.language.model import InputKind
from boardgauge.language.quantities import Quantity
from boardgauge.language.quantity_writer import write_quantity
from boardgauge.machine.run import POWER, Run, Value
from boardgauge.sheets.blocks import Column, Table
from boardgauge.sheets.figures import stopwatch
from boardgauge.sheets.recipes import Change, Recipe, answer, windows
from boardgauge.sheets.stories import Story
from boardgauge.sheets.study import Study
from boardgauge.sheets.telling import Telling, call_name, lamp_name, the


def beginning(study: Study, story: Story, recipe: Recipe) -> str:
    """Say what a board is in when an exercise begins."""
    names = state_names(study.states)
    off_rest = []
    board = study.board
    for row in board.inputs.values():
        value = story.run.inputs[row.id].at(recipe.zero - 1) if recipe.zero else story.run.inputs[row.id].initial
        if row.kind is InputKind.SENSOR:
            off_rest.append(f"{words.thing(board, row.id)} {write_quantity(_quantity(value, row.unit))}")
    state = next(
        (
            one.number
            for one in study.states.states
            if one.powered
            and dict(one.lamps) == dict(zip(board.lamps, study.engine.lamp_lines(story.before), strict=True))
        ),
        None,
    )
    powered = state is not None and story.before.powered
    said = [f"The board is in {names[state]}" if state is not None and powered else "The power is off"]
    said += ["every call off"] if any(row.kind is InputKind.CALL for row in board.inputs.values()) else []
    said += ["every input at rest"] if board.inputs else []
    delays = "; all delays are over" if powered else ""
    readings_ = f" Sensors read: {', '.join(off_rest)}." if off_rest else ""
    return f"{', '.join(said)}{delays}.{readings_}"


def done(study: Study, change: Change, recipe: Recipe) -> str:
    """Say when something is done, and what."""
    first = next((one for one in recipe.changes if one.name == POWER and one.value), None)
    said = "the power comes on" if change == first else what_is_done(study, change)
    return f"At {clock(change.time - recipe.zero)}: {said}"


def lamp_at_the_end(study: Study, run: Run, when: str) -> str:
    """Say what the lamps show when the run is over; ``when`` begins the sentence."""
    config = run.story[-1].config
    board = study.board
    said = []
    for lamp, line in zip(board.lamps.values(), study.engine.lamp_lines(config), strict=True):
        shows = "dark" if line < 0 else words.pattern(lamp.lines[line].shows)
        means = "" if line < 0 else f" ({words.lamp_line(board, lamp.id, line)})"
        said.append(f"the {lamp_name(board, lamp.id)} shows {shows}{means}")
    return f"{when} {' and '.join(said)}."


def limits_table(study: Study, recipe: Recipe) -> Table | None:
    """Give the changes of the outputs with their limits; None where there are none."""
    told = windows(study, recipe)
    rows = tuple(
        (
            words.thing(study.board, one.output),
            "comes on" if one.value else "goes off",
            clock(one.nominal - recipe.zero),
            time_range(one.earliest - recipe.zero, one.latest - recipe.zero),
        )
        for one in told
    )
    if not rows:
        return None
    notes = ["Times from the same zero as in the exercise."]
    run = recipe.run(study)
    changed = [o for o in study.board.outputs if any(t >= recipe.asked for t, _ in run.outputs[o].changes)]
    without = [o for o in changed if o not in {one.output for one in told}]
    if without:
        names = ", ".join(words.thing(study.board, output) for output in without)
        notes.append(f"Without limits: {names}. A board that is early or late does something else with these inputs.")
    columns = (Column("Output", 2), Column("Does", 1), Column("Nominal", 1), Column("A board in order", 2))
    return Table("windows", columns, rows, notes=tuple(notes))


def facts_of(study: Study, run: Run, recipe: Recipe) -> tuple[str, ...]:
    """Give what a board does from ``asked`` on, a sentence an instant, with its time."""
    telling = Telling(study)
    said = []
    for entry, before in answer(run, recipe):
        told = telling.sentence(entry, before)
        if told is not None:
            said.append(f"At {clock(entry.time - recipe.zero)}: {told}")
    return tuple(said)


def clock(time: int) -> str:
    """Give a time from zero on; at zero it is 0 s."""
    return stopwatch(time) if time else "0 s"


def what_is_done(study: Study, change: Change) -> str:
    """Say what is done at a terminal."""
    board = study.board
    if change.name == POWER:
        return "the power comes back" if change.value else "the power is lost"
    row = board.inputs[change.name]
    label = words.thing(board, change.name)
    if row.kind is InputKind.SENSOR:
        return f"{label} now measures {write_quantity(_quantity(change.value, row.unit))}"
    if row.kind is InputKind.CALL:
        return f"the {call_name(board, change.name)} {'comes on' if change.value else 'goes off'}"
    if row.kind is InputKind.SIGNAL:
        return f"the signal “{label}” {'comes on' if change.value else 'goes off'}"
    verbs = {InputKind.SWITCH: ("opens", "closes"), InputKind.LINK: ("is taken off", "is fitted")}
    off, on = verbs.get(row.kind, ("is released", "is pressed"))
    return f"{the(label)} {on if change.value else off}"


def _quantity(value: Value, unit: str | None) -> Quantity:
    assert not isinstance(value, bool), "a sensor measures a number"
    return Quantity(value, unit or "")

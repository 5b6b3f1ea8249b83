"""What the page tells a person, worked out beforehand by the words that drawings and reports use.

Law of this module: words only, from ``drawings.words``; nothing here says what a board does. Where a text has a
temperature in it, it is given twice, ``{"°C": ..., "°F": ...}``, for the reader to choose.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import Any

from attrs import evolve

from boardgauge.drawings import words
from boardgauge.language import expressions as ex
from boardgauge.language import in_unit, model
from boardgauge.language.quantities import Quantity
from boardgauge.language.quantity_writer import write_plain_time
from boardgauge.machine.logic import Logic
from boardgauge.machine.table import Level, Machine, OutputRow, Region, Timing
from boardgauge.page.codes import code
from boardgauge.page.sliders import slider

Row = dict[str, Any]
Text = str | dict[str, str]
TEMPERATURES = ("°C", "°F")

_HIDDEN_ROLES = {"requirement", "not judged"}


class Wording:
    """The words for one machine."""

    def __init__(self, machine: Machine) -> None:
        self.machine = machine
        self.board = machine.board

    # -- the terminals -------------------------------------------------------------------------------------------

    def input(self, name: str) -> Row:
        """Give what is told of an input; for a sensor, its sliders in each unit to be had too."""
        row = self.board.inputs[name]
        told = self._note(name, row.note)
        if row.unit is not None:
            levels = [level.comparison for level in self.machine.levels if level.input == name]
            told["slider"] = slider(row.unit, [comparison for comparison in levels if comparison is not None])
            return told
        level = next(level for level in self.machine.levels if level.input == name)
        told["states"] = list(words.states(row.kind))
        told["becomes"] = [words.level_change(self.board, level, value) for value in (False, True)]
        return told

    def level(self, level: Level) -> Row:
        """Give what is told of a level: how it stands, and what it does."""
        if level.comparison is None:
            return {"becomes": [words.level_change(self.board, level, value) for value in (False, True)]}
        return {"becomes": [self._holds(level.comparison, value) for value in (False, True)]}

    def output(self, row: OutputRow) -> Row:
        """Give what is told of an output; ``turns`` (off, on) continues its name."""
        return {**self._note(row.output, self.board.outputs[row.output].note), "turns": ["goes off", "comes on"]}

    def lamp(self, row: model.Lamp) -> Row:
        """Give what is told of a lamp."""
        return self._note(row.id, row.note)

    def lamp_line(self, lamp: model.Lamp, index: int) -> Row:
        """Give what is told of a line of a lamp's table."""
        line = lamp.lines[index]
        means: Text = line.means or ("otherwise" if line.when is None else self._holds(line.when, True))
        return {"shows": words.pattern(line.shows), "means": means, "clause": line.clause}

    def setting(self, row: model.Setting) -> Row:
        """Give what is told of a setting: its positions, and how each is chosen."""
        chosen: list[Text] = [p.name or "" if p.when is None else self._holds(p.when, True) for p in row.positions]
        lasts = [words.duration(p.is_) for p in row.positions]
        return {**self._note(row.id, row.note), "chosen": chosen, "lasts": lasts}

    # -- rules and times -----------------------------------------------------------------------------------------

    def region(self, region: Region) -> Row:
        """Give what is told of a kept thing; ``moves`` has what is said on coming to each place."""
        name = words.thing(self.board, region.rule)
        return {
            "name": name,
            "clause": region.clause,
            "place_names": [words.thing(self.board, place) for place in region.places],
            "moves": [_comes_to(self.board, region, name, place) for place in range(len(region.places))],
        }

    def timing(self, row: Timing) -> Row:
        """Give what is told of a timing: its name, what is said when it is over, and how long it lasts."""
        owner = words.thing(self.board, row.owner)
        return {
            "name": _timing_name(self.board, row, owner),
            "over": self._over(row, owner),
            "lasts": words.timing(self.board, row),
            "clause": row.clause,
            "hidden": row.role in _HIDDEN_ROLES,
        }

    def _over(self, row: Timing, owner: str) -> Text:
        match row.role:
            case "for":
                assert isinstance(row.condition, ex.For)
                inner, time = row.condition.condition, write_plain_time(row.condition.lasts.nominal)
                return _map(self._holds(inner, True), lambda text: f"{text}, for {time} now")
            case "at most":
                return f"{owner} has lasted its longest"
            case "at least":
                return f"{owner} has lasted its least"
            case "target":
                return f"{owner} is full"
            case "window":
                return f"the oldest event of {owner} no longer counts"
            case "step":
                return f"the time of {words.thing(self.board, row.name)} is over"
            case "lasts":
                return f"the time of {owner} is over"
        return f"{owner} is over"

    def requirement(self, row: model.Requirement) -> Row:
        """Give what is told of a requirement."""
        return self._note(row.id, row.note)

    # -- what a picture holds ------------------------------------------------------------------------------------

    def things(self, logic: Logic) -> list[Row | None]:
        """Give, for each slot of a picture, how to say that it holds or does not, and what it hangs on."""
        found: list[Row | None] = [None] * logic.width
        board = self.board
        for level in self.machine.levels:
            made = [words.level(board, level, value) for value in (False, True)]
            told: list[Text] = list(made)
            if level.comparison is not None:
                told = [self._holds(level.comparison, value) for value in (False, True)]
            found[logic.level_slot(level)] = {
                "kind": "input",
                "is": told,
                "clause": board.inputs[level.input].note.clause,
            }
        for name, slot in logic.slots.items():
            if found[slot] is None and not any(
                d.hidden and logic.delay_slot(d.index) == slot for d in self.machine.delays
            ):
                found[slot] = self._thing(name)
        for timing, slot in logic.for_slots.items():
            condition = self.machine.timings[timing].condition
            assert isinstance(condition, ex.For)
            told = [self._holds(condition, value) for value in (False, True)]
            inner = code(logic, condition.condition)
            time = write_plain_time(condition.lasts.nominal)
            clause = self.machine.timings[timing].clause
            found[slot] = {"kind": "for", "is": told, "clause": clause, "of": inner, "time": time}
        for row in board.conditions.values():
            found[logic.slots[row.id]] = {
                "kind": "condition",
                "is": [words.name_holds(board, row.id, value) for value in (False, True)],
                "clause": row.note.clause,
                "of": code(logic, row.is_),
            }
        return found

    def _thing(self, name: str) -> Row:
        board = self.board
        note = model.NO_NOTE
        for tables in (board.rules, board.outputs):
            row = tables.get(name)
            note = row.note if row is not None else note
        told = [words.name_holds(board, name, value) for value in (False, True)]
        return {"kind": "kept", "is": told, "clause": note.clause, "why": note.why}

    # -- helpers -------------------------------------------------------------------------------------------------

    def _note(self, name: str, note: model.Note) -> Row:
        return {"name": words.thing(self.board, name), "text": note.text, "clause": note.clause}

    def _holds(self, node: ex.Condition, value: bool) -> Text:
        told = {unit: words.holds(self.board, _in_temperature(node, unit), value) for unit in TEMPERATURES}
        first, second = told.values()
        return first if first == second else told


def _map(text: Text, change: Callable[[str], str]) -> Text:
    return change(text) if isinstance(text, str) else {unit: change(part) for unit, part in text.items()}


def _in_temperature(node: ex.Condition, unit: str) -> ex.Condition:
    """Give a condition with its temperatures in one unit, rounded to a tenth of a degree."""
    match node:
        case ex.Comparison() if node.limit.unit in TEMPERATURES:
            until = None if node.until is None else _rounded(node.until, unit)
            return evolve(node, limit=_rounded(node.limit, unit), until=until)
        case ex.Not(item=item):
            return evolve(node, item=_in_temperature(item, unit))
        case ex.And(items=items) | ex.Or(items=items):
            return evolve(node, items=tuple(_in_temperature(item, unit) for item in items))
        case ex.For(condition=condition):
            return evolve(node, condition=_in_temperature(condition, unit))
    return node


def _rounded(quantity: Quantity, unit: str) -> Quantity:
    return quantity if quantity.unit == unit else Quantity(Fraction(round(in_unit(quantity, unit).number, 1)), unit)


def _timing_name(board: model.Board, row: Timing, owner: str) -> str:
    match row.role:
        case "for":
            assert isinstance(row.condition, ex.For)
            return f"{owner}, how long so far"
        case "at most":
            return f"{owner}, its longest"
        case "at least":
            return f"{owner}, its least"
        case "window":
            return f"{owner}, window"
        case "step":
            return words.thing(board, row.name)
    return owner


def _comes_to(board: model.Board, region: Region, name: str, place: int) -> str:
    match region.kind:
        case "count":
            if place == 0:
                return f"{name} is back to none"
            reached = ", which is its limit" if place == len(region.places) - 1 else ""
            return f"{name} is at {place}{reached}"
        case "accumulator":
            return f"{name} is full" if place else f"{name} starts again from nothing"
        case "sequence":
            return f"{name} goes to {words.thing(board, region.places[place])}" if place else f"{name} is over"
        case "lockout":
            return f"{name} {'trips' if place else 'clears'}"
        case "toggle" | "output":
            return f"{name} {'comes on' if place else 'goes off'}"
    return f"{name} {'begins' if place else 'ends'}"

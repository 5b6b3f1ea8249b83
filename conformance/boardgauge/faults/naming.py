"""What the parts of a board are called in the names of faults.

Law of this module: words only; the title of a part where it has a short one, else its id, spoken.
"""

from __future__ import annotations

from boardgauge.faults.editing import Site
from boardgauge.language.expression_writer import write_expression
from boardgauge.language.expressions import Expression
from boardgauge.language.model import Board, Note, Sequence
from boardgauge.language.quantity_writer import write_plain_time

_LONGEST = 40

_DOES = {
    "begins": "the beginning of {}",
    "ends": "the end of {}",
    "cut_by": "what cuts {} short",
    "trips": "the tripping of {}",
    "clears": "the clearing of {}",
    "counts": "the counting of {}",
    "forgets": "the forgetting of {}",
    "adds_while": "the adding up of {}",
    "resets": "the resetting of {}",
    "flips": "the change of {}",
    "on": "{}",
    "starts": "the starting of {}",
    "stops": "the stopping of {}",
    "is": "{}",
}

SECTIONS = ("inputs", "settings", "conditions", "rules", "outputs", "lamps", "speed_ups")


def spoken(board: Board, name: str) -> str:
    """Give what a part of a board is called."""
    for section in SECTIONS:
        table = getattr(board, section).get(name)
        if table is not None:
            note: Note = table.note
            for words in (note.title, note.text if section == "outputs" else None):
                if words is not None and len(words) <= _LONGEST:
                    return words.split(",")[0]
    return name.replace("_", " ")


def of_site(board: Board, site: Site) -> str:
    """Give what an expression of a board decides."""
    if site.section == "lamps":
        return f"line {site.index + 1} of lamp {spoken(board, site.id)}"
    if site.key == "until":
        rule = board.rules[site.id]
        assert isinstance(rule, Sequence)
        return f"the end of {rule.steps[site.index].name.replace('_', ' ')}"
    return _DOES[site.key].format(spoken(board, site.id))


def clause_of(board: Board, section: str, name: str, index: int = -1) -> str | None:
    """Give the clause of a table, or of a line of a lamp."""
    table = getattr(board, section)[name]
    if section == "lamps" and index >= 0 and table.lines[index].clause is not None:
        return str(table.lines[index].clause)
    note: Note = table.note
    return note.clause


def written(expression: Expression, board: Board) -> str:
    """Give an expression as the spec has it, in quotation marks."""
    return f"'{write_expression(expression, board.tolerance)}'"


def time(micros: int) -> str:
    """Give a time as a spec writes it."""
    return write_plain_time(micros)

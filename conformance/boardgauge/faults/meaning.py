"""Tell whether two edited boards are the same board, said differently.

Law of this module: named conditions are put in where they are named and constants are worked out; then boards are the
same if every table says the same. Notes and places say nothing. Boards that differ here may still behave alike.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterator
from typing import Any

from attrs import define, field, fields

from boardgauge.faults.editing import sites
from boardgauge.faults.folding import folded, replaced
from boardgauge.language.expressions import Expression, Name
from boardgauge.language.model import Board, NamedCondition, Sequence

_EXPRESSIONS = {
    "begins", "ends", "cut_by", "trips", "clears", "counts", "forgets", "adds_while", "resets", "flips",
    "on", "starts", "stops", "note", "at", "steps", "lines",
}  # fmt: skip
"""The fields that are compared as expressions, or say nothing."""


@define
class Meanings:
    """Gives the meaning of a board, and of edits of it, in a form to compare."""

    board: Board
    _numbers: dict[Expression, int] = field(factory=dict)
    _known: dict[int, tuple[Expression, int]] = field(factory=dict)
    _rows: dict[int, tuple[object, Hashable]] = field(factory=dict)

    def of(self, board: Board) -> Hashable:
        """Give the meaning of a board."""
        inlined = _Inlined(board.conditions)
        same = board.conditions is self.board.conditions
        said = tuple(
            (site.section, site.id, site.key, site.index, self._number(site.expression, inlined, same))
            for site in sites(board)
            if site.section != "conditions"
        )
        speed_ups = tuple(
            (row.id, self._number(row.while_, inlined, same), row.times_faster, row.what)
            for row in board.speed_ups.values()
        )
        tables = tuple(self._row(row) for row in _tables(board))
        return board.clock, said, speed_ups, tables, tuple(board.settings.values()), tuple(board.requirements)

    def _number(self, expression: Expression, inlined: _Inlined, same: bool) -> int:
        # Most expressions of an edited board are the very objects of the board that was edited.
        known = self._known.get(id(expression)) if same else None
        if known is not None and known[0] is expression:
            return known[1]
        number = self._numbers.setdefault(folded(inlined.put_in(expression)), len(self._numbers))
        if same:
            self._known[id(expression)] = (expression, number)
        return number

    def _row(self, row: object) -> Hashable:
        known = self._rows.get(id(row))
        if known is not None and known[0] is row:
            return known[1]
        said = _row(row)
        self._rows[id(row)] = (row, said)
        return said


def _tables(board: Board) -> Iterator[object]:
    for table in (board.inputs, board.rules, board.outputs, board.lamps):
        yield from table.values()


def _row(row: Any) -> Hashable:
    said: list[Hashable] = [type(row).__name__]
    said += [getattr(row, a.name) for a in fields(type(row)) if a.name not in _EXPRESSIONS]
    if isinstance(row, Sequence):
        said += [(step.name, step.then, step.lasts, step.if_not) for step in row.steps]
    elif hasattr(row, "lines"):
        said += [line.shows for line in row.lines]
    return tuple(said)


@define
class _Inlined:
    """Puts named conditions in where they are named."""

    conditions: dict[str, NamedCondition]
    _done: dict[str, Expression] = field(factory=dict)

    def put_in(self, expression: Expression) -> Expression:
        return replaced(expression, self._change)

    def _change(self, expression: Expression) -> Expression | None:
        if not isinstance(expression, Name) or expression.name not in self.conditions:
            return None
        if expression.name not in self._done:
            self._done[expression.name] = replaced(self.conditions[expression.name].is_, self._change)
        return self._done[expression.name]

"""What the inputs of a machine may be, together, and which of it anything reads.

Law of this module: an input may do anything, but the comparisons of one sensor hang together: no reading is below one
limit and above a higher one. Each limit may be off by the sensor's accuracy, every one in a way of its own.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction
from itertools import pairwise, product

from boardgauge.language import expressions as ex
from boardgauge.language.model import Board
from boardgauge.language.quantities import Quantity
from boardgauge.language.units import difference_in_unit, in_unit
from boardgauge.machine.compile import expressions_of
from boardgauge.machine.table import Level, Machine

Ways = list[tuple[tuple[int, ...], list[tuple[bool, ...]]]]
"""For each input its levels and the values they can have together."""


def levels_read(machine: Machine) -> tuple[bool, ...]:
    """Tell of each level whether a rule, an output or a lamp reads it (and not a setting or a watch alone)."""
    board = machine.board
    roots = [e for owner, e in expressions_of(board) if owner in board.rules or owner in board.outputs]
    roots += [line.when for lamp in board.lamps.values() for line in lamp.lines if line.when is not None]
    return _levels_in(machine, roots)


def levels_watched(machine: Machine) -> tuple[tuple[bool, ...], tuple[bool, ...]]:
    """Tell of each level whether anything reads it at any time, and whether something reads it at power-up only."""
    board = machine.board
    at_first = {row.id for row in board.settings.values() if row.read == "at power-up"}
    rows = [(o, e) for o, e in expressions_of(board) if o not in board.conditions and o != "not_judged"]
    always = _levels_in(machine, [e for owner, e in rows if owner not in at_first])
    first = _levels_in(machine, [e for owner, e in rows if owner in at_first])
    return always, tuple(a and not b for a, b in zip(first, always, strict=True))


def without_speed_ups(machine: Machine) -> tuple[bool, ...]:
    """Tell of each level whether anything reads it at any time that is not a speed-up or a setting."""
    board = machine.board
    others = {*board.conditions, *board.speed_ups, *board.settings, "not_judged"}
    return _levels_in(machine, [e for owner, e in expressions_of(board) if owner not in others])


def _levels_in(machine: Machine, expressions: Iterable[ex.Expression]) -> tuple[bool, ...]:
    """Tell of each level whether some expressions name it, conditions seen through."""
    conditions = machine.board.conditions
    found: set[str | ex.Comparison] = set()
    waiting = list(expressions)
    while waiting:
        for node in ex.walk(waiting.pop()):
            if isinstance(node, ex.Comparison):
                found.add(node)
            elif isinstance(node, (ex.Name, ex.InState)) and node.name not in found:
                found.add(node.name)
                if node.name in conditions:
                    waiting.append(conditions[node.name].is_)
    return tuple((level.input if level.comparison is None else level.comparison) in found for level in machine.levels)


def ways_of_inputs(machine: Machine) -> Ways:
    """Give for each input that is read its levels and the values they can have together, in the order of the ids.

    The comparisons of one sensor hang together: 20 °C is never below -2 °C, unless it is off by 22 K.
    """
    return ways_together(machine, levels_read(machine))


def ways_together(machine: Machine, read: tuple[bool, ...]) -> Ways:
    """Give the same for the levels told to be read."""
    by_input: dict[str, list[Level]] = {}
    for level in machine.levels:
        if read[level.index]:
            by_input.setdefault(level.input, []).append(level)
    ways = []
    for name in sorted(by_input):
        rows = sorted(by_input[name], key=lambda row: repr(row.comparison))
        values = [v for v in product((False, True), repeat=len(rows)) if _possible(machine.board, rows, v)]
        ways.append((tuple(row.index for row in rows), values))
    return ways


def _possible(board: Board, rows: list[Level], values: tuple[bool, ...]) -> bool:
    """Tell whether one reading of the sensor can leave its comparisons so, each with its hysteresis and its limit off
    by as much as the sensor's accuracy."""
    comparisons = [row.comparison for row in rows if row.comparison is not None]
    if len(comparisons) < 2:
        return True
    row = board.inputs[rows[0].input]
    unit = row.unit or comparisons[0].limit.unit
    off = Fraction(0) if row.accuracy is None else difference_in_unit(row.accuracy, unit).number
    limits = _limits(comparisons, unit)
    return any(
        all(
            _may_be(c, value, Quantity(reading - off, unit)) or _may_be(c, value, Quantity(reading + off, unit))
            for c, value in zip(comparisons, values, strict=True)
        )
        for reading in _standing_for_all({*limits, *(n - off for n in limits), *(n + off for n in limits)})
    )


def _limits(comparisons: Iterable[ex.Comparison], unit: str) -> set[Fraction]:
    return {in_unit(q, unit).number for c in comparisons for q in (c.limit, c.until) if q is not None}


def _standing_for_all(limits: Iterable[Fraction]) -> list[Fraction]:
    """Give a number in each stretch between the limits, then the limits."""
    rows = sorted(limits)
    return [rows[0] - 5, *((a + b) / 2 for a, b in pairwise(rows)), rows[-1] + 5, *rows]


def readings_of(board: Board, rows: Sequence[Level]) -> list[Quantity]:
    """Give readings of a sensor that stand for all: one in each stretch between its limits, then the limits.

    ``rows`` are the levels of one sensor, one at least.
    """
    comparisons = [row.comparison for row in rows if row.comparison is not None]
    unit = board.inputs[rows[0].input].unit or comparisons[0].limit.unit
    return [Quantity(number, unit) for number in _standing_for_all(_limits(comparisons, unit))]


def comes_out(comparison: ex.Comparison, held: bool, reading: Quantity) -> bool:
    """Tell whether a comparison holds at a reading, having held or not before."""
    if held and comparison.until is not None and comparison.until_op is not None:
        return not _compares(reading, comparison.until_op, comparison.until)
    return _compares(reading, comparison.op, comparison.limit)


def _may_be(comparison: ex.Comparison, value: bool, reading: Quantity) -> bool:
    if value:
        if comparison.until is None or comparison.until_op is None:
            return _compares(reading, comparison.op, comparison.limit)
        return not _compares(reading, comparison.until_op, comparison.until)
    return not _compares(reading, comparison.op, comparison.limit)


def _compares(reading: Quantity, op: str, limit: Quantity) -> bool:
    number = in_unit(limit, reading.unit).number
    return {
        "<": reading.number < number,
        "<=": reading.number <= number,
        ">": reading.number > number,
        ">=": reading.number >= number,
    }[op]

"""Find what a sensor has to measure for its comparisons to stand in a given way.

Law of this module: a reading lies well off every limit, as far as there is room, so that no error of the sensor counts.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import pairwise

from boardgauge.language import expressions as ex
from boardgauge.language.model import Board
from boardgauge.language.quantities import Quantity
from boardgauge.language.units import in_unit
from boardgauge.machine.table import Level

_WELL_OFF = 5


def reading(board: Board, rows: Sequence[Level], now: Sequence[bool], wanted: Sequence[bool]) -> Fraction | None:
    """Give a reading that brings the comparisons of one sensor from ``now`` to ``wanted``, None where none does."""
    for value in _candidates(board, rows):
        after = [_holds(board, row, value, held) for row, held in zip(rows, now, strict=True)]
        if after == list(wanted):
            return value
    return None


def quiet(board: Board, rows: Sequence[Level]) -> Fraction:
    """Give the reading at which the fewest comparisons of a sensor hold: the one to begin with."""
    return min(_candidates(board, rows), key=lambda value: sum(_holds(board, row, value, False) for row in rows))


def _candidates(board: Board, rows: Sequence[Level]) -> Iterator[Fraction]:
    unit = board.inputs[rows[0].input].unit or ""
    comparisons = [row.comparison for row in rows if row.comparison is not None]
    limits = sorted({in_unit(q, unit).number for c in comparisons for q in (c.limit, c.until) if q is not None})
    wide = max(limits[-1] - limits[0], Fraction(1))
    off = max(Fraction(1), wide / _WELL_OFF)
    between = [(a + b) / 2 for a, b in pairwise(limits)]
    yield from sorted(between, key=lambda value: -min(abs(value - limit) for limit in limits))
    yield limits[0] - off
    yield limits[-1] + off
    yield from limits


def _holds(board: Board, row: Level, value: Fraction, held: bool) -> bool:
    comparison = row.comparison
    assert comparison is not None, "only a sensor has readings"
    unit = board.inputs[row.input].unit or ""
    if held and comparison.until is not None and comparison.until_op is not None:
        return not _compares(value, comparison.until_op, comparison.until, unit)
    return _compares(value, comparison.op, comparison.limit, unit)


def _compares(value: Fraction, op: ex.Comparator, limit: Quantity, unit: str) -> bool:
    number = in_unit(limit, unit).number
    return {"<": value < number, "<=": value <= number, ">": value > number, ">=": value >= number}[op]

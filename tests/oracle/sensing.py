"""Sensors as the comparisons that a board makes of them.

Law of this module: what a board knows of a sensor is whether each comparison holds. So each comparison becomes an input
of its own, with the sensor's filter and response; those of one sensor change as the sensor does.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import pairwise
from typing import Any

import attrs
from attrs import evolve, frozen

from boardgauge.language import expressions as ex
from boardgauge.language.model import Board, Input, InputKind
from boardgauge.language.units import difference_in_unit, in_unit

Side = bool | None
"""Whether a comparison holds; None: the value is within the accuracy of its limit."""


@frozen
class Sensed:
    """A comparison as an input: how it is called, of which sensor, and what it compares with."""

    name: str
    sensor: str
    comparison: ex.Comparison


def comparisons(board: Board) -> tuple[Sensed, ...]:
    """Give every comparison of a board."""
    found = dict.fromkeys(node for node in _nodes(board) if isinstance(node, ex.Comparison))
    return tuple(Sensed(f"compared {n}", node.name, node) for n, node in enumerate(found))


def edges(board: Board) -> bool:
    """Tell whether some event is one of a comparison: how it stood before the power-up then matters."""
    found = [node for node in _nodes(board) if isinstance(node, ex.Edge | ex.For)]
    return any(isinstance(inner, ex.Comparison) for node in found for inner in ex.walk(node))


def _nodes(value: Any) -> Iterator[Any]:
    if attrs.has(type(value)):
        yield value
        for part in attrs.fields(type(value)):
            yield from _nodes(getattr(value, part.name))
    elif isinstance(value, Mapping):
        for inner in value.values():
            yield from _nodes(inner)
    elif isinstance(value, tuple):
        for inner in value:
            yield from _nodes(inner)


def without_sensors(board: Board, sensed: Sequence[Sensed], resting: Sequence[bool]) -> Board:
    """Give the board with an input for each comparison, at rest as said."""
    names = {row.comparison: row.name for row in sensed}
    inputs = {name: row for name, row in board.inputs.items() if row.kind is not InputKind.SENSOR}
    for row, rests in zip(sensed, resting, strict=True):
        sensor = board.inputs[row.sensor]
        contact = "normally closed" if rests else "normally open"
        inputs[row.name] = Input(row.name, InputKind.SWITCH, sensor.filter, sensor.responds_within, contact)
    changed: Board = _changed(evolve(board, inputs={}), names)
    return evolve(changed, inputs=inputs)


def _changed(value: Any, names: Mapping[ex.Comparison, str]) -> Any:
    if isinstance(value, ex.Comparison):
        return ex.InState(names[value], "closed")
    if attrs.has(type(value)):
        parts = {p.alias: _changed(getattr(value, p.name), names) for p in attrs.fields(type(value)) if p.init}
        return type(value)(**parts)
    if isinstance(value, dict):
        return {key: _changed(inner, names) for key, inner in value.items()}
    return tuple(_changed(inner, names) for inner in value) if isinstance(value, tuple) else value


def levels(board: Board, row: Sensed, values: Sequence[tuple[int, Fraction]]) -> Iterator[tuple[tuple[int, Side], ...]]:
    """Give every way in which a comparison may have gone, from the values of its sensor; None: either, at any time."""
    sensor = board.inputs[row.sensor]
    sides = [(time, _side(row.comparison, value, sensor)) for time, value in values]
    if row.comparison.until is None:
        yield tuple((time, None if side == "either" else side == "holds") for time, side in sides)
        return
    yield from dict.fromkeys(_remembered(_merged(sides), sensor.filter.greatest))


def _merged(sides: Sequence[tuple[int, str]]) -> list[tuple[int, str]]:
    return [row for before, row in pairwise([(0, ""), *sides]) if row[1] != before[1]]


def _side(comparison: ex.Comparison, value: Fraction, sensor: Input) -> str:
    assert sensor.unit is not None
    accuracy = Fraction(0) if sensor.accuracy is None else difference_in_unit(sensor.accuracy, sensor.unit).number
    holds = _beyond(comparison.op, value, in_unit(comparison.limit, sensor.unit).number, accuracy)
    if comparison.until is None or comparison.until_op is None:
        return "either" if holds is None else "holds" if holds else "lets go"
    goes = _beyond(comparison.until_op, value, in_unit(comparison.until, sensor.unit).number, accuracy)
    if holds:
        return "holds"
    if goes:
        return "lets go"
    return "between" if holds is False and goes is False else "either"


def _beyond(op: str, value: Fraction, limit: Fraction, accuracy: Fraction) -> Side:
    tell = {"<": value.__lt__, "<=": value.__le__, ">": value.__gt__, ">=": value.__ge__}[op]
    found = {bool(tell(limit - accuracy)), bool(tell(limit + accuracy))}
    return found.pop() if len(found) == 1 else None


def _remembered(
    sides: Sequence[tuple[int, str]], sees: int, before: bool = False
) -> Iterator[tuple[tuple[int, Side], ...]]:
    """Give the ways of a comparison with two limits, which keeps between them what it was.

    What is beyond a limit so short a time that a filter may hold it back, and then between them, is remembered or not;
    if it is, from when it came or from when it was over.
    """
    if not sides:
        yield ()
        return
    (time, side), rest = sides[0], sides[1:]
    between = bool(rest) and rest[0][1] == "between"
    now = {"holds": True, "lets go": False}.get(side, before)
    ways: list[tuple[Side, bool]] = [(now, now)]
    if side == "either":
        ways = [(None, True), (None, False)] if between else [(None, before)]
    elif between and now is not before and rest[0][0] - time <= sees:
        ways = [(now, now), (now, before), (before, now)]
    for here, onward in ways:
        for further in _remembered(rest, sees, onward):
            yield ((time, here), *further)

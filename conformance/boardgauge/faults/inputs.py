"""Faults of inputs: stuck, two leads crossed, the filter missing, a sensor that reads off; a speed-up that is stuck.

Law of this module: an input that is stuck stands so from power-up on, and the board acts on what it then sees begin: a
call that is stuck on begins with the supply.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from itertools import combinations

from attrs import evolve

from boardgauge.faults.editing import STATES, everywhere, with_table
from boardgauge.faults.fault import Fault
from boardgauge.faults.folding import ALWAYS, NO_EVENT, constant
from boardgauge.faults.naming import clause_of, spoken
from boardgauge.language.expressions import (
    Comparison,
    Edge,
    EdgeWord,
    Expression,
    InState,
    Name,
    PowerUp,
)
from boardgauge.language.model import Board, Input, InputKind
from boardgauge.language.quantities import Quantity, TimeRange
from boardgauge.language.units import difference_in_unit

_COMES: tuple[EdgeWord, ...] = ("begins", "closes")


def input_faults(board: Board) -> Iterator[Fault]:
    """Give the faults of every input."""
    for row in board.inputs.values():
        if row.kind is InputKind.SENSOR:
            yield from _of_sensor(board, row)
        else:
            yield from _of_contact(board, row)
        if row.filter.greatest:
            new = evolve(row, filter=TimeRange())
            name = f"input {row.id} is not filtered: every flicker counts"
            yield _fault(board, row, "no-filter", name, "input not filtered", with_table(board, "inputs", row.id, new))
    contacts = [row for row in board.inputs.values() if row.kind is not InputKind.SENSOR]
    for a, b in combinations(contacts, 2):
        if a.kind is b.kind or {a.kind, b.kind} == {InputKind.CALL, InputKind.SIGNAL}:
            name = f"leads of inputs {a.id} and {b.id} crossed"
            yield _fault(board, a, f"crossed.{b.id}", name, "input leads crossed", _crossed(board, a, b))


def _fault(board: Board, row: Input, how: str, name: str, group: str, edited: Board) -> Fault:
    return Fault(f"{row.id}.{how}", name, group, row.id, clause_of(board, "inputs", row.id), edited)


def _of_contact(board: Board, row: Input) -> Iterator[Fault]:
    for level, state in zip((True, False), STATES[row.kind], strict=True):
        name = f"input {row.id} stuck {state}"
        yield _fault(board, row, f"stuck-{state}", name, "input stuck", _stuck(board, row, level))


def _stuck(board: Board, row: Input, level: bool) -> Board:
    closed_words = STATES[row.kind][0]

    def change(expression: Expression) -> Expression | None:
        match expression:
            case Edge(of=Name(name=row.id), word=word) | Edge(of=InState(name=row.id), word=word):
                closes = word in _COMES
                if isinstance(expression.of, InState) and expression.of.state != closed_words:
                    closes = not closes
                # At power-up an input that does not stand at rest has come there.
                came = level != row.rests_on and (word == "changes" or closes == level)
                return PowerUp() if came else NO_EVENT
            case Name(name=row.id):
                return constant(level)
            case InState(name=row.id, state=state):
                return constant((state == closed_words) == level)
        return None

    return everywhere(board, change)


def _crossed(board: Board, a: Input, b: Input) -> Board:
    other = {a.id: b, b.id: a}

    def change(expression: Expression) -> Expression | None:
        match expression:
            case Name(name=name) if name in other:
                return Name(other[name].id)
            case InState(name=name, state=state) if name in other:
                new = other[name]
                if state in STATES[new.kind]:
                    return InState(new.id, state)
                return InState(new.id, STATES[new.kind][STATES[board.inputs[name].kind].index(state)])
        return None

    edited = everywhere(board, change)
    for row, new in ((a, b), (b, a)):
        taken = evolve(row, filter=new.filter, responds_within=new.responds_within)
        edited = with_table(edited, "inputs", row.id, taken)
    return edited


# -- sensors -----------------------------------------------------------------------------------------------------------


def _of_sensor(board: Board, row: Input) -> Iterator[Fault]:
    for how, high in (("low", False), ("high", True)):

        def at_the_end(expression: Expression, high: bool = high) -> Expression | None:
            if isinstance(expression, Comparison) and expression.name == row.id:
                return constant((expression.op in (">", ">=")) == high)
            return None

        name = f"sensor {row.id} reads as far {how} as it can, whatever it measures"
        yield _fault(board, row, f"stuck-{how}", name, "input stuck", everywhere(board, at_the_end))
    off = _much(row)
    for how, sign in (("high", 1), ("low", -1)):
        # How far off is for a simulation; a diagnosis leaves it open.
        name = f"sensor {row.id} reads too {how}"
        edited = reading_off(board, row.id, sign * off)
        yield _fault(board, row, f"reads-{how}", name, "sensor reads off", edited)


def reading_off(board: Board, sensor: str, by: Fraction) -> Board:
    """Give the board whose sensor reads too much by so many of its units (too little, if it is negative)."""

    def shifted(expression: Expression) -> Expression | None:
        if isinstance(expression, Comparison) and expression.name == sensor:
            # What reads too high comes to a limit sooner.
            until = None if expression.until is None else _moved(expression.until, -by)
            return evolve(expression, limit=_moved(expression.limit, -by), until=until)
        return None

    return everywhere(board, shifted)


def _much(row: Input) -> Fraction:
    """Give how far a sensor that reads off is off in a simulation: well beyond its accuracy."""
    assert row.unit is not None
    accuracy = Fraction(0) if row.accuracy is None else difference_in_unit(row.accuracy, row.unit).number
    return 3 * accuracy + (3 if row.unit == "°C" else 5)


def unit_of_difference(row: Input) -> str:
    """Give the unit of a difference between two values of a sensor."""
    return "K" if row.unit == "°C" else str(row.unit)


def _moved(quantity: Quantity, by: Fraction) -> Quantity:
    return Quantity(quantity.number + by, quantity.unit)


# -- speed-ups ---------------------------------------------------------------------------------------------------------


def speed_up_faults(board: Board) -> Iterator[Fault]:
    """Give the faults of speed-ups: always on, without effect."""
    for id_, row in board.speed_ups.items():
        clause, name = row.note.clause, spoken(board, id_)
        stuck = with_table(board, "speed_ups", id_, evolve(row, while_=ALWAYS))
        yield Fault(f"{id_}.always", f"speed-up {name} is always on", "speed-up", id_, clause, stuck)
        left = {key: value for key, value in board.speed_ups.items() if key != id_}
        gone = evolve(board, speed_ups=left)
        yield Fault(f"{id_}.without-effect", f"speed-up {name} has no effect", "speed-up", id_, clause, gone)

"""List the faults of a board.

Law of this module: no fault is listed by hand; two that give the same board, once named conditions are put in and
constants worked out, are listed once. What does not pass the checks of the language is no machine and is left out.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterator
from functools import lru_cache
from hashlib import sha256

from attrs import evolve

from boardgauge.faults.conditions import condition_faults
from boardgauge.faults.editing import declared
from boardgauge.faults.fault import Fault
from boardgauge.faults.inputs import input_faults, speed_up_faults
from boardgauge.faults.lamps import lamp_faults
from boardgauge.faults.meaning import Meanings
from boardgauge.faults.outputs import output_faults
from boardgauge.faults.rules import rule_faults
from boardgauge.faults.timings import clock_faults, setting_faults, timing_faults
from boardgauge.language import check
from boardgauge.language.model import Board, Together
from boardgauge.language.problems import nearest_of

_SOURCES = (
    output_faults,
    lamp_faults,
    input_faults,
    setting_faults,
    clock_faults,
    timing_faults,
    rule_faults,
    speed_up_faults,
    condition_faults,
)


class UnknownFault(LookupError):
    """A board has no fault of this id; the message says which is most like it."""


def faults_of(board: Board) -> tuple[Fault, ...]:
    """Give the single faults of a board, each once, the likelier kinds first; ids are unique.

    Requirements have no faults: they say what a board must do, and do nothing.
    """
    return _listed(_Same(board))


class _Same:
    """A board, known by being the same object, so that its faults are worked out once."""

    def __init__(self, board: Board) -> None:
        self.board = board

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Same) and other.board is self.board

    def __hash__(self) -> int:
        return id(self.board)


@lru_cache(maxsize=8)
def _listed(same: _Same) -> tuple[Fault, ...]:
    board = same.board
    bare = unwatched(board)
    meanings = Meanings(bare)
    seen: dict[Hashable, str] = {meanings.of(bare): ""}
    found: dict[str, Fault] = {}
    alike: dict[str, list[str]] = {}
    places: dict[str, int] = {}
    for fault in _all(bare):
        meaning = meanings.of(fault.board)
        if meaning in seen:
            alike.setdefault(seen[meaning], []).append(fault.name)
            continue
        edited = declared(fault.board)
        if check(edited):
            continue
        id_ = fault.id
        while id_ in found:
            id_ += "+"
        seen[meaning] = id_
        # One part may stand twice in an expression.
        places[fault.name] = places.get(fault.name, 0) + 1
        again = "" if places[fault.name] == 1 else f" (in place {places[fault.name]} of these words)"
        found[id_] = evolve(
            fault,
            id=id_,
            name=fault.name + again,
            board=_signed(edited, board, id_),
            any_size=None if fault.any_size is None else _signed(declared(fault.any_size), board, f"{id_} of any size"),
        )
    return tuple(evolve(fault, alike=tuple(alike.get(id_, ()))) for id_, fault in found.items())


def _all(board: Board) -> Iterator[Fault]:
    for source in _SOURCES:
        yield from source(board)


def _signed(edited: Board, board: Board, id_: str) -> Board:
    return evolve(edited, digest=sha256(f"{board.digest} {id_}".encode()).hexdigest())


def unwatched(board: Board) -> Board:
    """Give the board without the requirements that only watch: a fault may break them, and is not judged by them."""
    kept = {id_: row for id_, row in board.requirements.items() if isinstance(row.demand, Together)}
    return evolve(board, requirements=kept)


def fault_of(board: Board, id_: str) -> Fault:
    """Give the fault of an id. Raises UnknownFault."""
    faults = faults_of(board)
    for fault in faults:
        if fault.id == id_:
            return fault
    near = nearest_of(id_, [fault.id for fault in faults])
    hint = f"; did you mean {near!r}?" if near else ""
    raise UnknownFault(f"{board.id} has no fault {id_!r}{hint} (boardgauge faults lists those of a board)")

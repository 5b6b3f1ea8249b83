"""Write a board as C99.

Law of this module: it puts the parts together, in the order in which C wants them. The same board gives the same text.
"""

from __future__ import annotations

from collections.abc import Iterator
from importlib.metadata import version

from boardgauge.exports.c99.adapter import adapter
from boardgauge.exports.c99.clockwork import Clockwork
from boardgauge.exports.c99.comments import block
from boardgauge.exports.c99.header import header
from boardgauge.exports.c99.instants import Instants
from boardgauge.exports.c99.logic import CLogic
from boardgauge.exports.c99.picture import picture_functions, picture_types
from boardgauge.exports.c99.shape import Shape
from boardgauge.exports.c99.steps import Steps
from boardgauge.exports.c99.timings import Timings, made_type
from boardgauge.language.model import Board

TICK = 1_000
LONGEST_TICK = 1_000_000


def write_c(board: Board, tick: int = TICK, *, filtered: bool = True, for_rig: bool = False) -> dict[str, str]:
    """Give a board as C99: the names of its files with their text.

    ``tick`` is the length of a tick in microseconds. ``filtered``: the program waits out the filter of the spec before
    it takes in a change of an input; without, it takes in what it is given at once. ``for_rig``: with the file that
    makes it firmware for a rig. Raises CannotExport, with the place, for what cannot be written.
    """
    if not 1 <= tick <= LONGEST_TICK:
        raise ValueError(f"a tick lasts from one microsecond to one second, not {tick} microseconds")
    shape = Shape(board, tick, filtered)
    name = shape.prefix
    files = {f"{name}.h": header(shape, version("boardgauge")), f"{name}.c": "\n".join(_source(shape)) + "\n"}
    return {**files, f"{name}_rig.c": adapter(shape)} if for_rig else files


def _source(shape: Shape) -> Iterator[str]:
    logic, p = CLogic(shape), shape.prefix
    instants, timings = Instants(shape, logic), Timings(shape, logic)
    yield from block([f"{shape.board.id}: {shape.board.title}", "", f"What it is and how to use it stands in {p}.h."])
    yield f'#include "{p}.h"'
    yield ""
    yield f"typedef {p}_state board_state;"
    yield f"typedef {p}_ticks ticks;"
    yield ""
    yield from picture_types(shape)
    yield ""
    yield from made_type(shape)
    yield ""
    yield from picture_functions(shape)
    yield from timings.on_the_settled_picture()
    yield from timings.taken_over()
    yield from instants.lines()
    yield from instants.instant()
    yield from instants.settle()
    yield from Clockwork(shape, logic).functions()
    yield from Steps(shape, logic).functions()

"""What of a spec can ever come about: every place, move, line of a lamp and end of a timing.

Law of this module: *never* is said only where everything the board can do was explored, *can* only with a way whose
moments the timings allow. What neither is shown of is told as such.

Everything is looked for at once with no timing followed, until it was found or all was explored. A way found so that
the lengths of timings rule out is looked for again, with those followed that rule it out.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal

from attrs import evolve, frozen

from boardgauge.language.model import Board
from boardgauge.machine.compile import compile_board
from boardgauge.machine.settle import Engine
from boardgauge.proving.folding import Folds, folds_of
from boardgauge.proving.looking import Item as Item
from boardgauge.proving.looking import Look
from boardgauge.proving.moments import ruled_out_by
from boardgauge.proving.noticing import Noticing
from boardgauge.proving.space import Space, way_to
from boardgauge.proving.timed import JOINED_AT_LAST, MOST_ZONES, explore_timed

_ROUNDS = 8
_HOW = ((1, True), (JOINED_AT_LAST, True), (1, False))
"""More than so many zones of a place are joined, and whether ways of the inputs count as one: the next is tried where
one finds only ways that lengths rule out."""


@frozen
class Reached:
    """What came of looking: ``can`` it come about, can it not, or is neither shown; ``why`` says what rules it out."""

    item: Item
    verdict: Literal["can", "never", "undecided"]
    why: str = ""


@frozen
class Reachable:
    """What a board can come to. ``locked`` are the rules that only a loss of power leads out of."""

    items: tuple[Reached, ...]
    locked: tuple[str, ...]
    stuck: tuple[str, ...]
    explored: int
    complete: bool


def reachable_parts(
    board: Board, limit: int = MOST_ZONES, folded: bool = True, progress: Callable[[int, int], None] | None = None
) -> Reachable:
    """Look for everything a spec speaks of. ``limit`` is the most zones kept in one exploration; ``folded`` lets ways
    of the inputs count as one where that can be; ``progress`` is told how far each exploration is."""
    bare = evolve(board, requirements={}, not_judged=())
    engine = Engine(compile_board(bare))
    look = Look(engine)
    verdicts: dict[Item, Reached] = {}
    left = list(look.items)
    timed: frozenset[int] = frozenset()
    made = folds_of(engine, True, timed) if folded else None
    how = list(_HOW)

    def look_for() -> Space:
        look.wanted = set(left)
        joined, fold = how[0]
        folds = made if fold and Folds.serves(engine, timed) else None
        noticing = None if folds is None else Noticing(look, folds)
        return explore_timed(
            engine,
            look.all_seen(left),
            look.see,
            limit,
            progress,
            joined,
            True,
            timed,
            True,
            folds=folds,
            noticing=noticing,
        )

    ways = look_for()
    zones, complete = ways.zones, ways.complete
    locked, stuck = look.no_way_back() if complete else ((), ())
    for _ in range(_ROUNDS):
        left, blamed = _sorted_out(engine, look, left, ways, timed, verdicts)
        if not blamed - timed:
            how.pop(0)
        if not left or not how:
            break
        timed |= blamed
        look.came.clear()
        ways = look_for()
        zones += ways.zones
    for item in left:
        verdicts[item] = Reached(item, "undecided", "a way there was found, but no moments for it")
    return Reachable(tuple(verdicts[item] for item in look.items), locked, stuck, zones, complete)


def _sorted_out(
    engine: Engine, look: Look, items: list[Item], space: Space, timed: frozenset[int], verdicts: dict[Item, Reached]
) -> tuple[list[Item], frozenset[int]]:
    """Sort out what is shown of some items; give the others, and the timings that rule their ways out."""
    left: list[Item] = []
    blamed: frozenset[int] = frozenset()
    for item in items:
        came = look.came.get(item)
        if came is None and not space.complete:
            verdicts[item] = Reached(item, "undecided", _not_all(space))
        elif came is None:
            names = sorted(engine.machine.timings[index].name for index in timed)
            why = "the times of " + " and ".join(names) + " rule it out" if names else ""
            verdicts[item] = Reached(item, "never", why)
        else:
            found = ruled_out_by(engine, *way_to(space, came))
            if found is not None and not found:
                verdicts[item] = Reached(item, "can")
            else:
                left.append(item)
                blamed |= found or frozenset()
    return left, blamed


def _not_all(space: Space) -> str:
    if not space.whole:
        return "not all that may happen at one moment was explored"
    return f"not all was explored ({space.zones} zones)"

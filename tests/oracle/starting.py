"""How a board may stand as a recording begins.

Law of this module: of a board of which nothing is known, every standing is tried that some order of things leads to,
whatever the time between them; a timing that runs began at any moment before.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations, product
from typing import TYPE_CHECKING, Any

from attrs import evolve

from boardgauge.language.model import Accumulator
from oracle import lamps
from oracle.due import POWER, Known
from oracle.look import Key, Refused
from oracle.paths import Change, Command, Path
from oracle.reals import Going
from oracle.standing import Standing

if TYPE_CHECKING:
    from oracle.acting import Acting

MOST_STANDINGS = 400
MOST_INPUTS = 5


def starts(search: Acting) -> Iterator[tuple[Path, list[Any]]]:
    """Give the paths that a search sets out on, with what must be so of them."""
    trace, board = search.trace, search.board
    levels = {name: trace.signals[name][0][1] for name in board.inputs}
    masked = dict.fromkeys(trace.unseen, trace.end + 1)
    queues: dict[str, tuple[Command, ...]] = dict.fromkeys(board.outputs, ())
    if trace.from_power_up:
        off = search.known.works.off()
        yield Path(off, 0, {}, {}, queues, levels, masked=masked), []
        return
    shown = frozenset(name for name in board.outputs if trace.signals[name][0][1])
    for standing in reachable(search.known):
        path = Path(standing, 0, {}, {}, queues, levels, shown, asleep=False, masked=masked)
        yield from _begun(search, path)


def _begun(search: Acting, path: Path) -> Iterator[tuple[Path, list[Any]]]:
    board, standing, demands = search.board, path.standing, []
    pending, queues, levels, shown = [], dict(path.queues), dict(path.levels), path.shown
    for name in board.inputs:
        stood = name in standing.held
        if name in search.trace.free and search.trace.free[name][0][0] <= 0:
            levels[name] = stood
        elif levels[name] != stood:
            raw = search.real()
            demands += [raw <= 0, raw >= -search.responds(name)]
            if not search.responds(name):
                return
            pending.append(Change(name, levels[name], raw))
    for name, output in board.outputs.items():
        on = name in standing.held
        if name in search.trace.unseen:
            shown = shown | {name} if on else shown - {name}
        elif on != (name in shown):
            if not output.lag:
                return
            act = search.real()
            demands += [act <= 0, act + output.lag >= 0]
            queues[name] = (Command(on, act, act + output.lag, (act + output.lag,)),)
    going, filling = {}, {}
    search.solver.push()
    for key in sorted(standing.running, key=str):
        origin = search.real()
        going[key] = search.start(key, origin, standing)
        demands += [origin <= 0, going[key].end >= 0]
    for sort, name, place in list(going):
        newer: Key = (sort, name, place - 1)  # type: ignore[assignment]
        if newer in going:
            demands.append(going[sort, name, place].origin <= going[newer].origin)  # type: ignore[index]
    for name, rule in board.rules.items():
        if isinstance(rule, Accumulator):
            held, has = search.empty(name, standing), search.real()
            filling[name] = evolve(held, has=has)
            demands += [has >= 0, has <= held.target]
            if name in standing.adding:
                going["target", name, 0] = Going(0, held.target - has, held.greatest - has)
    look = search.known.works.glance(standing.held)
    lit = {
        name: (next(i for i, row in enumerate(lamp.lines) if row.when is None or look.holds(row.when)),
               lamps.settles(lamp))
        for name, lamp in board.lamps.items()
        if name in search.trace.lamps
    }  # fmt: skip
    yield evolve(path, going=going, filling=filling, pending=tuple(pending), queues=queues, levels=levels,
                 shown=shown, lit=lit), demands  # fmt: skip
    search.solver.pop()


def reachable(known: Known) -> tuple[Standing, ...]:
    """Give every standing that a board can come to, whatever time passes between what happens to it."""
    works = known.works
    if len(works.board.inputs) > MOST_INPUTS:
        raise NotImplementedError("an unknown start of a board with many inputs")
    names = tuple(works.board.inputs)
    found: dict[Standing, None] = {}
    todo = [
        known.moment(works.off(), {POWER: True}, (), dict(zip(names, values, strict=True))).standing
        for values in product((False, True), repeat=len(names))
    ]
    while todo:
        standing = todo.pop()
        if standing in found:
            continue
        found[standing] = None
        if len(found) > MOST_STANDINGS:
            raise NotImplementedError("more standings than are tried")
        due: list[Any] = [*names, *standing.running, *(("target", name, 0) for name in sorted(standing.adding))]
        for number in (1, 2):
            for some in combinations(due, number):
                levels = {name: name not in standing.held for name in some if isinstance(name, str)}
                ended = [key for key in some if not isinstance(key, str)]
                try:
                    todo.append(known.moment(standing, levels, ended).standing)
                except Refused:
                    continue  # nothing says that these can come together
    return tuple(found)

"""What requirements demand of a moment that a board has been through.

Law of this module: a requirement looks at settled pictures and changes nothing but whether a way is one that may be.
Its times count from the moments at which the board acts.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import z3
from attrs import evolve

from boardgauge.language import expressions as ex
from boardgauge.language.model import Always, Board, Follows, Never, Together
from oracle.look import Look
from oracle.paths import Path
from oracle.reals import Real
from oracle.settling import Works
from oracle.standing import Outcome


def watched(works: Works, path: Path, outcome: Outcome, time: Real) -> tuple[Path, list[Any]] | None:
    """Give a path with what it has come to owe, and what must be so; None if something is that must not be."""
    demands: list[Any] = []
    owed, happened = dict(path.owed), dict(path.happened)
    for before, held, facts in outcome.pictures:
        look = evolve(works.glance(held), before=before, facts=facts)
        for name, requirement in works.board.requirements.items():
            if requirement.except_while is not None and look.holds(requirement.except_while):
                owed.pop(name, None)
                continue
            demand = requirement.demand
            if isinstance(demand, Never) and ex.is_event(demand.what):
                demands.append(z3.Not(_occurs(look, demand.what, time, happened)))  # type: ignore[arg-type]
            elif isinstance(demand, Never | Always):
                if look.holds(demand.what) != isinstance(demand, Always):  # type: ignore[arg-type]
                    return None
            elif isinstance(demand, Follows):
                if look.triggers(demand.then):
                    owed.pop(name, None)
                elif look.happens(demand.after):
                    owed[name] = (*owed.get(name, ()), time + demand.within)
        happened |= dict.fromkeys((f for f in earlier(works.board) if look.happens(f)), time)
    return evolve(path, owed=owed, happened=happened), demands


def earlier(board: Board) -> list[ex.Event]:
    """Give the events that some requirement asks how long ago they were."""
    demands = [row.demand.what for row in board.requirements.values() if isinstance(row.demand, Never)]
    return [node.after for what in demands for node in ex.walk(what) if isinstance(node, ex.LessThanAfter)]


def _occurs(look: Look, event: ex.Event, time: Real, happened: Mapping[ex.Event, Real]) -> Any:
    match event:
        case ex.LessThanAfter(event=inner, time=limit, after=after):
            if not look.happens(inner):
                return z3.BoolVal(False)
            if look.happens(after):
                return z3.BoolVal(True)
            return time - happened[after] < limit.shortest if after in happened else z3.BoolVal(False)
        case ex.EventOr(items=items):
            return z3.Or([_occurs(look, item, time, happened) for item in items])
        case ex.EventWhile(event=inner, condition=condition):
            return z3.And(_occurs(look, inner, time, happened), look.holds(condition))
    return z3.BoolVal(look.happens(event))


def together(works: Works, outcome: Outcome) -> dict[str, list[tuple[object, int]]]:
    """Give for each output that changes the groups whose changes show within a time of each other."""
    found: dict[str, list[tuple[object, int]]] = {}
    for requirement in works.board.requirements.values():
        demand, excused, named = requirement.demand, requirement.except_while, False
        if not isinstance(demand, Together):
            continue
        for before, held, facts in outcome.pictures:
            look = evolve(works.glance(held), before=before, facts=facts)
            watches = excused is None or not look.holds(excused)
            named |= watches and (demand.after is None or look.happens(demand.after))
        group = object()
        for name, _ in outcome.commands:
            if named and name in demand.outputs:
                found.setdefault(name, []).append((group, demand.within))
    return found

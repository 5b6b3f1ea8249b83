"""Finish a plan: cut its sittings short, have them judged at all lengths, and look again for what got lost.

Law of this module: what a sitting finds is what the judge said of all of it, and nothing before.
"""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

from boardgauge.machine.terminals import TooShort
from boardgauge.pairing.stepping import Length
from boardgauge.plans.killing import Lengths
from boardgauge.plans.reducing import MOST_STEPS, Reducer
from boardgauge.plans.seated import Seated

if TYPE_CHECKING:
    from boardgauge.plans.planning import Planner

_LONGER = (4, 2, Fraction(5, 4))
"""So many times as long as it seemed enough has a fault to show where it is looked for again, the last time first."""
_REPAIRS = len(_LONGER)
_DEEPER = 8
"""So many times harder a way is looked for anew than at first."""
_ASKED = 20
"""Of so many faults that nobody aimed at the judge is asked at a time."""
_Way = tuple[tuple[tuple[str, str], ...], Length]
"""Positions of the settings, and what length times have."""


def finish(planner: Planner) -> None:
    """Cut the sittings short, have everything judged at all lengths, and look again for what got lost."""
    for index, seated in enumerate(planner.seated):
        planner.told(f"cutting sitting {seated.sitting.id} short")
        planner.seated[index] = _shortened(planner, seated)
    planner.seated = [row for row in planner.seated if row.finds or row.sights]
    wanted = planner.shown()
    for repairs_left in range(_REPAIRS, -1, -1):
        for seated in planner.seated:
            _settle(planner, seated, wanted)
        lost = {id_ for id_ in planner.faults if planner.found_at(id_)} - planner.found()
        if not lost or not repairs_left or planner.over():
            break
        for id_ in lost:
            if planner.sides.patience.get(id_, 1):
                planner.sides.patience[id_] = _LONGER[repairs_left - 1]
        for (positions, length), ids in sorted(_repairs(planner, lost).items()):
            # What was not told with times sped up may be told at their own rate: tolerances are less of them then.
            links = {} if repairs_left == _REPAIRS else planner.beginnings.unhurried()
            planner.round(dict(positions), links, ids, _DEEPER, length)
    found = planner.found()
    planner.partly = {id_ for id_ in planner.faults if planner.found_at(id_)} - found
    # What finds only faults that others find as well, or at some lengths alone, is not worth its time.
    planner.seated = [row for row in planner.seated if row.finds.keys() & found or row.sights]


def _settle(planner: Planner, seated: Seated, wanted: set[str]) -> None:
    """Have a sitting judged anew and at all lengths: that, and nothing before, is what it finds."""
    if seated.settled:
        return
    seated.settled = True
    seated.finds.clear()
    parted = [id_ for id_ in seated.grown.parted if id_ in wanted]
    planner.check(seated, parted, planner.wish.lengths, settling=True)
    # Planning only guesses; and what it does not find at nominal lengths may show at others.
    others = sorted(planner.faults.keys() - wanted - planner.untold.keys())
    for start in range(0, len(others), _ASKED):
        if planner.over_time():
            return
        planner.check(seated, others[start : start + _ASKED], planner.wish.lengths, settling=True)


def _repairs(planner: Planner, lost: set[str]) -> dict[_Way, set[str]]:
    """Give how to look again for faults: with settings where they were found, and times as long as they are in what
    lacks."""
    found: dict[_Way, set[str]] = {}
    for id_ in lost:
        lacks = set(planner.wish.lengths) - planner.settled_at(id_)
        length: Length = "earliest" if Lengths("earliest") in lacks and Lengths("latest") not in lacks else "latest"
        by = next(row for row in planner.seated if id_ in row.finds)
        found.setdefault((tuple(sorted(by.grown.positions.items())), length), set()).add(id_)
    return found


def _shortened(planner: Planner, seated: Seated) -> Seated:
    others = {id_ for row in planner.seated if row is not seated for id_ in row.finds}
    needed = frozenset(id_ for id_ in seated.finds if id_ not in others)
    seen = {sight for row in planner.seated if row is not seated for sight in row.sights}
    sights = frozenset(seated.sights - seen)
    grown = seated.grown
    together = planner.sides.together(needed, grown.positions)
    most = MOST_STEPS // 4 if planner.over_time() else MOST_STEPS
    short = Reducer(together, planner.goals, needed, sights, planner.forbidding.allows, most).shortened(grown)
    if short is grown:
        return seated
    try:
        found = planner.as_steps(seated.sitting.id, short, set(sights))
    except TooShort:
        return seated
    planner.check(found, sorted(needed), planner.wish.lengths[:1])
    # What no longer shows at the judge's was needed after all.
    return found if needed <= found.finds.keys() else seated

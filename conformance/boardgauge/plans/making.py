"""Make the plan of a board, from the wish to the value.

Law of this module: everything that was wished for is either covered or left out with its reason.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from attrs import evolve, frozen

from boardgauge.drawings.time_words import rough_time
from boardgauge.language.model import Board, InputKind
from boardgauge.language.quantities import S
from boardgauge.plans.carrying import bench_time
from boardgauge.plans.emitting import with_measures
from boardgauge.plans.goals import Aim, Ending, Line, Move, Part
from boardgauge.plans.plan import NO_TIME, STOPPED, Covered, GoalKind, LeftOut, Plan, PlanStep, Set, Sitting
from boardgauge.plans.planning import Planner, Told
from boardgauge.plans.untold import REASONS, TOO_QUICK, too_quick
from boardgauge.plans.wish import Wish
from boardgauge.sheets.cautions import cautions

_NO_STATE = "no state of the machine shows it"
_NO_WAY = "no way to it was found"
_NOT_FOUND = "not decided: no way that tells it was found, nor was it proved that there is none"
_AT_SOME = "told at some of the lengths that the spec allows, not at all of them"
_RESTLESS = "not decided: such a board does not come to rest, and nothing that it was seen to do tells it"
_FIRST_LIVE = (
    "From here on the board is live: line voltage may stand on its terminals, and what it drives may start without "
    "warning. Keep hands, tools and clothes away."
)
_LINK = "Low-voltage pins of a live board: use an insulated jumper, and touch nothing else."


@frozen
class Made:
    """A plan with what came of every fault: ``found`` of ``faults``, and how many recordings were judged for it."""

    plan: Plan
    faults: int
    found: int
    equivalent: int
    judged: int


def make_plan(
    wish: Wish, enough: Callable[[], bool] = lambda: False, told: Told = lambda words: None, jobs: int = 1
) -> Made:
    """Plan for a wish, the same on however many cores. ``enough`` is asked again and again whether to stop; ``told``
    hears how it goes."""
    planner = Planner(wish, enough, told, jobs)
    with planner.work:
        planner.grow()
        planner.finish()
    return made_of(planner)


def made_of(planner: Planner) -> Made:
    """Give what a planner has come to as a plan."""
    wish = planner.wish
    engine = planner.killing.engine
    sittings = []
    for number, seated in enumerate(planner.seated, start=1):
        sitting = with_measures(seated.sitting, engine)
        sittings.append(evolve(sitting, id=str(number), steps=tuple(_cautioned(sitting, wish.board))))
    covers = Covers(planner)
    left = tuple(LeftOut(kind, goals, reason) for (kind, reason), goals in sorted(covers.left.items()))
    plan = Plan(
        wish.board.id,
        wish.board.digest,
        f"Bench plan: {wish.board.title}",
        tuple(sittings),
        wish.wired,
        tuple(Covered(kind, goals) for kind, goals in covers.reached.items() if goals),
        left,
        cautions(wish.board).items,
        bench_time(sittings, engine),
        wish.seed,
    )
    equivalent = sum(1 for why in planner.untold.values() if why == "equivalent")
    return Made(plan, len(planner.faults), len(planner.found()), equivalent, planner.judged)


def _cautioned(sitting: Sitting, board: Board) -> Iterator[PlanStep]:
    """Give the steps, each that can hurt somebody with what has to be read before it."""
    live = False
    for step in sitting.steps:
        if isinstance(step, Set):
            links = [name for name in step.inputs if board.inputs[name].kind is InputKind.LINK]
            if step.power:
                step, live = evolve(step, caution=_FIRST_LIVE), True
            elif step.power is False:
                live = False
            elif live and links:
                step = evolve(step, caution=_LINK)
        yield step


class Covers:
    """What a plan reaches and what it leaves out, goal by goal."""

    def __init__(self, planner: Planner) -> None:
        self.planner = planner
        self.reached: dict[GoalKind, tuple[str, ...]] = {}
        self.left: dict[tuple[GoalKind, str], tuple[str, ...]] = {}
        self._of_the_machine()
        self._faults()

    def _reach(self, kind: GoalKind, goal: str) -> None:
        self.reached[kind] = (*self.reached.get(kind, ()), goal)

    def _leave(self, kind: GoalKind, goal: str, reason: str) -> None:
        self.left[kind, reason] = (*self.left.get((kind, reason), ()), goal)

    def _of_the_machine(self) -> None:
        planner, goals = self.planner, self.planner.goals
        instants = [i for seated in planner.seated for done in seated.grown.done for i in done.instants]
        seen = goals.aims_of(goals.sights(instants))
        for aim in sorted(goals.aims, key=lambda one: (kind_of(one), goals.told(one))):
            if aim in seen:
                self._reach(kind_of(aim), goals.told(aim))
            else:
                self._leave(kind_of(aim), goals.told(aim), self._why_not(_NO_WAY))
        for told in goals.unreachable_parts():
            self._leave("part of a condition", told, _NO_STATE)

    def _why_not(self, otherwise: str) -> str:
        if self.planner.full:
            return NO_TIME
        return STOPPED if self.planner.stopped else otherwise

    def _faults(self) -> None:
        planner = self.planner
        found = planner.found()
        for id_, fault in planner.faults.items():
            if id_ in found:
                self._reach("fault", id_)
            elif id_ in planner.untold:
                self._leave("fault", id_, REASONS[planner.untold[id_]])
            elif id_ in planner.restless:
                self._leave("fault", id_, _RESTLESS)
            elif id_ in planner.partly:
                self._leave("fault", id_, _AT_SOME)
            elif too_quick(planner.wish.board, fault):
                self._leave("fault", id_, TOO_QUICK)
            else:
                self._leave("fault", id_, self._why_not(_NOT_FOUND))
            sides = {"timing short": "no shorter than allowed", "timing long": "no longer than allowed"}
            if fault.group in sides:
                goal = f"{fault.id.rpartition('.')[0]}: {sides[fault.group]}"
                if id_ in found:
                    self._reach("limit", goal)
                else:
                    self._leave("limit", goal, "a board beyond this limit is not found; see its fault")


def kind_of(aim: Aim) -> GoalKind:
    """Give the kind of a goal of the machine."""
    match aim:
        case Move():
            return "move"
        case Line():
            return "lamp line"
        case Ending():
            return "limit"
        case Part():
            return "part of a condition"


def told_time(time: int) -> str:
    """Give a length of bench time in words."""
    return rough_time(-(-time // S) * S)

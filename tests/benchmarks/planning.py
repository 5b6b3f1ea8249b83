"""What plans are worth: the faults they find, and their bench time against a tour and against chance.

``python tests/benchmarks/planning.py [BOARD ...] [--faults N] [--seconds N] [--seed N] [--jobs N] [--write]``. Of each
board (all of the library unless named) all faults (or a seeded sample of N) are planned for. Beside the plan stand a
plain transition tour (every move of every rule, no speed-up, no look at faults) and random stimulation of the plan's
length, both judged with the same faulty boards at nominal lengths. ``to equal`` is the bench time after which the plan
has found as many as the tour does in all. ``--write`` puts the figures where ``plan_figures.py`` takes them from, and
the plan itself beside the spec: what comes with a board of the library is what was measured.
"""

from __future__ import annotations

import argparse
import os
import sys
import time
from collections.abc import Hashable, Iterator
from pathlib import Path
from random import Random

from attrs import define, evolve

from boardgauge.boards import board_names, board_path
from boardgauge.command.finding import plan_beside
from boardgauge.language import read_board
from boardgauge.language.model import InputKind
from boardgauge.machine.picture import CannotSettle
from boardgauge.plans.growing import Grower, Grown
from boardgauge.plans.hand import Deed
from boardgauge.plans.joint import Done, Joint
from boardgauge.plans.making import made_of
from boardgauge.plans.plan import Plan
from boardgauge.plans.plan_writer import write_plan
from boardgauge.plans.planning import Planner
from boardgauge.plans.tasks import Judging
from boardgauge.plans.wish import Wish, wish_for

sys.path.insert(0, str(Path(__file__).parent.parent))
from benchmarks import plan_figures
from benchmarks.walking import Way, walk

MIN = 60e6
_MOST_TRIED = 16_000
_A_SITTING = 30 * 60 * 1_000_000
"""Chance is cut into sittings of half an hour at most."""


@define
class Row:
    """What came of one board; times are microseconds of bench."""

    board: str
    faults: int
    found: int
    equivalent: int
    time: int
    tour_time: int
    tour_found: int
    equal_at: int | None
    random_found: int
    seconds: float
    plan: Plan

    @property
    def left(self) -> dict[str, list[str]]:
        """Give by each reason the faults that are not found for it."""
        return {row.reason: list(row.goals) for row in self.plan.leaves_out if row.kind == "fault"}

    def stored(self) -> dict[str, object]:
        """Give it as it is kept, times in seconds; ``equal_after`` -1 where it never is."""
        return {
            "faults": self.faults,
            "found": self.found,
            "bench": round(self.time / 1e6, 1),
            "tour": round(self.tour_time / 1e6, 1),
            "tour_found": self.tour_found,
            "equal_after": -1 if self.equal_at is None else round(self.equal_at / 1e6, 1),
            "chance_found": self.random_found,
            "planning": round(self.seconds, 1),
            "left": self.left,
        }

    def told(self) -> str:
        """Give the row of the table."""
        equal = "never" if self.equal_at is None else f"{self.equal_at / MIN:.1f}"
        left = self.faults - self.found - self.equivalent
        return (
            f"{self.board:<20} {self.faults:>6} {self.found:>6} {self.equivalent:>6} {left:>6}   "
            f"{self.time / MIN:>7.1f}   {self.tour_time / MIN:>7.1f} {self.tour_found:>6} {equal:>8}   "
            f"{self.random_found:>6}   {self.seconds:>6.0f}"
        )


def measure(wish: Wish, seconds: float, seed: int, jobs: int = 1) -> Row:
    """Plan for a wish and measure what it is worth; ``seconds`` are of this process, of the clock where it has help."""
    clock = time.process_time if jobs == 1 else time.monotonic
    begun, spent = clock(), processor_time()
    planner = Planner(wish, lambda: clock() - begun > seconds, jobs=jobs)
    with planner.work:
        planner.grow()
        planner.finish()
    made = made_of(planner)
    spent = processor_time() - spent
    with planner.work:
        tour_time, tour_found = tour(planner)
        at_random = by_chance(planner, seed)
    return Row(
        wish.board.id,
        made.faults,
        made.found,
        made.equivalent,
        made.plan.expected_time,
        tour_time,
        tour_found,
        equal_after(planner, tour_found),
        at_random,
        spent,
        made.plan,
    )


def processor_time() -> float:
    """Give the processor time of this process and of those that it saw end."""
    return sum(os.times()[:4])


def tour(planner: Planner) -> tuple[int, int]:
    """Give the bench time of a plain transition tour, and how many faults it finds at nominal lengths."""
    other = toured(planner.wish)
    return other.time(), _found_by(other, planner)


def toured(wish: Wish) -> Planner:
    """Give a planner whose one sitting is a walk to the nearest move not seen yet, again and again, no link fitted."""
    planner = Planner(evolve(wish, faults=()))
    goals, together = planner.goals, planner.sides.together((), {})
    links = {row.id: False for row in wish.board.inputs.values() if row.kind is InputKind.LINK}
    grower = Grower(together, planner.hand, goals, planner.forbidding.allows, links=links)
    grown = grower.begin({}, planner.beginnings.values(), ())

    def ways(joint: Joint) -> Iterator[Way[Joint, tuple[Deed, Done]]]:
        for deed in grower.deeds(joint):
            try:
                done = together.do(joint, deed)
            except CannotSettle:
                continue
            yield Way(deed.time, (deed, done), done.joint, goals.sights(done.instants))

    moves = {sight for sight in goals._wanted if sight[0] == "move"} - goals.sights(grown.done[0].instants)
    for way in walk(grown.done[0].joint, ways, moves, same=_stands, most=_MOST_TRIED):
        grown.deeds.append(way.act[0])
        grown.done.append(way.act[1])
    planner.seat(grown, {("line", 0, 0, 0)})
    return planner


def _stands(joint: Joint) -> Hashable:
    return joint.good.config, tuple(joint.values.values())


def by_chance(planner: Planner, seed: int) -> int:
    """Give how many faults random stimulation of the plan's length finds at nominal lengths."""
    random, wish = Random(seed), planner.wish
    other = Planner(evolve(wish, faults=()))
    while other.time() < planner.time():
        before = other.time()
        _seat_by_chance(other, random, min(_A_SITTING, planner.time() - before))
        if other.time() == before:
            break
    return _found_by(other, planner)


def _seat_by_chance(other: Planner, random: Random, time: int) -> None:
    """Seat a sitting of about so long in which anything is done."""
    start = other.beginnings.values()
    together = other.sides.together((), {})
    grown = Grown({}, start)
    joint = together.begin(start, ())
    deed = Deed(settle=other.hand.switched_on())
    while not grown.deeds or grown.time < time:
        try:
            done = together.do(joint, deed, first=not grown.deeds)
        except CannotSettle:
            break
        grown.deeds.append(deed)
        grown.done.append(done)
        joint = done.joint
        deeds = [*other.hand.sets(joint.values), Deed(wait=random.choice((2, 10, 40, 120)) * 1_000_000)]
        deeds.append(Deed(cycle=True, settle=other.hand.switched_on()))
        deed = random.choice(deeds)
    if grown.deeds:
        other.seat(grown, {("line", 0, 0, 0)})


def _found_by(other: Planner, planner: Planner) -> int:
    """Count the faults that the sittings of another planner find at nominal lengths."""
    lengths = planner.wish.lengths[:1]
    left = {fault.id for fault in planner.wish.faults}
    for seated in other.seated:
        tasks = [Judging(id_, seated.sitting, None, lengths) for id_ in sorted(left)]
        found = list(planner.work.answers(tasks))
        left -= {task.fault for task, judged in zip(tasks, found, strict=True) if judged.at}
    return len(planner.wish.faults) - len(left)


def equal_after(planner: Planner, found: int) -> int | None:
    """Give the bench time after which a plan has found so many faults."""
    moments: dict[str, int] = {}
    since = 0
    for seated in planner.seated:
        for id_ in seated.finds:
            at = seated.grown.parted.get(id_, len(seated.grown.deeds) - 1)
            moment = since + sum(deed.time for deed in seated.grown.deeds[: at + 1])
            moments[id_] = min(moment, moments.get(id_, moment))
        since += seated.grown.time
    times = sorted(moments[id_] for id_ in planner.found() if id_ in moments)
    return 0 if not found else times[found - 1] if found <= len(times) else None


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser()
    parser.add_argument("boards", nargs="*", default=board_names())
    parser.add_argument("--faults", type=int, default=0, help="how many faults of each board; 0 for all")
    parser.add_argument("--seconds", type=float, default=600, help="of processor time, the most for one plan")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=1, help="on how many cores; --seconds are of the clock then")
    parser.add_argument(
        "--write", action="store_true", help="keep the figures for the documents, and the plan for the bench"
    )
    given = parser.parse_args()
    print("                                                       plan        tour                 random")
    print("board                faults  found  equiv   open       min       min  found to equal    found   CPU s")
    for name in given.boards:
        wish = wish_for(read_board(board_path(name)))
        if given.faults:
            wish = evolve(wish, faults=tuple(Random(given.seed).sample(wish.faults, given.faults)))
        row = measure(wish, given.seconds, given.seed, given.jobs)
        print(row.told(), flush=True)
        if given.write:
            plan_figures.store(name, {"says": plan_figures.says(wish.board), **row.stored()})
            beside = plan_beside(board_path(name))
            beside.parent.mkdir(exist_ok=True)
            beside.write_text(write_plan(row.plan, wish.board), encoding="utf-8")


if __name__ == "__main__":
    main()

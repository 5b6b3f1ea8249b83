"""What is asked of single faults while a plan is made: which lengths a sitting finds one at, why it is not told, and
where it shows.

Law of this module: an answer depends on the wish and the task alone, whoever works it out and in what order.
"""

from __future__ import annotations

from typing import Any

from attrs import define, field, frozen

from boardgauge.machine.compile import compile_board
from boardgauge.machine.settle import Engine
from boardgauge.pairing.pair import engine_of
from boardgauge.plans.hand import Hand
from boardgauge.plans.killing import Killing, Lengths
from boardgauge.plans.plan import Sitting
from boardgauge.plans.seen import Seen
from boardgauge.plans.sides import Sides
from boardgauge.plans.untold import Untold, why_untold
from boardgauge.plans.wish import Wish


@frozen
class Judging:
    """At which of some ``lengths`` is a fault found in a sitting? ``part`` of its steps may be enough to tell."""

    fault: str
    sitting: Sitting
    part: Sitting | None
    lengths: tuple[Lengths, ...]


@frozen
class Judged:
    """What came of it, how many recordings were judged, and whether such a board comes to rest in all of them."""

    at: tuple[Lengths, ...]
    judged: int
    rests: bool


@frozen
class Proving:
    """Why is a fault not told? ``closely``: the lengths of timings are followed."""

    fault: str
    closely: bool


@frozen
class Looking:
    """Where does a fault show?"""

    fault: str


Task = Judging | Proving | Looking
Answer = Judged | Untold | Seen | None


@define(eq=False)
class Workshop:
    """Works tasks out for one wish."""

    wish: Wish
    killing: Killing = field(init=False)
    hand: Hand = field(init=False)
    sides: Sides = field(init=False)
    _proven: Engine = field(init=False)
    """The good board, as proofs take it: what is known of it serves all of them."""

    def __attrs_post_init__(self) -> None:
        self.killing = Killing(self.wish.board, self.wish.wired)
        self.hand = Hand(compile_board(self.wish.board))
        self.sides = Sides(self.wish, self.hand)
        self._proven = engine_of(self.wish.board)

    def answer(self, task: Task) -> Any:
        """Give the answer to a task."""
        match task:
            case Judging():
                return self._judged(task)
            case Proving(fault=id_, closely=closely):
                seen = (*self.wish.outputs, *self.wish.lamps)
                return why_untold(self._proven, self.sides.faults[id_], self.hand, seen, closely=closely)
            case Looking(fault=id_):
                return self.sides.guide(id_).look()

    def _judged(self, task: Judging) -> Judged:
        killing, fault = self.killing, self.sides.faults[task.fault]
        before = killing.judged
        found = tuple(
            row
            for row in task.lengths
            # What a part of a recording proves, all of it proves; what comes with the next step is no part of it.
            if (task.part is not None and killing.finds(task.part, fault, row, tail=-1))
            or killing.finds(task.sitting, fault, row)
        )
        return Judged(found, killing.judged - before, fault.id not in killing.restless)

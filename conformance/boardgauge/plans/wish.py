"""What is asked of a plan.

Law of this module: values only. Everything that a plan depends on stands here, so the same wish gives the same plan.
"""

from __future__ import annotations

from collections.abc import Iterable

from attrs import evolve, frozen

from boardgauge.faults import Fault, faults_of
from boardgauge.language.expressions import Condition
from boardgauge.language.model import Board
from boardgauge.plans.killing import LENGTHS, Lengths


@frozen
class Wish:
    """What is asked of a plan.

    ``outputs`` and ``lamps`` are what the bench sees; ``faults`` those to be found; ``at_most`` how long the bench may
    take (None: as long as it needs); ``effort`` is how hard a way is looked for; what ``never`` says of
    the inputs holds at no time.
    """

    board: Board
    faults: tuple[Fault, ...]
    outputs: tuple[str, ...]
    lamps: tuple[str, ...]
    at_most: int | None = None
    effort: int = 4_000
    seed: int = 0
    never: tuple[Condition, ...] = ()

    @property
    def wired(self) -> tuple[str, ...]:
        """The signals of the recording: the supply, every input, and what the bench sees."""
        return ("power", *self.board.inputs, *self.outputs, *self.lamps)

    @property
    def lengths(self) -> tuple[Lengths, ...]:
        """The lengths at which a fault has to be found; the random ones go by the seed."""
        return tuple(evolve(row, seed=row.seed and row.seed + 2 * self.seed) for row in LENGTHS)


def wish_for(board: Board, groups: Iterable[str] | None = None) -> Wish:
    """Give the wish for everything of a board, or for the faults of some groups alone."""
    wanted = None if groups is None else set(groups)
    faults = tuple(fault for fault in faults_of(board) if wanted is None or fault.group in wanted)
    return Wish(board, faults, tuple(board.outputs), tuple(board.lamps))

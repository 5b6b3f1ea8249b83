"""Find out which faults a sitting finds: faulty boards are carried through it, and the judge says what it says.

Law of this module: a fault is found only where the judge says *deviates*, of a recording that the sitting makes with
that very board; how long its other times last is tried in several ways, and every way counts by itself.
"""

from __future__ import annotations

from attrs import define, field, frozen

from boardgauge.faults import Fault
from boardgauge.judging.first import FirstJudge
from boardgauge.judging.judgement import Judgement
from boardgauge.language.model import Board
from boardgauge.machine.chance import Timings
from boardgauge.machine.compile import compile_board
from boardgauge.machine.scanning import ScanningEngine
from boardgauge.machine.settle import Engine
from boardgauge.machine.terminals import TooShort
from boardgauge.plans.carrying import TAIL, Carried, carry_out, trace_of
from boardgauge.plans.plan import Sitting


@frozen
class Lengths:
    """One choice of the lengths that the spec leaves open."""

    timings: Timings
    seed: int = 0


LENGTHS = (Lengths("nominal"), Lengths("earliest"), Lengths("latest"), Lengths("random", 1), Lengths("random", 2))
"""A fault counts as found if it is found at each of these."""


@define(eq=False)
class Killing:
    """Tries faults on sittings. ``wired`` are the signals that the bench records."""

    board: Board
    wired: tuple[str, ...]
    judged: int = 0
    restless: set[str] = field(factory=set)
    """Faults with which a board did not come to rest: nobody knows what such a board does then."""
    _judge: FirstJudge = field(init=False)
    _engines: dict[str, Engine] = field(factory=dict)

    def __attrs_post_init__(self) -> None:
        self._judge = FirstJudge(Engine(compile_board(self.board)))

    @property
    def engine(self) -> Engine:
        """The engine of the good board."""
        return self._judge.engine

    def good(self, sitting: Sitting, lengths: Lengths) -> tuple[Carried, Judgement]:
        """Carry a good board through a sitting, and judge it."""
        carried = carry_out(sitting, self.engine, lengths.timings, lengths.seed)
        return carried, self._judge.judge(trace_of(carried, self.board, self.wired))

    def _engine(self, fault: Fault) -> Engine:
        if fault.id not in self._engines:
            self._engines[fault.id] = ScanningEngine(compile_board(fault.board))
        return self._engines[fault.id]

    def finds(self, sitting: Sitting, fault: Fault, lengths: Lengths, tail: int = TAIL) -> bool:
        """Tell whether a sitting finds a fault.

        What a part of a recording proves, all of it proves; ``tail`` is how long it goes on after the last step.
        """
        self.judged += 1
        try:
            carried = carry_out(sitting, self._engine(fault), lengths.timings, lengths.seed, tail=tail)
        except TooShort:
            return False
        if not carried.settled:
            self.restless.add(fault.id)
        return self._judge.judge(trace_of(carried, self.board, self.wired)).verdict == "deviates"

"""What came of a run on the bench, as values.

Law of this module: values only; a run is whatever was seen, also where it was broken off.
"""

from __future__ import annotations

from pathlib import Path
from typing import Literal

from attrs import frozen

from boardgauge.judging.judgement import Judgement, LampCoverage, RuleCoverage, Verdict, worst
from boardgauge.plans.plan import Covered, LeftOut, untried

Ending = Literal["done", "stopped at a deviation", "stopped by a person", "rig failed", "cut off"]
"""How a run ended. ``cut off``: its process ended without a word (killed, or the supply of the bench failed)."""


@frozen
class Segment:
    """One stretch of a run with the supply off before it: one recording, judged by itself.

    ``sitting`` is the plan's, ``first`` and ``last`` are the first and last of its steps (from 0) that were done
    whole, ``last`` being ``first - 1`` where none was. ``judgement`` is None where nothing was seen yet.
    """

    sitting: str
    first: int
    last: int
    recording: Path
    wiring: Path
    judgement: Judgement | None
    whole: bool


@frozen
class PlanCoverage:
    """What a run did and showed of its plan.

    ``steps`` are the plan's, ``done`` those that were done whole. ``missed`` says in words what the plan waited for or
    looked for and did not see. ``rules`` and ``lamps`` say what all segments together exercised. ``planned`` are the
    goals of the plan, ``left_out`` what it does not test, each with the reason.
    """

    steps: int
    done: int
    rules: tuple[RuleCoverage, ...]
    lamps: tuple[LampCoverage, ...]
    missed: tuple[str, ...] = ()
    planned: tuple[Covered, ...] = ()
    left_out: tuple[LeftOut, ...] = ()

    @property
    def untried(self) -> int:
        """How many goals the plan left out only since there was too little time to plan for them."""
        return sum(len(row.goals) for row in self.left_out if untried(row.kind, row.reason))

    @property
    def complete(self) -> bool:
        """Tell whether the plan was done to its end and showed all that it waited and looked for."""
        return self.done == self.steps and not self.missed


@frozen
class BenchRun:
    """One board on the bench, from the first step to the end of the run.

    ``started`` is the moment in UTC as ISO 8601 has it. ``folder`` holds the journal, the recordings and their wirings.
    ``why`` says in words why it ended before its end, if it did. ``plan`` is the file of its plan in that folder.
    ``rig_kind`` is the kind of the rig, and ``simulated`` tells whether no real board stood on it; both are None where
    an earlier version began the run and did not keep them.
    """

    board: str
    serial: str
    operator: str
    started: str
    plan_digest: str
    spec_digest: str
    folder: Path
    segments: tuple[Segment, ...]
    coverage: PlanCoverage
    ending: Ending
    rig: str = ""
    rig_kind: str | None = None
    simulated: bool | None = False
    why: str = ""
    plan: Path | None = None

    @property
    def verdict(self) -> Verdict:
        """The verdict on all segments: deviates before undecided before conforms; undecided where none was judged."""
        verdicts = [segment.judgement.verdict for segment in self.segments if segment.judgement is not None]
        return worst(verdicts) if verdicts else "undecided"

    @property
    def telling(self) -> Segment | None:
        """The segment that tells most: the first that deviates, else that is undecided, else the first judged."""
        judged = ((s, s.judgement.verdict) for s in self.segments if s.judgement is not None)
        return next((segment for segment, verdict in judged if verdict == self.verdict), None)

    @property
    def passes(self) -> bool:
        """Tell whether all conforms, and the plan was done and shown whole."""
        return self.verdict == "conforms" and self.coverage.complete and self.ending == "done"

    @property
    def qualifies(self) -> bool:
        """Tell whether the run qualifies the board.

        It does if a real board was there, it passes, there is no rule of which nothing is proved, and its plan left
        nothing untried.
        """
        whole = all(rule.exercised for rule in self.coverage.rules) and not self.coverage.untried
        return self.simulated is False and self.passes and whole

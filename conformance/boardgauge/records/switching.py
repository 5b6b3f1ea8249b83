"""How strictly a lot is inspected: the switching rules of ISO 2859-1 over the lots before it.

Law of this module: values in, values out; what comes next hangs on the lots in their order and on nothing else. A lot
that is not decided does not count, and a board that is undecided counts as bad where a switch hangs on it.

The rules, for each kind of board by itself:

- Inspection begins as *normal*.
- Normal to tightened: two of five or fewer lots in a row were not accepted.
- Tightened to normal: five lots in a row were accepted.
- Inspection is discontinued when five lots were not accepted since it became tightened. It begins again, tightened,
  when what was wrong was put right.
- Normal to reduced, if that is wanted and the boards are made steadily: the *switching score* is at 30 or more. It
  begins at 0 with normal inspection. Each lot that would have been accepted with the limit one step tighter adds 3; at
  acceptance numbers of 0 and 1 each lot that is accepted adds 2. Any other lot puts it back to 0.
- Reduced to normal: a lot was not accepted, or had more bad boards than the acceptance number; or the boards are no
  longer made steadily, which nobody but their maker can say.

Sources: MIL-STD-105E, 4.7.1, 4.7.2, 4.7.4 and 4.8, read in public copies, for all but the score; that 30 is its limit
and that it begins at 0 was read of ISO 2859-1 in two public tellings; what a lot adds to it is from memory. Lots under
another severity are not among the five: from memory too.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Literal

from attrs import evolve, frozen

from boardgauge.judging.judgement import Verdict
from boardgauge.records.sampling import Decision, SamplingPlan, Severity, plan_of

ENOUGH_SCORE = 30
IN_A_ROW = 5
TOO_MANY = 2
"""Lots of five in a row that are not accepted: inspection becomes tightened."""
LAST_STRAW = 5
"""Lots that are not accepted since inspection became tightened: it is discontinued."""


@frozen
class Lot:
    """A lot: how many boards it has, and the verdicts of those that were judged, in the order of judging."""

    name: str
    size: int
    boards: tuple[Verdict, ...]


@frozen
class Standing:
    """How the next lot is inspected, and what a switch hangs on.

    ``results`` are the last lots of this severity, at most five, true where one was accepted; ``refused`` counts those
    that were not since inspection became tightened.
    """

    severity: Severity = "normal"
    score: int = 0
    results: tuple[bool, ...] = ()
    refused: int = 0
    discontinued: bool = False

    @property
    def may_be_reduced(self) -> bool:
        """Tell whether reduced inspection would be allowed."""
        return self.severity == "normal" and self.score >= ENOUGH_SCORE

    def after(self, plan: SamplingPlan, bad: int, accepted: bool, *, reduced: bool = False) -> Standing:
        """Give how it stands after a lot by this plan, with ``bad`` boards in the sample.

        ``reduced``: reduced inspection is wanted where the rules allow it.
        """
        results = (*self.results, accepted)[-IN_A_ROW:]
        match self.severity:
            case "normal":
                if results.count(False) >= TOO_MANY:
                    return Standing("tightened")
                here = Standing("normal", self._score(plan, bad, accepted), results)
                return Standing("reduced") if reduced and here.may_be_reduced else here
            case "tightened":
                if results == (True,) * IN_A_ROW:
                    return Standing("normal")
                refused = self.refused + (not accepted)
                return Standing("tightened", 0, results, refused, refused >= LAST_STRAW)
            case "reduced":
                return self if accepted and bad <= plan.accept else Standing("normal")

    def _score(self, plan: SamplingPlan, bad: int, accepted: bool) -> int:
        if not accepted:
            return 0
        if plan.accept < 2:
            return self.score + 2
        return self.score + 3 if plan.tighter is not None and bad <= plan.tighter else 0


@frozen
class Inspected:
    """A lot, how strictly it was inspected and by which plan, what came of it, and how it stands after it.

    Of its boards ``judged`` are the sample, so far; ``bad`` and ``open`` are those of them that deviate and that are
    undecided.
    """

    lot: Lot
    before: Standing
    plan: SamplingPlan
    judged: int
    bad: int
    open: int
    decision: Decision | Literal["inspection is discontinued"]
    after: Standing


def inspect(
    lots: Sequence[Lot], limit: str, *, reduced: bool = False, corrected: Iterable[str] = ()
) -> tuple[Inspected, ...]:
    """Inspect lots in their order. Raises NoSuchPlan.

    ``corrected`` names the lots before which what was wrong was put right, after inspection was discontinued.
    """
    standing, found, corrected = Standing(), [], set(corrected)
    for lot in lots:
        if standing.discontinued and lot.name in corrected:
            standing = Standing("tightened")
        found.append(_inspected(lot, limit, standing, reduced))
        standing = found[-1].after
    return tuple(found)


def _inspected(lot: Lot, limit: str, standing: Standing, reduced: bool) -> Inspected:
    plan = plan_of(lot.size, limit, standing.severity)
    # A sample is what was drawn first; boards judged beyond it do not change the decision.
    sample = lot.boards[: plan.n]
    bad, open_ = sample.count("deviates"), sample.count("undecided")
    made = Inspected(lot, standing, plan, len(sample), bad, open_, "inspection is discontinued", standing)
    if standing.discontinued:
        return made
    decision = plan.decide(len(sample), bad, open_)
    if decision == "go on":
        return evolve(made, decision=decision)
    after = standing.after(plan, bad + open_, decision == "accept", reduced=reduced)
    return evolve(made, decision=decision, after=after)

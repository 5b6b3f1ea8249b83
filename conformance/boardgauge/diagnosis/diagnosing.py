"""Diagnose a recording of a board.

Law of this module: what conforms is never called a fault, and what no fault of the library explains is said to be so.
"""

from __future__ import annotations

from attrs import frozen

from boardgauge.diagnosis.doubting import doubtful_inputs, worth_a_look
from boardgauge.diagnosis.explaining import candidates, ranked
from boardgauge.diagnosis.explanation import Diagnosis, Explanation
from boardgauge.diagnosis.foretelling import foretell
from boardgauge.diagnosis.pairing import MOST_FIRST, MOST_SECOND, pairs_of
from boardgauge.diagnosis.rehearsing import Rehearsal
from boardgauge.diagnosis.sizing import sized, with_size
from boardgauge.diagnosis.telling import TellingJudge, first_deviation
from boardgauge.diagnosis.trying import Progress, Trial
from boardgauge.faults.listing import faults_of, unwatched
from boardgauge.judging.judge import Judge
from boardgauge.judging.judgement import Judgement
from boardgauge.judging.run import Start
from boardgauge.language.model import Board
from boardgauge.traces.trace import Trace

MOST_FORETOLD = 12
"""Of so many explanations, the best, it is worked out what they predict."""


@frozen
class Diagnoser:
    """Diagnoses traces of one board.

    ``progress`` is told how many of how many faults were tried; ``workers`` processes try them, where that takes long.
    """

    board: Board
    progress: Progress = lambda done, total: None  # a default, and nothing else
    workers: int = 1

    def diagnose(self, trace: Trace, start: Start | None = None, *, pairs: bool = False) -> Diagnosis:
        """Say what a trace tells of the board."""
        judgement = TellingJudge.of(self.board).judge(trace, start)
        if judgement.verdict == "deviates":
            return self._of_deviation(judgement, trace, start, pairs)
        judgement = Judge.of(self.board).judge(trace, start)
        if judgement.verdict == "conforms":
            return Diagnosis("good board", judgement, remarks=worth_a_look(self.board, trace))
        return Diagnosis("undecided", judgement, remarks=worth_a_look(self.board, trace))

    def _of_deviation(self, judgement: Judgement, trace: Trace, start: Start | None, pairs: bool) -> Diagnosis:
        good = unwatched(self.board)
        faults = faults_of(self.board)
        deviation = judgement.deviations[0]
        if deviation.kind == "requirement":
            # Faulty boards are not held to requirements, so it is the rules that have to be broken.
            broken = first_deviation(good, trace, start)
            if broken is None:
                remark = "every rule of the spec was kept, and a requirement was broken: look at the spec first"
                return Diagnosis("no single fault", judgement, remarks=(remark,), faults=len(faults))
            deviation = broken
        tried = candidates(good, faults, trace, start, deviation)
        outcomes = Trial(good, trace, start, self.workers, self.progress).of(tried)
        found: list[Explanation] = [outcome.explanation for outcome in outcomes if outcome.explanation is not None]
        bounds: list[str] = []
        if pairs:
            found += pairs_of(good, list(zip(tried, outcomes, strict=True)), trace, start, self.workers)
            bounds.append(
                f"pairs were tried of the {MOST_FIRST} likeliest faults that explain the beginning, "
                f"each with the {MOST_SECOND} likeliest others"
            )
        best = list(ranked(found))
        best[:MOST_FORETOLD] = [with_size(e, good, trace, start) for e in best[:MOST_FORETOLD]]
        told = best[:MOST_FORETOLD]
        rehearsal = Rehearsal(good, trace)
        foretold = foretell(rehearsal, told, [sized(e, good) for e in told])
        if len(best) > MOST_FORETOLD:
            bounds.append(f"what comes next was worked out for the first {MOST_FORETOLD} explanations only")
        return Diagnosis(
            "fault" if best else "no single fault",
            judgement,
            (*foretold.explanations, *best[MOST_FORETOLD:]),
            doubtful_inputs(good, trace, start, deviation),
            worth_a_look(self.board, trace),
            foretold.next_step,
            len(faults),
            len(tried),
            tuple(bounds),
        )


def diagnose(board: Board, trace: Trace, start: Start | None = None, *, pairs: bool = False) -> Diagnosis:
    """Say what a trace tells of a board; see ``Diagnoser.diagnose``."""
    return Diagnoser(board).diagnose(trace, start, pairs=pairs)

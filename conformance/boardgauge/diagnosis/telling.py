"""Judge a trace as far as its first deviation, and say that one in words.

Law of this module: the verdict and the first deviation are those of ``Judge``. It alone begins anew after a deviation,
with all that the board may then be: on a large board, or where one fault shows again and again, that takes a hundred
times as long as all that came before.
"""

from __future__ import annotations

from attrs import define, frozen

from boardgauge.judging.evidence import Reading, lay_out
from boardgauge.judging.first import FirstJudge
from boardgauge.judging.judgement import Deviation
from boardgauge.judging.run import Run, Start
from boardgauge.language.model import Board
from boardgauge.traces.trace import Trace


@define
class _ToldRun(Run):
    """A pass that ends where it would begin anew after a deviation."""

    def _restart(self, time: int) -> None:
        if self.deviations:
            self.gave_up = (time, "judged to the first deviation only")
        else:
            super()._restart(time)


@frozen
class TellingJudge(FirstJudge):
    """Judges traces of one board, each as far as its first deviation, which is explained.

    Only the tracker's own bound of possibilities counts here, not ``enough``.
    """

    def _pass(self, trace: Trace, reading: Reading, start: Start | None) -> Run:
        run = _ToldRun(self.engine, lay_out(self.engine.machine, trace, reading), self._unknown, start, self._steps)
        run.go()
        return run


def first_deviation(board: Board, trace: Trace, start: Start | None = None) -> Deviation | None:
    """Give the first deviation of a trace from a board, explained; None where it does not deviate."""
    deviations = TellingJudge.of(board).judge(trace, start).deviations
    return deviations[0] if deviations else None

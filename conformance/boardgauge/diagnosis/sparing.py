"""Judge many boards on one trace, each as far as its first deviation and with no more work than is due.

Law of this module: the verdict is that of ``Judge``, or none. What bounds the work is how many possibilities were
followed in all, and not how many at one moment: a good board may have thousands for a while, and one that a fault
leaves too free to be held to anything has hundreds all the time.
"""

from __future__ import annotations

from attrs import define, field, frozen

from boardgauge.judging.columns import Happening
from boardgauge.judging.evidence import Reading, lay_out
from boardgauge.judging.first import GAVE_UP, FirstJudge
from boardgauge.judging.judgement import Deviation
from boardgauge.judging.run import Run, Start
from boardgauge.traces.trace import Trace

AT_ALL, EACH = 30_000, 40
"""So many possibilities are followed in all, and so many more for each event of the trace."""


@define
class _SparingRun(Run):
    """A pass that ends at its first deviation, or where it has followed more possibilities than ``most``."""

    most: int = AT_ALL
    spent: int = 0

    def _step(self, event: Happening) -> None:
        super()._step(event)
        self.spent += len(self.tracker.hypotheses)
        if self.gave_up is None and self.spent > self.most:
            self.gave_up = (event.latest, GAVE_UP)

    def _deviate(self, event: Happening) -> None:
        # Not put into words: that takes ten times as long.
        words = "not explained"
        self.deviations.append(Deviation("unasked", event.latest, "", "", "", None, None, None, words, words))
        self.gave_up = (event.latest, "judged to the first deviation only")


@frozen
class SparingJudge(FirstJudge):
    """Judges traces of one board, each as far as its first deviation: only its ``time`` is told."""

    enough: int = field(default=AT_ALL, kw_only=True)
    each: int = field(default=EACH, kw_only=True)

    def _pass(self, trace: Trace, reading: Reading, start: Start | None) -> Run:
        run = _SparingRun(self.engine, lay_out(self.engine.machine, trace, reading), self._unknown, start, self._steps)
        run.most = self.enough + self.each * len(run.evidence.happenings)
        run.go()
        return run

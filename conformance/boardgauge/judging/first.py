"""Judge a trace as far as its first deviation, and do not explain it.

Law of this module: the verdict is that of ``Judge``. What follows a deviation, and the words for it, take far longer to
find than the verdict; who asks hundreds of boards about one trace wants neither.
"""

from __future__ import annotations

from attrs import define, field, frozen

from boardgauge.judging.columns import Happening
from boardgauge.judging.evidence import Reading, lay_out
from boardgauge.judging.judge import Judge
from boardgauge.judging.judgement import Deviation, Doubt, Judgement, LampCoverage
from boardgauge.judging.run import Run, Start
from boardgauge.traces.trace import Trace

ENOUGH = 400
"""So many possibilities are followed at once; some faults leave a board so free that nothing can be held against it."""
GAVE_UP = "more possibilities than are followed"


@define
class _FirstRun(Run):
    """A pass that ends at its first deviation, or where it has more possibilities to follow than ``enough``."""

    enough: int = ENOUGH

    def _step(self, event: Happening) -> None:
        super()._step(event)
        if self.gave_up is None and len(self.tracker.hypotheses) > self.enough:
            self.gave_up = (event.latest, GAVE_UP)

    def _deviate(self, event: Happening) -> None:
        self.deviations.append(_unexplained(event.latest))
        self.gave_up = (event.latest, "judged to the first deviation only")


def _unexplained(time: int) -> Deviation:
    return Deviation("unasked", time, "", "", "", None, None, None, "not explained", "not explained")


def _placed(gave_up: tuple[int, str]) -> tuple[int, None, str]:
    time, reason = gave_up
    return time, None, reason


@frozen
class FirstJudge(Judge):
    """Judges traces of one board, each as far as its first deviation: only its ``time`` is told."""

    enough: int = field(default=ENOUGH, kw_only=True)

    def judge(self, trace: Trace, start: Start | None = None) -> Judgement:
        """Give the verdict on a trace; see ``Judge.judge``.

        A board whose rules do not come to rest on the trace deviates from it. Where there were more possibilities than
        are followed, the verdict is undecided and its only doubt says so.
        """
        recorded = self._pass(trace, "recorded", start)
        if not recorded.deviations:
            if recorded.gave_up is not None:
                return self._judgement(trace, recorded, "undecided", (), (Doubt(*_placed(recorded.gave_up)),))
            undecided = bool(recorded.rests_on())
            return self._judgement(trace, recorded, "undecided" if undecided else "conforms", (), ())
        last = recorded
        for reading in self._readings(trace):
            last = self._pass(trace, reading, start)
            if not last.deviations:
                doubts = () if last.gave_up is None else (Doubt(*_placed(last.gave_up)),)
                return self._judgement(trace, last, "undecided", (), doubts)
        return self._judgement(trace, last, "deviates", tuple(last.deviations), ())

    def _lamps(self, trace: Trace, run: Run, deviations: tuple[Deviation, ...]) -> tuple[LampCoverage, ...]:
        return run.coverage.lamps()

    def _pass(self, trace: Trace, reading: Reading, start: Start | None) -> Run:
        run = _FirstRun(self.engine, lay_out(self.engine.machine, trace, reading), self._unknown, start, self._steps)
        run.enough = self.enough
        run.go()
        return run

"""Judge a trace: conforms, deviates or undecided.

Law of this module: *deviates* only if no run of the board is consistent with the recording, however it is read;
*conforms* only if one is with every change taken at its recorded time. Between them the verdict is not given.
"""

from __future__ import annotations

from collections.abc import Iterator

from attrs import evolve, field, frozen

from boardgauge.judging.answers import Answers
from boardgauge.judging.clocks import LONG
from boardgauge.judging.evidence import Evidence, Reading, lay_out
from boardgauge.judging.judgement import Deviation, Doubt, Judgement, LampCoverage, Verdict
from boardgauge.judging.run import Run, Start
from boardgauge.judging.steps import Steps
from boardgauge.judging.unknown import Unknown
from boardgauge.language.model import Board
from boardgauge.machine.compile import compile_board
from boardgauge.machine.settle import Engine
from boardgauge.machine.table import Machine
from boardgauge.traces.lamp_turns import lines_read
from boardgauge.traces.trace import Trace


@frozen
class Judge:
    """Judges traces of one board; what it worked out for one trace serves the next."""

    engine: Engine
    _unknown: Unknown = field(init=False)

    _steps: Steps = field(init=False)

    @_steps.default
    def _make_steps(self) -> Steps:
        return Steps(self.engine, Answers())

    @_unknown.default
    def _make_unknown(self) -> Unknown:
        return Unknown(self.engine)

    @classmethod
    def of(cls, board: Board | Machine) -> Judge:
        """Make a judge of a board."""
        return cls(Engine(board if isinstance(board, Machine) else compile_board(board)))

    def judge(self, trace: Trace, start: Start | None = None) -> Judgement:
        """Give the verdict on a trace.

        ``start``: "power-up" if the recording begins as the supply comes on, "unknown" if nothing is known of what came
        before; None takes it from the recording (known if it shows the supply off at its start).
        """
        recorded = self._pass(trace, "recorded", start)
        if recorded.gave_up is None and not recorded.deviations:
            unseen = recorded.rests_on()
            if unseen:
                doubt = Doubt(
                    trace.end, None, f"allowed only if {_listed(unseen)}, which the recording does not show, changed"
                )
                return self._judgement(trace, recorded, "undecided", (), (doubt,))
            return self._judgement(trace, recorded, "conforms", (), ())
        if recorded.gave_up is not None and not recorded.deviations:
            # Read with more left open there would be more to follow, not less.
            time, reason = recorded.gave_up
            return self._judgement(trace, recorded, "undecided", (), (Doubt(time, None, reason),))
        last = plain = recorded
        for reading in self._readings(trace):
            last = self._pass(trace, reading, start)
            if reading == "measured":
                plain = last
            if not last.deviations:
                if last.gave_up is not None:
                    time, reason = last.gave_up
                    return self._judgement(trace, recorded, "undecided", (), (Doubt(time, None, reason),))
                doubts = tuple(_doubt(d, reading) for d in recorded.deviations[:1])
                return self._judgement(trace, recorded, "undecided", (), doubts)
        return self._judgement(trace, last, "deviates", tuple(_as_told(last, plain)), tuple(_not_followed(trace, last)))

    def _readings(self, trace: Trace) -> tuple[Reading, ...]:
        """Give the readings beside the recorded one, each allowing more than the one before."""
        filters = [row.filter for row in self.engine.machine.board.inputs.values()]
        flickers = any(row.greatest for row in filters) and trace.longest_gap > (trace.least_pulse or 0)
        if flickers or trace.hides(min((row.least for row in filters), default=0)):
            return ("measured", "blind")
        uncertain = any((w.earliest != w.latest).any() for w in trace.waves.values()) or bool(trace.readings)
        return ("measured",) if uncertain or trace.samples is not None else ()

    def _pass(self, trace: Trace, reading: Reading, start: Start | None) -> Run:
        evidence: Evidence = lay_out(self.engine.machine, trace, reading)
        run = Run(self.engine, evidence, self._unknown, start, self._steps)
        run.go()
        return run

    def _judgement(
        self, trace: Trace, run: Run, verdict: Verdict, deviations: tuple[Deviation, ...], doubts: tuple[Doubt, ...]
    ) -> Judgement:
        board = self.engine.machine.board
        return Judgement(
            trace.file,
            board.id,
            verdict,
            deviations,
            doubts,
            run.coverage.rules(),
            self._lamps(trace, run, deviations),
            trace.start,
            trace.end,
            run.known_start,
            trace.unwired,
            trace.ignored,
            board.digest,
            trace.sha256,
            run.clock_rate(),
            run.tracker.most,
            trace.remarks,
        )

    def _lamps(self, trace: Trace, run: Run, deviations: tuple[Deviation, ...]) -> tuple[LampCoverage, ...]:
        """Give which lines of each lamp were shown long enough to be read.

        That is where all that is possible agrees that the board had to show them; and, of a lamp that showed nothing
        wrong, where nothing else can have looked so.
        """
        wrong = {deviation.signal for deviation in deviations}
        found = []
        for row, watch in zip(run.coverage.lamps(), run.evidence.lamps, strict=True):
            read = frozenset[int]() if watch is None or row.lamp in wrong else lines_read(trace, watch)
            found.append(evolve(row, lines=tuple(seen or line in read for line, seen in enumerate(row.lines))))
        return tuple(found)


def _as_told(last: Run, plain: Run) -> Iterator[Deviation]:
    """Give the deviations of the last reading, each in the words of a plainer one that comes to its own by then.

    A person follows best what needs no pulse that nobody saw. Where the plainer reading comes to an end no sooner than
    what the last one still waited for was due, its words are true of both; beyond doubt it is only then.
    """
    since = -LONG
    for deviation, found in zip(last.deviations, last.found_at, strict=True):
        told = deviation
        for other, ended in zip(plain.deviations, plain.found_at, strict=True):
            if since < ended <= found and other.time > since and deviation.time <= ended:
                told = evolve(other, time=max(other.time, deviation.time), following=deviation.following)
                break
        yield told
        since = found


def _not_followed(trace: Trace, run: Run) -> Iterator[Doubt]:
    """Give the stretches after a deviation of which nothing is said."""
    for since, until, reason in run.not_followed:
        to = "on" if until is None else f"to {(until - trace.start) / 1_000_000:.3f} s"
        yield Doubt(since, None, f"not judged from {(since - trace.start) / 1_000_000:.3f} s {to}: {reason}")


def _listed(names: list[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _doubt(deviation: Deviation, reading: Reading) -> Doubt:
    if reading == "blind":
        reason = f"{deviation.observed}: allowed only if the recording missed a pulse between two samples"
    else:
        reason = f"{deviation.observed}: within the measuring uncertainty of the limit ({deviation.expected})"
    return Doubt(deviation.time, deviation.rule, reason)


def judge(board: Board, trace: Trace, start: Start | None = None) -> Judgement:
    """Give the verdict on one trace of a board; see ``Judge.judge``."""
    return Judge.of(board).judge(trace, start)

"""A firmware on the bench of a test.

Law of this module: it does what it is told, one thing after another, writes down what came of it, and judges nothing
itself. The rig's time is virtual, so a test takes as long as the firmware needs to work it out. All times are
microseconds, or text as a spec has it ("5 min").
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from attrs import define, evolve, field

from boardgauge.bench.preflight import rest_values
from boardgauge.bench.runner import LEAD_IN, TAIL
from boardgauge.firmware.saying import Said, Time, check_known, check_position, time_said, value_said
from boardgauge.firmware.telling import (
    Deed,
    FirmwareDeviates,
    NotShown,
    UndecidedVerdict,
    deed_lines,
    failure_text,
    words_of,
)
from boardgauge.judging.judge import Judge
from boardgauge.judging.judgement import Judgement
from boardgauge.language import expressions as ex
from boardgauge.language.model import Board
from boardgauge.machine.run import POWER, Edges, Run, Value
from boardgauge.machine.scenario import Power, Scenario, SetInputs, Until, Wait
from boardgauge.plans import plan as plans
from boardgauge.rigs.rig import Report, Rig
from boardgauge.traces.conditioning import condition
from boardgauge.traces.simulated import recording_of
from boardgauge.traces.wiring import Wire, default_wiring


class CannotPlay(ValueError):
    """A scenario waits for what no rig sees."""


@define(eq=False)
class FirmwareBench:
    """Drives a firmware, records it and has it judged.

    ``start`` of the rig is that of a new board; ``begin`` may be called again, for another one. Each call may raise
    RigFailure: the firmware crashed, hung or does not keep to its interface.
    """

    board: Board
    rig: Rig
    judge: Judge = field()
    checked: bool = True
    """Nothing was done since it was judged last."""
    _begun: bool = False
    _time: int = 0
    _now: int = 0
    _levels: dict[str, Value] = field(factory=dict)
    _initial: dict[str, Value] = field(factory=dict)
    _changes: dict[str, list[tuple[int, Value]]] = field(factory=dict)
    _settings: dict[str, str] = field(factory=dict)
    _deeds: list[Deed] = field(factory=list)

    @judge.default
    def _make_judge(self) -> Judge:
        return Judge.of(self.board)

    # -- doing -------------------------------------------------------------------------------------------------------

    def begin(self, settings: Mapping[str, str] | None = None, **start: Said) -> None:
        """Begin with a new board: supply off, every input at rest but what ``start`` says, settings as they are given.

        The first thing done begins by itself.
        """
        values = {name: value_said(self.board, name, value) for name, value in start.items()}
        for name, position in (settings or {}).items():
            check_position(self.board, name, position)
        self._begun = True
        self._settings = dict(settings or {})
        report = self.rig.start(self._settings)
        self._time = self._now = 0
        self._changes, self._deeds = {}, []
        self._levels = dict(self.rig.facts.drives)
        self._levels.update({change.signal: change.value for change in report.changes})
        self._initial = dict(self._levels)
        first = {n: v for n, v in (rest_values(self.board) | values).items() if n in self.rig.facts.drives}
        self._drive(first, told=values)
        self._go_on(self._time + LEAD_IN + self.board.rides_through.greatest)
        self._time = self._now

    def set(self, values: Mapping[str, Said] | None = None, **named: Said) -> None:
        """Bring inputs to values, all at once: true or a word of the spec ("closed", "20 °C")."""
        self._started()
        read = {name: value_said(self.board, name, value) for name, value in {**(values or {}), **named}.items()}
        self._drive(read)

    def power(self, on: bool = True) -> None:
        """Switch the supply."""
        self._started()
        self._drive({POWER: on})

    def wait(self, time: Time) -> None:
        """Let a time go by."""
        self._started()
        self.checked = False
        self._time += time_said(time)
        self._go_on(self._time)

    def wait_for(self, signal: str, level: bool = True, at_most: Time = "1 h") -> bool:
        """Wait until an output or a lamp is at a level, at most a time; tells whether it came."""
        self._started()
        self.checked = False
        check_known(self.board, signal, self.rig.facts.sees, "output or lamp")
        limit = self._time + time_said(at_most)
        while self._levels.get(signal) != level:
            if self._now >= limit:
                self._time = limit
                return False
            self._take(self.rig.wait(limit))
        self._time = max(self._time, self._now)
        return True

    def level(self, signal: str) -> Value:
        """Give how a signal stands now."""
        self._started()
        check_known(self.board, signal, self._levels, "signal")
        return self._levels[signal]

    @property
    def now(self) -> int:
        """How far it has come, in microseconds since it began."""
        return self._now

    def play(self, scenario: Scenario) -> None:
        """Do a scenario, from its beginning. Raises CannotPlay, before anything is done, for what no rig sees."""
        waits = {id(step): _seen(step, self.board) for step in scenario.steps if isinstance(step, Until)}
        self.begin(scenario.positions, **scenario.start)
        for step in scenario.steps:
            match step:
                case SetInputs(values=values):
                    self.set(values)
                case Power(on=on):
                    self.power(on)
                case Wait(time=time):
                    self.wait(time)
                case Until():
                    signal, level = waits[id(step)]
                    if not self.wait_for(signal, level, step.at_most) and step.or_else == "stop":
                        # What did not come is the judge's to explain, if the spec wants it at all.
                        self.check()
                        raise NotShown(f"{step.at}: {step.text!r} did not come\n{self._told()}")

    def carry_out(self, what: plans.Sitting | Scenario) -> None:
        """Carry out a sitting of a plan, or a scenario, from its beginning."""
        if isinstance(what, Scenario):
            self.play(what)
            return
        self.begin(what.settings, **what.start)
        for step in what.steps:
            match step:
                case plans.Set(inputs=inputs, power=power):
                    self._drive(dict(inputs) | ({} if power is None else {POWER: power}))
                case plans.Wait(time=time):
                    self.wait(time)
                case plans.WaitFor(signal=signal, level=level, at_most=at_most):
                    self.wait_for(signal, level, at_most)
                case plans.Observe(held=held):
                    self.wait(held)
                case plans.Measure():
                    pass

    # -- judging -----------------------------------------------------------------------------------------------------

    def judgement(self) -> Judgement:
        """Judge all that was done since it began."""
        self._started()
        run = Run(
            self._now,
            {name: self._edges(name) for name in self.board.inputs if name in self._levels},
            {name: self._edges(name) for name in self.board.outputs if name in self._levels},
            {name: self._edges(name) for name in self.board.lamps if name in self._levels},
            self._edges(POWER),
            (),
        )
        facts = self.rig.facts
        wiring = evolve(
            default_wiring(self.board),
            wires=tuple(Wire(name, name) for name in self._levels),
            settings=dict(self._settings),
            skew=facts.latency,
            clock_error=facts.clock_error,
            rows="samples" if facts.sampled else "changes",
            least_pulse=facts.least_pulse if facts.sampled else None,
        )
        recording = recording_of(run, self.board, wiring, facts.name)
        return self.judge.judge(condition(recording, wiring, self.board))

    def check(self, *, shows: Iterable[str] = (), undecided: bool = False) -> Judgement:
        """Judge, and fail the test if the firmware deviates: raises FirmwareDeviates with the judge's explanation.

        ``shows`` names rules that what was done must have exercised, since nothing is proved of others (NotShown).
        ``undecided``: let a verdict pass that cannot be given; otherwise it fails too (UndecidedVerdict).
        """
        __tracebackhide__ = True
        self._started()
        wanted = tuple(shows)
        for name in wanted:
            check_known(self.board, name, self.board.rules, "rule")
        self.wait(TAIL)
        judgement = self.judgement()
        self.checked = True
        if judgement.verdict == "deviates":
            raise FirmwareDeviates(failure_text(judgement, self._deeds))
        if judgement.verdict == "undecided" and not undecided:
            why = "; ".join(doubt.reason for doubt in judgement.doubts)
            raise UndecidedVerdict(f"{judgement.file}: neither good nor bad beyond doubt: {why}\n{self._told()}")
        missing = [rule.rule for rule in judgement.rules if rule.rule in wanted and not rule.exercised]
        if missing:
            raise NotShown(f"not exercised, so nothing is proved of: {', '.join(missing)}\n{self._told()}")
        return judgement

    def _told(self) -> str:
        return "\n".join(deed_lines(self._deeds))

    def _edges(self, name: str) -> Edges:
        return Edges(self._initial[name], tuple(self._changes.get(name, ())))

    # -- the rig -----------------------------------------------------------------------------------------------------

    def _started(self) -> None:
        if not self._begun:
            self.begin()

    def _drive(self, values: Mapping[str, Value], told: Mapping[str, Value] | None = None) -> None:
        self.checked = False
        news = {name: value for name, value in values.items() if self._levels.get(name) != value}
        if not news:
            return
        moment = self.rig.set(news)
        for name, value in news.items():
            self._note(moment, name, value)
        self._time = max(self._time, moment)
        said = [words_of(self.board, n, v) for n, v in news.items() if told is None or n in told]
        if said:
            self._deeds.append(Deed(moment, ", ".join(said)))

    def _go_on(self, until: int) -> None:
        while self._now < until:
            self._take(self.rig.wait(until))

    def _take(self, report: Report) -> None:
        self._now = report.now
        for change in report.changes:
            self._note(change.time, change.signal, change.value)

    def _note(self, moment: int, name: str, value: Value) -> None:
        if self._levels.get(name) == value:
            return
        self._levels[name] = value
        rows = self._changes.setdefault(name, [])
        # Two changes of one signal at one moment cannot be recorded; the second is a microsecond later.
        rows.append((max(moment, rows[-1][0] + 1 if rows else 1), value))


def _seen(step: Until, board: Board) -> tuple[str, bool]:
    """Give the output, and its level, that a step waits for."""
    match step.trigger:
        case ex.Name(name=name) | ex.Edge(of=ex.Name(name=name), word="begins") if name in board.outputs:
            return name, True
        case ex.Not(item=ex.Name(name=name)) | ex.Edge(of=ex.Name(name=name), word="ends") if name in board.outputs:
            return name, False
    raise CannotPlay(f"{step.at}: {step.text!r} cannot be waited for at the terminals; wait for an output, or a time")

"""Carry out a plan on a rig.

Law of this module: every call to the rig is short; whatever ends the run, an error, a signal or the last step, the rig
is made safe then and there; what was seen is written before anything is concluded from it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from contextlib import AbstractContextManager, nullcontext
from pathlib import Path

from attrs import define, field

from boardgauge.bench.bench_run import Ending
from boardgauge.bench.journal import Journal
from boardgauge.bench.live_judging import LiveJudge
from boardgauge.bench.preflight import at_the_beginning
from boardgauge.bench.pulses import pulse_from
from boardgauge.bench.recorder import Recorder
from boardgauge.bench.safe_points import levels_at
from boardgauge.bench.step_done import StepDone, measured, waited_in_vain
from boardgauge.bench.watcher import Watcher
from boardgauge.bench.wiring_file import wiring_text, write_whole
from boardgauge.judging.judgement import Deviation
from boardgauge.language.model import Board
from boardgauge.plans.plan import Measure, Observe, Plan, Set, Sitting, Wait, WaitFor
from boardgauge.rigs.interlocks import Interlocks
from boardgauge.rigs.rig import POWER, Report, Rig, RigFailure, Value

LEAD_IN = 100_000
"""Microseconds without the supply before the first step, beside what the board may ride through."""
TAIL = 1_000_000
"""Microseconds that a recording goes on after the last step."""
AT_ONCE = 1_000_000
"""Microseconds: no rig is asked to wait longer in one call, so that a person or the judge can step in."""


class Stopped(Exception):
    """The run ends here: at a deviation, or because a person said so."""

    def __init__(self, ending: Ending) -> None:
        self.ending = ending
        super().__init__(ending)


@define
class Runner:
    """Carries out a plan. ``held`` keeps signals away from a call to the rig, ``deaf`` while the rig is made safe."""

    board: Board
    plan: Plan
    rig: Rig
    interlocks: Interlocks
    folder: Path
    journal: Journal
    watcher: Watcher
    judge: LiveJudge
    stop_at_first: bool = False
    segments: int = 0
    held: Callable[[], AbstractContextManager[None]] = nullcontext
    deaf: Callable[[], AbstractContextManager[None]] = nullcontext
    _recorder: Recorder = field(init=False)
    _wiring: Path = field(init=False)
    _driven: dict[str, Value] = field(factory=dict)
    _settings: dict[str, str] = field(factory=dict)
    _latency: int = 0
    _time: int = 0
    _now: int = 0

    def __attrs_post_init__(self) -> None:
        if self.rig.facts.kind == "person":
            # Nothing is half said to a person; and a prompt may wait for long.
            self.held = nullcontext

    def run(self, sitting: int = 0, step: int = 0) -> Ending:
        """Carry out the plan from a sitting and a step of it on; gives how that ended.

        Raises RigFailure, after the journal has it. The rig is safe when this returns or raises.
        """
        try:
            for number in range(sitting, len(self.plan.sittings)):
                self._sit(self.plan.sittings[number], step if number == sitting else 0)
            ending: Ending = "done"
        except Stopped as stop:
            ending = stop.ending
        except RigFailure as failure:
            self._end("rig failed", str(failure))
            raise
        except Exception as error:
            self._end("cut off", f"{type(error).__name__}: {error}")
            raise
        except BaseException:
            # A signal: somebody wants it to end.
            self._end("stopped by a person", "broken off")
            raise
        self._end(ending, "")
        return ending

    def _end(self, ending: Ending, why: str) -> None:
        with self.deaf():
            try:
                self.rig.safe()
            except RigFailure as failure:
                why = f"{why}\n{failure}" if why else str(failure)
                ending = "rig failed"
                raise
            finally:
                self.journal.note(ended=ending, why=why)

    # -- a sitting -----------------------------------------------------------------------------------------------

    def _sit(self, sitting: Sitting, first: int) -> None:
        facts = self.rig.facts
        cautions = tuple(s.caution for s in sitting.steps[first:] if isinstance(s, Set) and s.caution)
        asked = {} if facts.chooses else dict(sitting.settings)
        if (asked or cautions) and not self.watcher.agrees(sitting, asked, tuple(dict.fromkeys(cautions))):
            raise Stopped("stopped by a person")
        self.segments += 1
        name = f"{self.segments:03d}-{_plain(sitting.id)}"
        recording = self.folder / f"{name}.{'csv' if facts.sampled else 'jsonl'}"
        self._wiring = self.folder / f"{name}.toml"
        self._settings = dict(sitting.settings)
        self._write_wiring()
        self._recorder = Recorder(self.board, recording, facts.sampled)
        try:
            self.journal.note(
                segment=self.segments,
                sitting=sitting.id,
                first=first,
                recording=recording.name,
                wiring=self._wiring.name,
            )
            self.judge.begin(recording, self._wiring)
            self._begin(sitting, first)
            ends: dict[str, int] = {}
            for number in range(first, len(sitting.steps)):
                self._step(sitting, number, ends)
            self._wait(self._time + TAIL)
            self._recorder.mark(self._now)
            self.journal.note(whole=sitting.id)
            with self.held():
                self.rig.safe()
        finally:
            self._recorder.close()

    def _begin(self, sitting: Sitting, first: int) -> None:
        facts = self.rig.facts
        with self.held():
            report = self.rig.start(self._settings)
        self._driven = dict(facts.drives)
        self._recorder.drove(0, self._driven)
        self._take(report)
        begin = {n: v for n, v in levels_at(sitting, first).items() if n in facts.drives}
        self._time = self._now
        self._drive(at_the_beginning(self.board, sitting, facts) | begin)
        lead = LEAD_IN + self.board.rides_through.greatest
        self._wait(self._time + lead)
        self._time = self._now

    def _step(self, sitting: Sitting, number: int, ends: dict[str, int]) -> None:
        step = sitting.steps[number]
        self.watcher.begins(sitting, number, step)
        done = self._do(sitting, number, ends)
        if step.id and done.came:
            ends[step.id] = done.ended
        if not isinstance(step, (Set, Measure)):
            self._recorder.mark(self._now)
        self.journal.note(**done.noted(sitting.id, number))
        self._write_wiring()
        if self.stop_at_first and self.rig.facts.virtual:
            self._tell(self.judge.on_the_spot(self._recorder.end))

    def _do(self, sitting: Sitting, number: int, ends: dict[str, int]) -> StepDone:
        step, begun = sitting.steps[number], self._time
        match step:
            case Set(inputs=inputs, power=power):
                self._set(sitting, number, dict(inputs) | ({} if power is None else {POWER: power}))
                return StepDone(begun, self._time)
            case Wait(time=time):
                self._time += time
                self._wait(self._time)
                return StepDone(begun, self._time)
            case WaitFor():
                return self._wait_for(step, begun)
            case Observe(held=held):
                self._time += held
                note = self._observe(step)
                return StepDone(begun, self._time, note=note)
            case Measure():
                return measured(step, ends, begun)

    # -- steps ---------------------------------------------------------------------------------------------------

    def _set(self, sitting: Sitting, number: int, change: dict[str, Value]) -> None:
        back = pulse_from(sitting.steps, number, change, self._driven)
        if back is not None and self.rig.facts.pulses:
            length, levels = back
            self._refuse(change)
            with self.held():
                begins, ends = self.rig.pulse(change, levels, length)
            self._recorder.drove(begins, change)
            self._recorder.drove(ends, levels)
            # The wait and the set that follow find all of it done.
            self._driven |= levels
            self._time = max(self._time, begins)
            return
        self._drive(change)

    def _drive(self, change: Mapping[str, Value]) -> None:
        news = {name: value for name, value in change.items() if self._driven.get(name) != value}
        if not news:
            return
        for stage in self.interlocks.stages(self._driven, news):
            self._refuse(stage)
            with self.held():
                moment = self.rig.set(stage)
            self._recorder.drove(moment, stage)
            self._driven |= stage
            self._time = max(self._time, moment)

    def _refuse(self, change: Mapping[str, Value]) -> None:
        """Refuse to drive what an interlock forbids: looked at before the run as well, but nothing gets past this."""
        against = self.interlocks.broken(self._driven | dict(change))
        if against is not None:
            raise RigFailure(f"not driven: {against.text} ({against.at}) forbids it")

    def _wait(self, until: int) -> None:
        while self._now < until:
            self._take(self._report(until))

    def _report(self, until: int) -> Report:
        soon = until if self.rig.facts.virtual else min(until, self._now + AT_ONCE)
        with self.held():
            return self.rig.wait(soon)

    def _wait_for(self, step: WaitFor, begun: int) -> StepDone:
        limit, came = self._time + step.at_most, begun
        while self._recorder.levels.get(step.signal) != step.level:
            if self._now >= limit:
                self._time = limit
                return waited_in_vain(step, begun, limit)
            report = self._report(limit)
            came = next((c.time for c in report.changes if c.signal == step.signal and c.value == step.level), came)
            self._take(report)
        # It came when it was seen to, however long it took us to hear of it; the next step begins now.
        self._time = max(self._time, self._now)
        return StepDone(begun, max(begun, came))

    def _observe(self, step: Observe) -> str:
        """Look at the outputs until the time of the plan; gives what was otherwise. Lamps are the judge's."""
        wrong: dict[str, None] = {}
        while True:
            for name, level in step.outputs.items():
                if self._recorder.levels.get(name, level) != level:
                    wrong[f"{name} was {'off' if level else 'on'}"] = None
            if self._now >= self._time:
                return ", ".join(wrong)
            self._take(self._report(self._time))

    # -- what was seen -------------------------------------------------------------------------------------------

    def _take(self, report: Report) -> None:
        self._now = report.now
        self._recorder.saw(report)
        self.watcher.goes_on(report.now, self._recorder.levels)
        self._tell(self.judge.look())

    def _tell(self, deviations: tuple[Deviation, ...]) -> None:
        for deviation in deviations:
            self.watcher.deviates(deviation)
        if deviations and self.stop_at_first:
            raise Stopped("stopped at a deviation")

    def _write_wiring(self) -> None:
        facts = self.rig.facts
        if facts.latency != self._latency or not self._wiring.exists():
            self._latency = facts.latency
            channels = (*facts.drives, *facts.sees)
            write_whole(self._wiring, wiring_text(self.board.id, facts, channels, self._settings))


def _plain(text: str) -> str:
    """Give a text as it can stand in the name of a file."""
    return "".join(c if c.isascii() and (c.isalnum() or c in "-_") else "_" for c in text)[:60] or "sitting"

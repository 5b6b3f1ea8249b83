"""Plans, rigs and watchers for the tests of the bench: a board of the library, and what is done to it.

Law of this module: it is shared by tests and tests nothing itself.
"""

from __future__ import annotations

import subprocess
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from boardgauge.bench.bench_run import BenchRun
from boardgauge.bench.live_judging import LiveJudge
from boardgauge.bench.runner import Runner
from boardgauge.bench.running import begin, run_of, take_up
from boardgauge.boards import board_path
from boardgauge.judging.judge import Judge
from boardgauge.judging.judgement import Deviation
from boardgauge.language import read_board
from boardgauge.language.writer import digest_of
from boardgauge.plans.plan import Plan, PlanStep, Sitting
from boardgauge.plans.plan_reader import read_plan_text
from boardgauge.rigs.interlocks import Interlocks
from boardgauge.rigs.rig import Report, Rig, RigFacts, Value

TARNBECK = read_board(board_path("tarnbeck"))
JUDGE = Judge.of(TARNBECK)

PLAN = """
language = 1
board = "tarnbeck"
spec_digest = "DIGEST"
title = "start, stop and start again"
expected_time = "3 min"
wired = ["power", "y", "lps", "hps", "cc", "fan", "led"]

[[sittings]]
id = "start and stop"
steps = [
  { power = "on", id = "on" },
  { wait = "2 s" },
  { set = { y = "on" } },
  { wait_for = { cc = "on" }, expected = "28 s to 32 s", since = "on", at_most = "40 s", id = "cc" },
  { measure = "power_up_delay", since = "on", until = "cc", allowed = "28 s to 32 s" },
  { wait = "25 s" },
  { set = { y = "off" } },
  { wait_for = { cc = "off" }, expected = "0 s to 1 s", at_most = "5 s" },
  { wait = "2 s" },
  { power = "off" },
  { wait = "5 s" },
  { power = "on", id = "again" },
  { set = { y = "on" } },
  { wait_for = { cc = "on" }, expected = "28 s to 32 s", since = "again", at_most = "40 s" },
  { wait = "4 s" },
  { observe = { cc = "on", fan = "on", led = "1 s lit, 1 s dark" }, held = "10 s" },
  { power = "off" },
]

[[sittings]]
id = "low pressure"
steps = [
  { set = { y = "on" }, power = "on", id = "on" },
  { wait_for = { cc = "on" }, expected = "28 s to 32 s", since = "on", at_most = "40 s" },
  { wait = "1 s" },
  { set = { lps = "open" }, caution = "the low-pressure switch is simulated" },
  { observe = { cc = "on", fan = "on" }, held = "10 s" },
  { wait_for = { cc = "off" }, expected = "8 s to 20 s", at_most = "30 s" },
  { wait = "12 s" },
  { power = "off" },
]
"""


def plan_text(text: str = PLAN) -> str:
    """Give a plan file for the board as it is."""
    return text.replace("DIGEST", digest_of(TARNBECK))


def plan_of(text: str = PLAN) -> Plan:
    """Read a plan for the board."""
    return read_plan_text(plan_text(text), "plan.toml", TARNBECK)


def steps_of(steps: str, id_: str = "one") -> Plan:
    """Give a plan of one sitting with these steps."""
    head = PLAN.partition("[[sittings]]")[0]
    return plan_of(f'{head}[[sittings]]\nid = "{id_}"\nsteps = [{steps}]\n')


HEAD = {
    "board": "tarnbeck",
    "serial": "A 17",
    "operator": "somebody",
    "started": "2026-03-02T09:30:00+00:00",
    "spec_digest": TARNBECK.digest,
    "plan_digest": "0" * 64,
    "rig": "simulated",
    "rig_kind": "simulated",
    "simulated": True,
    "boardgauge": "test",
}


class Quiet:
    """Watches and keeps what it was told; agrees to everything unless told otherwise."""

    def __init__(self, agrees: bool = True) -> None:
        self.steps: list[tuple[str, int]] = []
        self.deviations: list[Deviation] = []
        self.asked: list[tuple[str, dict[str, str], tuple[str, ...]]] = []
        self.last: tuple[int, dict[str, Value]] = (0, {})
        self._agrees = agrees

    def begins(self, sitting: Sitting, number: int, step: PlanStep) -> None:
        self.steps.append((sitting.id, number))

    def goes_on(self, now: int, levels: Mapping[str, Value]) -> None:
        self.last = (now, dict(levels))

    def deviates(self, deviation: Deviation) -> None:
        self.deviations.append(deviation)

    def agrees(self, sitting: Sitting, settings: Mapping[str, str], cautions: tuple[str, ...]) -> bool:
        self.asked.append((sitting.id, dict(settings), cautions))
        return self._agrees


def runner_in(
    folder: Path, rig: Rig, plan: Plan, watcher: Quiet | None = None, *, resume: bool = False, stop: bool = False
) -> tuple[Runner, tuple[int, int]]:
    """Give a runner in a folder, and the place to run from."""
    segments, place = 0, (0, 0)
    if resume:
        journal, kept, place = take_up(folder, HEAD, plan, TARNBECK)
        segments = len(kept.segments)
    else:
        journal = begin(folder, HEAD, plan_text().encode())
    watching = watcher or Quiet()
    judge = LiveJudge(TARNBECK)
    return Runner(TARNBECK, plan, rig, Interlocks(TARNBECK), folder, journal, watching, judge, stop, segments), place


def carried(folder: Path, plan: Plan, rig: Rig, watcher: Quiet | None = None, **how: bool) -> BenchRun:
    """Carry out a plan and give what came of it."""
    runner, place = runner_in(folder, rig, plan, watcher, **how)
    runner.run(*place)
    return run_of(folder, plan, JUDGE)


@contextmanager
def ended(process: subprocess.Popen[bytes]) -> Iterator[subprocess.Popen[bytes]]:
    """Give a process and end it, also where a test fails before it would end by itself."""
    with process:
        try:
            yield process
        finally:
            process.kill()


class Behind(Rig):
    """A rig that passes every call on, for others to change one of them."""

    def __init__(self, behind: Rig) -> None:
        self.behind = behind
        self.calls: list[str] = []

    @property
    def facts(self) -> RigFacts:
        return self.behind.facts

    def start(self, settings: Mapping[str, str] | None = None) -> Report:
        self.calls.append("start")
        return self.behind.start(settings)

    def set(self, levels: Mapping[str, Value]) -> int:
        self.calls.append("set " + " ".join(f"{n}={int(v)}" for n, v in levels.items()))
        return self.behind.set(levels)

    def pulse(self, levels: Mapping[str, Value], back: Mapping[str, Value], length: int) -> tuple[int, int]:
        self.calls.append(f"pulse {length} " + " ".join(levels))
        return self.behind.pulse(levels, back, length)

    def wait(self, until: int) -> Report:
        return self.behind.wait(until)

    def safe(self) -> None:
        self.calls.append("safe")
        self.behind.safe()

    def close(self) -> None:
        self.calls.append("close")
        self.behind.close()


class Dies(Behind):
    """A rig that fails at its n-th wait."""

    def __init__(self, behind: Rig, after: int, error: BaseException) -> None:
        super().__init__(behind)
        self.left, self.error = after, error

    def wait(self, until: int) -> Report:
        self.left -= 1
        if self.left < 0:
            raise self.error
        return super().wait(until)

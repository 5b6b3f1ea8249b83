"""A run that is killed at any moment: what was seen is there, and the run is taken up again."""

from __future__ import annotations

import json
import os
import random
import signal
import sys
import time
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import settings

from bench_plans import JUDGE, TARNBECK, Quiet, plan_of, runner_in
from boardgauge.bench.journal import whole_lines
from boardgauge.bench.running import UnusableRun, kept_in, run_of
from boardgauge.rigs.board_rig import BoardRig
from boardgauge.rigs.paced import Paced
from boardgauge.rigs.points import by_name
from boardgauge.traces.reading import recording_from

KILLED = 200 if settings.get_current_profile_name() in ("thorough", "long") else 8
"""So many runs are killed; each costs some tenths of a second."""
WHOLE = 0.6
"""Seconds that a whole run takes here, more or less."""


class Telling(Quiet):
    """Tells each report over a pipe, once it was recorded."""

    def __init__(self, pipe: int) -> None:
        super().__init__()
        self._pipe = pipe

    def goes_on(self, now, levels) -> None:
        said = {name: int(value) for name, value in levels.items()}
        os.write(self._pipe, (json.dumps([now, said]) + "\n").encode())


def _rig(seed: int) -> Paced:
    # All of the plan, some three minutes, in half a second.
    return Paced(BoardRig(TARNBECK, seed=seed), Fraction(400), None)


def _child(folder: Path, seed: int, pipe: int, resume: bool) -> None:
    runner, place = runner_in(folder, _rig(seed), plan_of(), Telling(pipe), resume=resume)
    runner.run(*place)


def _killed(folder: Path, seed: int, after: float, resume: bool) -> list[tuple[int, dict[str, int]]]:
    """Run in a process of its own, kill it after so many seconds; give what it told it had recorded."""
    ours, theirs = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(ours)
        status = 1
        try:
            _child(folder, seed, theirs, resume)
            status = 0
        finally:
            os._exit(status)
    os.close(theirs)
    time.sleep(after)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    with os.fdopen(ours, "rb") as pipe:
        lines = pipe.read().split(b"\n")[:-1]
    return [tuple(json.loads(line)) for line in lines]


@pytest.mark.skipif(sys.platform == "win32", reason="there is no kill -9 there")
@pytest.mark.parametrize("number", range(KILLED))
def test_a_run_killed_at_any_moment_loses_nothing_and_goes_on(tmp_path: Path, number: int) -> None:
    """Killed, some runs more than once, all that was recorded is read back, and --resume brings the plan to its end."""
    chance = random.Random(number)
    plan, folder = plan_of(), tmp_path / "run"
    resume, begun = False, 0
    for turn in range(chance.choice((1, 1, 2))):
        told = _killed(folder, number + turn, chance.uniform(0.0, WHOLE), resume)
        if not (folder / "run.journal").exists() or not whole_lines(folder / "run.journal"):
            # Killed before the run began: there is nothing to go on with.
            assert not told
            with pytest.raises(UnusableRun):
                kept_in(folder)
            (folder / "run.journal").unlink(missing_ok=True)
            resume = False
            continue
        resume = True
        if told:
            _all_there(folder, begun, told)
        begun = len(kept_in(folder).segments)
    before = len(kept_in(folder).segments) if resume else 0
    runner, place = runner_in(folder, BoardRig(TARNBECK, seed=number), plan, resume=resume)
    assert runner.run(*place) == "done"
    run = run_of(folder, plan, JUDGE)
    assert run.ending == "done"
    assert run.verdict == "conforms", [s.judgement for s in run.segments]
    # Not whether all was seen when the plan expects it: a busy machine is slow to act on what it waited for, at
    # this speed by seconds of the board's time.
    assert run.coverage.done == run.coverage.steps
    assert len(run.segments) >= max(before, len(plan.sittings))
    assert [s.sitting for s in run.segments if s.whole][-len(plan.sittings) :] == [s.id for s in plan.sittings]


def _all_there(folder: Path, begun: int, told: list[tuple[int, dict[str, int]]]) -> None:
    """Hold each recording to what was told when it was last written; time begins anew with each."""
    lasts = [row for row, after in zip(told, [*told[1:], (-1, {})], strict=True) if after[0] < row[0]]
    for segment, (now, levels) in zip(kept_in(folder).segments[begun:], lasts, strict=False):
        recording = recording_from(whole_lines(folder / str(segment["recording"])), "killed")
        assert levels
        for name, level in levels.items():
            shown = by_name(TARNBECK, name).level(bool(level))
            assert recording.channels[name].at(now) == float(shown), (name, now)
    assert len(kept_in(folder).segments) - begun >= len(lasts)

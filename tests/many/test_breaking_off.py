"""A run that is broken off keeps what was judged; a run of many tells how far it is, on a terminal only."""

from __future__ import annotations

import csv
import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from boardgauge.command import progress
from boardgauge.command.interrupting import Interrupted, Interrupts
from boardgauge.command.program import main
from boardgauge.command.progress import Progress
from many_recordings import GOOD, OTHER, TOO_SOON, who_judges

PROGRAM = """
from boardgauge.command import main
from boardgauge.many import running
from many_recordings import stick
running.SOON = {soon}
stick()
main()
"""


@pytest.mark.skipif(sys.platform == "win32", reason="signals are sent otherwise there")
@pytest.mark.parametrize("sign", [signal.SIGINT, signal.SIGTERM])
@pytest.mark.parametrize("soon", [0, 600])
def test_what_was_judged_is_kept(tmp_path: Path, sign: signal.Signals, soon: int) -> None:
    """Broken off from the terminal, a run prints and writes what was judged, in order, and says how far it came."""
    stuck = [tmp_path / "stuck1", tmp_path / "stuck2"]
    # In workers the second good one is judged beside the first that is stuck; in one process none is judged after it.
    files = [GOOD, TOO_SOON, stuck[0], OTHER] if soon else [GOOD, stuck[0], TOO_SOON, stuck[1], OTHER]
    table = tmp_path / "t.csv"
    command = ["judge", "tarnbeck", *map(str, files), "--table", str(table), "--jobs", "2"]
    run = subprocess.Popen(
        [sys.executable, "-c", PROGRAM.format(soon=soon), *command],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
        env={**os.environ, "PYTHONPATH": os.pathsep.join([str(Path(__file__).parents[1]), *filter(None, sys.path)])},
    )
    for path in stuck[:1] if soon else stuck:
        who_judges(path)
    if sign == signal.SIGINT:
        os.killpg(run.pid, sign)
    else:
        run.send_signal(sign)
    out, err = run.communicate()
    assert run.returncode == 128 + sign, err
    assert [line for line in out.splitlines() if line.startswith("/")] == [str(GOOD), str(TOO_SOON)]
    assert out.splitlines()[-1] == "1 conforms, 1 deviates"
    assert err == f"boardgauge: broken off: 2 of {len(files)} recordings were judged\n"
    with table.open(encoding="utf-8", newline="") as stream:
        assert [row["file"] for row in csv.DictReader(stream)] == [str(GOOD), str(TOO_SOON)]
    assert not [path.name for path in tmp_path.iterdir() if path.name.endswith(".part")]


def test_an_interrupt_is_no_deviation(monkeypatch: pytest.MonkeyPatch) -> None:
    """A command that is interrupted before it has anything to show leaves with 130, not with a verdict's status."""

    def interrupted(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("boardgauge.command.judging.find_board", interrupted)
    result = CliRunner().invoke(main, ["judge", "tarnbeck", str(GOOD)])
    assert (result.exit_code, result.stderr) == (130, "boardgauge: broken off\n")


def held(interrupts: Interrupts, times: int, done: list[int]) -> None:
    """Interrupt something that is held, and note that it was done."""
    with interrupts.held():
        for _ in range(times):
            signal.raise_signal(signal.SIGINT)
        done.append(times)


def test_an_interrupt_waits_for_what_is_held() -> None:
    """What is held is done before the interrupt comes; a second interrupt does not wait."""
    done: list[int] = []
    interrupts = Interrupts()
    with interrupts.listening():
        with pytest.raises(Interrupted):
            held(interrupts, 1, done)
        again = Interrupts()
        with again.listening(), pytest.raises(Interrupted):
            held(again, 2, done)
        with pytest.raises(Interrupted):
            signal.raise_signal(signal.SIGTERM)
    assert done == [1]


def test_progress_is_for_a_terminal(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing is written where standard error is no terminal; what is written on one is wiped out again."""
    monkeypatch.setattr(progress, "EVERY", 0)
    quiet = Progress(10)
    quiet.show(3, "3 conforms")
    quiet.wipe()
    assert capsys.readouterr().err == ""
    told = Progress(10, shown=True)
    told.show(0, "")
    told.wipe()
    told.show(4, "4 conforms")
    told.wipe()
    first, blank, second, *_ = [part for part in capsys.readouterr().err.split("\r") if part]
    assert first == "0 of 10 judged"
    assert not blank.strip()
    assert len(blank) >= len(first)
    assert second.startswith("4 of 10 judged: 4 conforms; ")
    assert second.endswith("left")
    told.show(10, "10 conforms")
    Progress(1, shown=True).show(0, "")
    assert capsys.readouterr().err == ""

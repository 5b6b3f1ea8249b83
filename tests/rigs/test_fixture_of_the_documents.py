"""The fixture that the documents show keeps the protocol, and their rig files and plan can be used."""

from __future__ import annotations

import subprocess
import sys
import time
from pathlib import Path
from subprocess import PIPE

import pytest

from bench_plans import TARNBECK, ended
from boardgauge.bench.preflight import refusals
from boardgauge.plans.plan_reader import read_plan
from boardgauge.rigs.interlocks import Interlocks
from boardgauge.rigs.kinds import open_rig
from boardgauge.rigs.modbus_kind import _addressed
from boardgauge.rigs.rig import Change, RigFailure
from boardgauge.rigs.rig_file import read_rig_file, rig_file_from

FILES = Path(__file__).parents[2] / "docs" / "rig-files"


def test_the_example_is_driven_seen_and_falls_safe() -> None:
    """It samples its input, keeps to its watchdog and starts anew after it."""
    text = f"""language = 1
[rig]
kind = "process"
name = "example"
[process]
command = [{sys.executable!r}, "fixture.py"]
[drives]
power = "K1"
y = "K2"
[sees]
cc = "D1"
"""
    with open_rig(rig_file_from(text, str(FILES / "rig.toml"), TARNBECK)) as rig:
        assert rig.facts.sampled
        assert rig.facts.watchdog == 500_000
        assert rig.start().changes == (Change(0, "cc", False),)
        moment = rig.set({"power": True, "y": True})
        report = rig.wait(moment + 1_000)
        assert report.changes == (Change(report.now, "cc", True),)
        time.sleep(0.7)
        with pytest.raises(RigFailure, match="nothing was heard"):
            rig.wait(report.now + 10)
        assert rig.start().changes == (Change(0, "cc", False),), "its watchdog had switched the first relay off"


@pytest.mark.parametrize("ends", ["input", "answers", "slip"])
def test_the_example_ends_safe_whatever_ends_it(tmp_path: Path, ends: str) -> None:
    """The end of its input, an answer that nobody reads (we were killed in the middle), and what it cannot read."""
    log = tmp_path / "log"
    hardware = f"RELAYS[name] = level; open({str(log)!r}, 'a').write(f'{{name}}={{level}}\\n')  # "
    source = (FILES / "fixture.py").read_text().replace("RELAYS[name] = level  # ", hardware)
    program = subprocess.Popen([sys.executable, "-c", source], stdin=PIPE, stdout=PIPE, stderr=subprocess.DEVNULL)
    with ended(program):
        assert program.stdin is not None
        assert program.stdout is not None
        program.stdin.write(b"start\nset K1=1 K2=1\n")
        program.stdin.flush()
        assert [program.stdout.readline().split()[0] for _ in range(3)] == [b"at", b"ok", b"ok"]
        assert log.read_text().split()[-2:] == ["K1=1", "K2=1"]
        if ends == "answers":
            program.stdout.close()
        if ends != "input":
            program.stdin.write(b"\xff\n" if ends == "slip" else b"wait 1000\n")
            program.stdin.flush()
        else:
            program.stdin.close()
        program.wait(60)
    assert log.read_text().split()[-2:] == ["K1=0", "K2=0"]


def test_the_rig_files_and_the_plan_fit_each_other() -> None:
    """The plan of the documents is carried out on the modules of the documents, as far as can be said beforehand."""
    plan = read_plan(FILES / "plan-tarnbeck.toml", TARNBECK)
    file = read_rig_file(FILES / "modules.toml", TARNBECK)
    drives = _addressed(file.own, file.points.drives, 1, "drives")
    sees = _addressed(file.own, file.points.sees, 1, "sees")
    assert not file.own.problems
    assert len({address for _, address in drives.values()}) == len(drives)
    assert len({address for _, address in sees.values()}) == len(sees)
    with open_rig(read_rig_file(FILES / "simulated.toml", TARNBECK)) as rig:
        assert refusals(TARNBECK, plan, rig.facts, Interlocks(TARNBECK, file.never)) == ()

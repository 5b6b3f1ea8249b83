"""The pytest plugin, in runs of pytest of its own: judged tests, cases of scenarios, and no cost to others."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from boardgauge.boards import board_path
from boardgauge.faults import fault_of
from boardgauge.language import read_board
from exports.compiled_boards import needs_compiler
from firmware.firmware_builds import exported


def pytest_in(folder: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    """Run pytest in a folder, with nothing of this run's own settings."""
    environment = {k: v for k, v in os.environ.items() if not k.startswith("PYTEST_")}
    command = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", *arguments]
    return subprocess.run(
        command, cwd=folder, env=environment, capture_output=True, text=True, timeout=120, check=False
    )


@pytest.fixture(scope="module")
def firmware(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the extract fan as firmware, a good one and one whose rest is too short."""
    folder = tmp_path_factory.mktemp("firmware")
    board = read_board(board_path("extract-fan"))
    exported(board, folder / "good").rename(folder / "good.so")
    exported(fault_of(board, "rest.lasts.short").board, folder / "bad").rename(folder / "bad.so")
    return folder


TESTS = """
import pytest

pytestmark = pytest.mark.board_spec("extract-fan", firmware="good.so")

def test_it_comes_on(firmware_bench):
    firmware_bench.begin(damp="90 %")
    firmware_bench.power()
    assert firmware_bench.wait_for("fan", at_most="20 s")
    firmware_bench.check()

def test_never_checked(firmware_bench):
    firmware_bench.begin(damp="90 %")
    firmware_bench.power()
    firmware_bench.wait("20 s")

def test_nothing_done(firmware_bench, spec_board):
    assert spec_board.id == "extract-fan"
"""


@needs_compiler
def test_tests_are_judged_whether_they_ask_or_not(firmware: Path) -> None:
    """A good firmware passes; a bad one fails each test that showed it, with the judge's words, on two workers."""
    (firmware / "test_judged.py").write_text(TESTS, encoding="utf-8")
    good = pytest_in(firmware, "test_judged.py", "--strict-markers")
    assert "3 passed" in good.stdout, good.stdout + good.stderr
    bad = pytest_in(firmware, "test_judged.py", "--firmware", "bad.so", "-n", "2")
    assert "2 failed, 1 passed" in bad.stdout, bad.stdout + bad.stderr
    assert bad.stdout.count("bad.so deviates from the spec extract-fan") >= 2
    for words in ("seen      ", "expected  ", "allowed   ", "too early", "what was done until then:", "supply on"):
        assert words in bad.stdout, bad.stdout


SCENARIO = """
language = 1
board = "extract-fan"
title = "{title}"
steps = [ {{ power = "on" }}, {{ wait = "{wait}" }}, {{ set = {{ light = "on" }} }}, {{ wait = "50 s" }} ]
[start]
damp = "50 %"
"""


@needs_compiler
def test_every_scenario_and_sitting_is_a_test_of_its_own(firmware: Path) -> None:
    (firmware / "scenarios").mkdir(exist_ok=True)
    for title, wait in (("short", "5 s"), ("long", "15 s")):
        path = firmware / "scenarios" / f"{title}.toml"
        path.write_text(SCENARIO.format(title=title, wait=wait), encoding="utf-8")
    (firmware / "test_cases.py").write_text(
        "import pytest\n"
        '@pytest.mark.board_spec("extract-fan", firmware="good.so", scenarios="scenarios/*.toml")\n'
        "def test_case(firmware_bench, bench_case):\n"
        "    firmware_bench.carry_out(bench_case)\n",
        encoding="utf-8",
    )
    done = pytest_in(firmware, "test_cases.py", "-vv")
    assert "test_case[long] PASSED" in done.stdout, done.stdout + done.stderr
    assert "test_case[short] PASSED" in done.stdout


WRONG = {
    '@pytest.mark.board_spec("iec-tonn", firmware="x.so")': "iec-tonn.*did you mean .*iec-ton",
    '@pytest.mark.board_spec("iec-ton", firmware="x.so")': "there is no firmware .*x.so; was it built",
    '@pytest.mark.board_spec("iec-ton", firmwares="x.so")': "takes no 'firmwares'; did you mean 'firmware'",
    '@pytest.mark.board_spec("iec-ton")': "names a firmware or a rig",
    '@pytest.mark.board_spec("iec-ton", firmware="test_wrong.py", latency="soon")': "latency: .*write it as",
    "": "spec_board needs the marker board_spec",
}


def test_what_is_wrong_in_a_marker_is_told(tmp_path: Path) -> None:
    """A message that says what to do, and none of our own insides."""
    tests = [f"{mark}\ndef test_{number}(firmware_bench):\n    pass\n" for number, mark in enumerate(WRONG)]
    (tmp_path / "test_wrong.py").write_text("import pytest\n" + "\n".join(tests), encoding="utf-8")
    done = pytest_in(tmp_path, "test_wrong.py", "--tb=short")
    assert f"{len(WRONG)} errors" in done.stdout, done.stdout + done.stderr
    assert "Traceback" not in done.stdout
    assert "asked.py" not in done.stdout, done.stdout
    for told in WRONG.values():
        assert re.search(told, done.stdout), (told, done.stdout)


def test_a_run_that_does_not_use_it_imports_nothing(tmp_path: Path) -> None:
    """The plugin is there, knows its marker, and has brought in no other part of Boardgauge."""
    (tmp_path / "test_plain.py").write_text(
        "import sys\n"
        "def test_plain(pytestconfig):\n"
        '    assert any("board_spec" in row for row in pytestconfig.getini("markers"))\n'
        '    ours = [name for name in sys.modules if name.startswith("boardgauge.")]\n'
        '    assert ours == ["boardgauge.pytest_plugin"], ours\n'
        '    assert not {"attrs", "lark", "numpy", "hypothesis.stateful"} & set(sys.modules)\n',
        encoding="utf-8",
    )
    done = pytest_in(tmp_path, "test_plain.py", "-p", "no:hypothesispytest")
    assert "1 passed" in done.stdout, done.stdout + done.stderr

"""Rigs over real links: a program, and a serial port (a pair of pseudo-terminals), with a fixture of its own."""

from __future__ import annotations

import contextlib
import os
import signal
import subprocess
import sys
import threading
import time
import tty
from collections.abc import Iterator
from pathlib import Path

import pytest

from bench_fixture import WATCHDOG
from bench_plans import TARNBECK, ended
from boardgauge.rigs.kinds import open_rig
from boardgauge.rigs.line_rig import LineRig
from boardgauge.rigs.needed import MissingPackage
from boardgauge.rigs.rig import Change, Rig, RigFailure
from boardgauge.rigs.rig_file import rig_file_from

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals and signals are those of POSIX")
FIXTURE = Path(__file__).parents[1] / "bench_fixture.py"
POINTS = '[drives]\npower = "K1"\ny = "K2"\n[sees]\ncc = "D1"\n'


def program(log: Path) -> Rig:
    """Give the rig of the fixture as a program."""
    text = f"""language = 1
[rig]
kind = "process"
name = "two relays"
latency = "5 ms"
[process]
command = [{sys.executable!r}, {str(FIXTURE)!r}, {str(log)!r}]
"""
    return open_rig(rig_file_from(text + POINTS, str(log.parent / "rig.toml"), TARNBECK))


def until(log: Path, word: str, within: float = 120.0) -> list[str]:
    """Wait until the fixture's log ends with a word; give its lines."""
    deadline = time.monotonic() + within
    while time.monotonic() < deadline:
        lines = log.read_text().splitlines() if log.exists() else []
        if lines and lines[-1] == word:
            return lines
        time.sleep(0.01)
    raise AssertionError(f"{word!r} did not come: {lines}")


def levels(lines: list[str]) -> dict[str, str]:
    """Give how the relays stand at the end of a log."""
    return dict(line.split("=") for line in lines if "=" in line)


def test_a_program_is_driven_and_seen(tmp_path: Path) -> None:
    """The change that a relay brings about is reported with the fixture's own moment."""
    with program(tmp_path / "log") as rig:
        assert rig.start().changes == (Change(0, "cc", False),)
        driven = rig.set({"power": True, "y": True})
        found: list[Change] = []
        while not found:
            report = rig.wait(driven + 2_000_000)
            found += report.changes
            assert report.now < driven + 2_000_000
        assert found[0].signal == "cc"
        assert found[0].value is True
        assert found[0].time - driven == 50_000
        assert levels((tmp_path / "log").read_text().splitlines()) == {"K1": "1", "K2": "1"}
    lines = until(tmp_path / "log", "end")
    assert levels(lines) == {"K1": "0", "K2": "0"}


def test_a_program_that_ends_is_told_and_the_run_with_it(tmp_path: Path) -> None:
    """Killed, the program is told of with its signal; nothing can be made safe through it any more."""
    rig = program(tmp_path / "log")
    assert isinstance(rig, LineRig)
    rig.start()
    rig._link._program.send_signal(signal.SIGKILL)  # type: ignore[attr-defined]
    with pytest.raises(RigFailure, match="ended by signal 9"):
        _wait_for_ever(rig)
    with pytest.raises(RigFailure, match="the link is lost"):
        rig.safe()
    rig.close()


def _wait_for_ever(rig: Rig) -> None:
    while True:
        rig.wait(10_000_000)


def test_a_fixture_that_hears_nothing_makes_itself_safe(tmp_path: Path) -> None:
    """A rig that is kept waiting keeps it awake; one that says nothing does not."""
    with program(tmp_path / "log") as rig:
        rig.start()
        rig.set({"power": True})
        end = time.monotonic() + 1.3 * WATCHDOG
        now = 0
        while time.monotonic() < end:
            now = rig.wait(now + 100_000).now
        assert levels((tmp_path / "log").read_text().splitlines())["K1"] == "1"
        lines = until(tmp_path / "log", "silence")
        assert levels(lines) == {"K1": "0", "K2": "0"}
        with pytest.raises(RigFailure, match="watchdog"):
            rig.set({"power": True})


OWNER = """
import signal, sys, time
# Started in the background we would not hear Ctrl-C, and neither would this process.
signal.signal(signal.SIGINT, signal.default_int_handler)
sys.path[:0] = [{tests!r}, {here!r}]
import pathlib, test_real_links
rig = test_real_links.program(pathlib.Path({log!r}))
with rig:
    rig.start()
    rig.set({{"power": True, "y": True}})
    print("driven", flush=True)
    while True:
        rig.wait(10**9)
"""


@pytest.mark.parametrize("sign", [signal.SIGKILL, signal.SIGTERM, signal.SIGINT])
def test_whatever_ends_us_the_fixture_ends_safe(tmp_path: Path, sign: signal.Signals) -> None:
    """Killed without a word, ended or broken off: all relays are off within the watchdog's time."""
    log = tmp_path / "log"
    owner = OWNER.format(tests=str(FIXTURE.parent), here=str(Path(__file__).parent), log=str(log))
    command = [sys.executable, "-c", owner]
    with ended(subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL)) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == b"driven\n"
        assert levels(log.read_text().splitlines()) == {"K1": "1", "K2": "1"}
        process.send_signal(sign)
        lines = until(log, "end")
        process.wait(60)
    assert levels(lines) == {"K1": "0", "K2": "0"}


@pytest.fixture
def two_ports() -> Iterator[tuple[str, str, list[int]]]:
    """Give two serial ports with a cable between them: what goes into one comes out of the other."""
    pairs = [os.openpty() for _ in range(2)]
    for master, slave in pairs:
        tty.setraw(master)
        tty.setraw(slave)

    def copy(source: int, sink: int) -> None:
        try:
            while data := os.read(source, 1024):
                os.write(sink, data)
        except OSError:
            pass

    (one, _), (other, _) = pairs
    for source, sink in ((one, other), (other, one)):
        threading.Thread(target=copy, args=(source, sink), daemon=True).start()
    masters = [one, other]
    yield os.ttyname(pairs[0][1]), os.ttyname(pairs[1][1]), masters
    for master, slave in pairs:
        for descriptor in (master, slave):
            with contextlib.suppress(OSError):
                os.close(descriptor)


def test_a_fixture_on_a_serial_port(tmp_path: Path, two_ports: tuple[str, str, list[int]]) -> None:
    """Driven, seen, left alone until its watchdog comes in, and started again."""
    ours, theirs, _ = two_ports
    log = tmp_path / "log"
    text = f'language = 1\n[rig]\nkind = "serial"\nname = "bench-2"\n[serial]\nport = {ours!r}\nbaud = 115200\n'
    fixture = subprocess.Popen([sys.executable, str(FIXTURE), str(log), theirs])
    with ended(fixture), open_rig(rig_file_from(text + POINTS, "rig.toml", TARNBECK)) as rig:
        assert rig.facts.watchdog == WATCHDOG * 1_000_000
        rig.start()
        driven = rig.set({"power": True})
        found: list[Change] = []
        while not found:
            found += rig.wait(driven + 2_000_000).changes
        assert (found[0].signal, found[0].value) == ("cc", True)
        until(log, "silence")
        with pytest.raises(RigFailure, match="watchdog"):
            rig.wait(10_000_000)
        rig.start()
        rig.set({"y": True})
        assert levels(log.read_text().splitlines()) == {"K1": "0", "K2": "1"}
    assert levels(log.read_text().splitlines()) == {"K1": "0", "K2": "0"}


def test_a_port_that_is_not_there_is_told() -> None:
    """No traceback: the port and the reason."""
    text = 'language = 1\n[rig]\nkind = "serial"\nname = "x"\n[serial]\nport = "/dev/no-such-port"\n'
    with pytest.raises(RigFailure, match="the port /dev/no-such-port cannot be opened"):
        open_rig(rig_file_from(text, "rig.toml", TARNBECK))


def test_a_library_that_is_missing_is_told_with_what_brings_it(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without pyserial the message has the command to install it."""
    monkeypatch.setitem(sys.modules, "serial", None)
    text = 'language = 1\n[rig]\nkind = "serial"\nname = "x"\n[serial]\nport = "/dev/no-such-port"\n'
    with pytest.raises(MissingPackage, match=r'this rig needs pyserial: in the clone, pip install "\.\[rigs\]"'):
        open_rig(rig_file_from(text, "rig.toml", TARNBECK))

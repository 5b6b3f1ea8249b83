"""Law: what takes long says so on a terminal, and leaves nothing of it behind; elsewhere nothing is said."""

from __future__ import annotations

import io
import time

import pytest

from boardgauge.command import taking_long as module
from boardgauge.command.taking_long import taking_long


class Terminal(io.StringIO):
    """Keeps all that was written."""

    def isatty(self) -> bool:
        return True

    def left(self) -> str:
        """Give what stands on the line in the end."""
        line = ""
        for part in self.getvalue().split("\r"):
            line = part + line[len(part) :]
        return line.rstrip()


@pytest.fixture(autouse=True)
def _quick(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "AFTER", 0.05)
    monkeypatch.setattr(module, "EVERY", 0.01)


def wait_for(terminal: io.StringIO, words: str) -> None:
    until = time.monotonic() + 20
    while words not in terminal.getvalue() and time.monotonic() < until:
        time.sleep(0.005)


def test_what_takes_long_says_so_and_leaves_nothing() -> None:
    terminal = Terminal()
    with taking_long("judging " + "x" * 100 + ".csv", terminal):
        wait_for(terminal, "s so far")
    assert "s so far" in terminal.getvalue()
    assert max(len(line) for line in terminal.getvalue().split("\r")) <= 78
    assert terminal.left() == ""


def test_it_leaves_nothing_where_something_goes_wrong() -> None:
    terminal = Terminal()

    def goes_wrong() -> None:
        with taking_long("judging x.csv", terminal):
            wait_for(terminal, "judging x.csv: 0 s so far")
            raise ValueError("wrong")

    with pytest.raises(ValueError, match="wrong"):
        goes_wrong()
    assert "judging x.csv: 0 s so far" in terminal.getvalue()
    assert terminal.left() == ""


def test_what_is_done_at_once_says_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "AFTER", 60.0)
    terminal = Terminal()
    with taking_long("judging x.csv", terminal):
        pass
    assert terminal.getvalue() == ""


def test_elsewhere_than_on_a_terminal_nothing_is_said() -> None:
    elsewhere = io.StringIO()
    with taking_long("judging x.csv", elsewhere):
        time.sleep(0.1)
    assert elsewhere.getvalue() == ""

"""A program that is gone is told of, whatever a library did about broken pipes."""

from __future__ import annotations

import signal
import sys
from collections.abc import Iterator
from typing import Any

import pytest

from boardgauge.rigs.links import LinkLost, ProgramLink

pytestmark = pytest.mark.skipif(not hasattr(signal, "SIGPIPE"), reason="there is no such signal there")


@pytest.fixture
def broken(request: pytest.FixtureRequest) -> Iterator[Any]:
    """The signal, handled as the test says for as long as it takes."""
    before = signal.signal(signal.SIGPIPE, request.param)
    yield request.param
    signal.signal(signal.SIGPIPE, before)


@pytest.mark.parametrize("broken", [signal.SIG_DFL], indirect=True)
def test_a_dead_program_does_not_end_us(broken: Any) -> None:
    """Handed back to the system, the signal would end this process at the first write."""
    link = ProgramLink((sys.executable, "-c", ""))
    link._program.wait()
    with pytest.raises(LinkLost, match="has ended with status 0"):
        link.send("hello")
    link.close()
    assert signal.getsignal(signal.SIGPIPE) is signal.SIG_IGN


def handled(*_: object) -> None:
    """Handle the signal as somebody else wants it."""


@pytest.mark.parametrize("broken", [handled], indirect=True)
def test_who_handles_it_keeps_it(broken: Any) -> None:
    ProgramLink((sys.executable, "-c", "")).close()
    assert signal.getsignal(signal.SIGPIPE) is handled

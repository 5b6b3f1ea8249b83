"""Links to a fixture: lines out, lines in.

Law of this module: a read waits no longer than it is told, and a link that is gone says so. No line is understood here.
"""

from __future__ import annotations

import contextlib
import subprocess
import sys
import tempfile
import time
from abc import ABC, abstractmethod
from collections.abc import Sequence
from typing import IO, Any

from attrs import define, field

from boardgauge.processes.broken_pipes import outlive_broken_pipes
from boardgauge.rigs.lines import LONGEST, shown
from boardgauge.rigs.pump import Pump
from boardgauge.rigs.rig import RigFailure

MOST_WAITING = 1 << 20
"""More bytes without an end of line are not of a fixture."""
ENDS_WITHIN = 1.0
"""Seconds that a program is given to end by itself, and again after it was told to."""


class LinkLost(RigFailure):
    """The program has ended or the port is gone."""


class Link(ABC):
    """Lines out and in.

    Behind it an answer takes ``answers_within`` seconds at most, and the first ``hello_within``, since a fixture may
    have to start up. A program's end is noticed at once, so it may take longer on a busy machine.
    """

    hello_within: float = 10.0
    answers_within: float = 1.0
    _rest: bytes = b""

    @abstractmethod
    def send(self, line: str) -> None:
        """Send a line. Raises LinkLost."""

    @abstractmethod
    def receive(self, within: float) -> bytes:
        """Give what has come, waiting so many seconds for the first byte of it; b"" if nothing came.

        Raises LinkLost.
        """

    @abstractmethod
    def close(self) -> None:
        """Let go of it, in a bounded time."""

    def line(self, within: float) -> str | None:
        """Give the next line, without its end; None if none came within so many seconds. Raises LinkLost."""
        deadline = time.monotonic() + within
        while b"\n" not in self._rest:
            left = deadline - time.monotonic()
            data = self.receive(max(0.0, left))
            if not data and left <= 0:
                return None
            self._rest += data
            if len(self._rest) > MOST_WAITING:
                raise LinkLost(f"what comes has no lines: {shown(self._rest[:LONGEST].decode('latin-1'))}")
        line, _, self._rest = self._rest.partition(b"\n")
        return line.decode("utf-8", "replace").rstrip("\r")


@define(eq=False)
class ProgramLink(Link):
    """A program that speaks on its standard input and output."""

    hello_within = 60.0
    answers_within = 5.0

    command: Sequence[str]
    folder: str | None = None
    _program: subprocess.Popen[bytes] = field(init=False)
    _said: IO[bytes] = field(init=False)
    _pump: Pump = field(init=False)

    def __attrs_post_init__(self) -> None:
        outlive_broken_pipes()
        self._said = tempfile.TemporaryFile()  # noqa: SIM115  # it lives as long as the link
        try:
            self._program = subprocess.Popen(
                list(self.command),
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=self._said,
                cwd=self.folder,
                bufsize=0,
                # A Ctrl-C on the terminal is for us: the fixture is made safe first.
                start_new_session=sys.platform != "win32",
            )
        except (OSError, ValueError) as error:
            self._said.close()
            why = getattr(error, "strerror", None) or error
            raise RigFailure(f"{self.command[0]} cannot be run: {why}") from None
        assert self._program.stdout is not None
        self._pump = Pump(self._program.stdout.fileno())

    def send(self, line: str) -> None:
        assert self._program.stdin is not None
        try:
            self._program.stdin.write(line.encode() + b"\n")
        except (BrokenPipeError, ValueError):
            raise self._lost() from None

    def receive(self, within: float) -> bytes:
        data = self._pump.take(within)
        if data is None:
            raise self._lost()
        return data

    def _lost(self) -> LinkLost:
        try:
            status = self._program.wait(ENDS_WITHIN)
            how = f"was ended by signal {-status}" if status < 0 else f"has ended with status {status}"
        except subprocess.TimeoutExpired:
            how = "has closed its output"
        if self._said.closed:
            return LinkLost(f"the program {self.command[0]} was let go")
        self._said.seek(0)
        words = self._said.read()[-4000:].decode("utf-8", "replace").strip().splitlines()
        said = f"; it last said: {words[-1].strip()}" if words else ""
        return LinkLost(f"the program {self.command[0]} {how}{said}")

    def close(self) -> None:
        with contextlib.suppress(OSError):
            if self._program.stdin is not None:
                self._program.stdin.close()
        for end in (None, self._program.terminate, self._program.kill):
            if end is not None:
                end()
            with contextlib.suppress(subprocess.TimeoutExpired):
                self._program.wait(ENDS_WITHIN)
                break
        self._said.close()


@define(eq=False)
class PortLink(Link):
    """A serial port, by pyserial."""

    port: str
    baud: int
    _open: Any = field(init=False)

    def __attrs_post_init__(self) -> None:
        from boardgauge.rigs.needed import needed

        serial = needed("serial", "pyserial")
        try:
            self._open = serial.Serial(self.port, self.baud, timeout=0, write_timeout=1, exclusive=True)
            self._open.reset_input_buffer()
        except (OSError, ValueError) as error:
            raise RigFailure(f"the port {self.port} cannot be opened: {error}") from None

    def send(self, line: str) -> None:
        try:
            self._open.write(line.encode() + b"\n")
        except OSError as error:
            raise LinkLost(f"the port {self.port} is gone: {error}") from None

    def receive(self, within: float) -> bytes:
        try:
            self._open.timeout = within
            first: bytes = self._open.read(1)
            if not first:
                return b""
            waiting: int = self._open.in_waiting
            more: bytes = self._open.read(waiting) if waiting else b""
            return first + more
        except OSError as error:
            raise LinkLost(f"the port {self.port} is gone: {error}") from None

    def close(self) -> None:
        with contextlib.suppress(OSError):
            self._open.close()

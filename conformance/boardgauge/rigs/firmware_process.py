"""The process that a firmware is loaded in, and the firmware as a rig there.

Law of this module: it runs in a process of its own and nothing else does: the firmware may crash, hang or write where
it likes, and takes only this process with it. Time is the firmware's own.
"""

from __future__ import annotations

import ctypes
import json
import os
import sys
import threading
import time
from collections.abc import Mapping
from fractions import Fraction
from typing import Any

from boardgauge.rigs.rig import POWER, Change, Report, Rig, RigFacts, RigFailure, Value
from boardgauge.rigs.serving import serve

VERSION = 1
CALLS = ("boardgauge_start", "boardgauge_input", "boardgauge_run", "boardgauge_output")
CANNOT_LOAD, TOO_SLOW = 70, 71
"""Exit statuses of the process."""
AT_ONE_MOMENT = 1


class TimeLimit:
    """Ends the process when one call into the firmware takes too long; nothing else can stop a call in C."""

    def __init__(self, seconds: float) -> None:
        self._seconds = seconds
        self._doing = ""
        self._until: float | None = None
        threading.Thread(target=self._watch, daemon=True).start()

    def __call__(self, doing: str) -> TimeLimit:
        """Say what is called now."""
        self._doing = doing
        return self

    def __enter__(self) -> None:
        self._until = time.monotonic() + self._seconds

    def __exit__(self, *_: object) -> None:
        self._until = None

    def _watch(self) -> None:
        while True:
            time.sleep(min(0.05, self._seconds))
            until = self._until
            if until is not None and time.monotonic() > until:
                print(f"{self._doing} did not come back within {self._seconds:g} s", file=sys.stderr, flush=True)
                os._exit(TOO_SLOW)


class Firmware(Rig):
    """A firmware behind the four functions of ``boardgauge_firmware.h``.

    ``drives`` has the inputs with their safe values, ``settings`` the positions of each setting that a person chooses.
    """

    def __init__(
        self,
        library: Any,
        name: str,
        drives: Mapping[str, Value],
        sees: tuple[str, ...],
        settings: Mapping[str, tuple[str, ...]],
        limit: TimeLimit,
    ) -> None:
        self._c = library
        self._settings = dict(settings)
        self._limit = limit
        self._facts = RigFacts(name, "library", drives, sees, virtual=True, chooses=bool(settings), pulses=True)
        self._now = 0
        self._levels: dict[str, Value] = {}
        self._stands: dict[str, bool] = {}
        self._seen: list[Change] = []
        self._at_once = 0

    @property
    def facts(self) -> RigFacts:
        return self._facts

    def start(self, settings: Mapping[str, str] | None = None) -> Report:
        with self._limit("boardgauge_start"):
            version = self._c.boardgauge_start()
        if version != VERSION:
            raise RigFailure(
                f"boardgauge_start gives {version}: the firmware is for another version, this is {VERSION}"
            )
        self._now, self._levels, self._seen = 0, {}, []
        for name, position in (settings or {}).items():
            positions = self._settings.get(name, ())
            if position not in positions:
                raise RigFailure(f"there is no position {position!r} of {name!r}")
            self._input(name, positions.index(position))
        self._set(self._facts.drives)
        self._stands = {name: self._output(name) for name in self._facts.sees}
        return Report(0, tuple(Change(0, name, value) for name, value in self._stands.items()))

    def set(self, levels: Mapping[str, Value]) -> int:
        # All up to now is told already; what comes now comes a microsecond later.
        self._run_to(self._now + 1)
        self._set(levels)
        return self._now

    def pulse(self, levels: Mapping[str, Value], back: Mapping[str, Value], length: int) -> tuple[int, int]:
        begins = self.set(levels)
        self._run_to(begins + length)
        self._set(back)
        return begins, self._now

    def wait(self, until: int) -> Report:
        # An input may have done something at the very moment it was set.
        self._look()
        while not self._seen and self._now < until:
            self._run_once(until)
        changes, self._seen = tuple(self._seen), []
        return Report(self._now, changes)

    def safe(self) -> None:
        self._run_to(self._now + 1)
        self._set({POWER: self._facts.drives.get(POWER, False), **self._facts.drives})

    def close(self) -> None:
        """Let go; the library goes with the process."""

    # -- the four functions --------------------------------------------------------------------------------------

    def _set(self, levels: Mapping[str, Value]) -> None:
        # Without the supply nothing else matters, and with it the board looks at inputs that stand already.
        order = sorted(levels, key=lambda name: (name == POWER) == bool(levels.get(POWER)))
        for name in order:
            if self._levels.get(name) != levels[name]:
                self._input(name, float(levels[name]))
                self._levels[name] = levels[name]

    def _input(self, name: str, level: float) -> None:
        with self._limit(f"boardgauge_input({name})"):
            found = self._c.boardgauge_input(name.encode(), level)
        if found != 0:
            raise RigFailure(f"the firmware knows no input {name!r} (boardgauge_input gives {found})")

    def _output(self, name: str) -> bool:
        with self._limit(f"boardgauge_output({name})"):
            level = self._c.boardgauge_output(name.encode())
        if level not in (0, 1):
            raise RigFailure(f"the firmware knows no output {name!r} (boardgauge_output gives {level})")
        return bool(level)

    def _look(self) -> None:
        for name, before in self._stands.items():
            now = self._output(name)
            if now != before:
                self._seen.append(Change(self._now, name, now))
                self._stands[name] = now

    def _run_once(self, until: int) -> None:
        with self._limit(f"boardgauge_run, from {self._now / 1_000_000:g} s to {until / 1_000_000:g} s,"):
            reached = int(self._c.boardgauge_run(until))
        if not self._now <= reached <= until:
            raise RigFailure(
                f"boardgauge_run({until}) gives {reached}, from {self._now} on: neither that time nor before"
            )
        stands = reached == self._now < until
        self._now = reached
        seen = len(self._seen)
        self._look()
        if stands and len(self._seen) == seen:
            raise RigFailure(f"boardgauge_run({until}) stays at {reached}, and no output has changed")
        self._at_once = self._at_once + 1 if stands else 0
        if self._at_once > AT_ONE_MOMENT:
            raise RigFailure(f"the outputs of the firmware keep changing at {reached / 1_000_000:g} s")

    def _run_to(self, until: int) -> None:
        while self._now < until:
            self._run_once(until)


def load(path: str) -> Any:
    """Load the library; ends the process with a message where that cannot be done."""
    try:
        library = ctypes.CDLL(path)
    except OSError as error:
        sys.exit(_cannot(f"{path} cannot be loaded: {error}"))
    missing = [name for name in CALLS if not hasattr(library, name)]
    if missing:
        sys.exit(_cannot(f"{path} has no function {', '.join(missing)}; see boardgauge_firmware.h"))
    library.boardgauge_start.argtypes = []
    library.boardgauge_input.argtypes = [ctypes.c_char_p, ctypes.c_double]
    library.boardgauge_run.argtypes = [ctypes.c_uint64]
    library.boardgauge_run.restype = ctypes.c_uint64
    library.boardgauge_output.argtypes = [ctypes.c_char_p]
    return library


def _cannot(message: str) -> int:
    print(message, file=sys.stderr, flush=True)
    return CANNOT_LOAD


def firmware_of(said: Mapping[str, Any]) -> Firmware:
    """Give the firmware that the process was told to load."""
    drives: dict[str, Value] = {
        name: bool(value) if isinstance(value, bool) else Fraction(value) for name, value in said["drives"].items()
    }
    settings = {name: tuple(positions) for name, positions in said["settings"].items()}
    limit = TimeLimit(float(said["time_limit"]))
    return Firmware(load(said["library"]), said["name"], drives, tuple(said["sees"]), settings, limit)


if __name__ == "__main__":
    # What the firmware prints must not get among our own lines.
    answers = os.dup(1)
    os.dup2(2, 1)
    serve(firmware_of(json.loads(sys.argv[1])), sink=answers)

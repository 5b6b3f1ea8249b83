"""The rig of kind ``library``: firmware, compiled for this computer as a shared library, in a process of its own.

Law of this module: nothing real is driven, so whatever becomes of the firmware, everything is safe; that it crashed or
hung is told, with what it was doing, and never takes us down.

::

    [library]
    file = "build/fan.so"              # has the four functions of boardgauge_firmware.h
    time_limit = "10 s"                # by the clock on the wall, for one call; 10 s unless said
"""

from __future__ import annotations

import contextlib
import json
import signal
import sys
from collections.abc import Callable
from fractions import Fraction
from importlib import resources
from pathlib import Path

from attrs import define, field

from boardgauge.language.model import Board
from boardgauge.language.problems import UnusableSpec
from boardgauge.rigs.board_rig import safe_levels
from boardgauge.rigs.firmware_process import CANNOT_LOAD, TOO_SLOW
from boardgauge.rigs.line_rig import LineRig
from boardgauge.rigs.links import LinkLost, ProgramLink
from boardgauge.rigs.points import Points
from boardgauge.rigs.rig import POWER, Rig, RigFailure, Value
from boardgauge.rigs.rig_file import RigFile
from boardgauge.rigs.rig_table import text, time

KEYS = ("file", "time_limit")
TIME_LIMIT = 10_000_000
HEADER = "boardgauge_firmware.h"


def prepare(file: RigFile) -> Callable[[], Rig]:
    """Give what loads the firmware and gives the rig. Raises UnusableSpec; what it gives raises RigFailure."""
    own = file.own
    own.only(KEYS)
    path = own.need("file", "", text, '"build/fan.so"')
    limit = own.take("time_limit", TIME_LIMIT, time, '"10 s"')
    if path and not (file.folder / path).is_file():
        own.wrong(own.values["file"].at, "file", f"there is no file {path!r}; was the firmware built?")
    if limit <= 0:
        own.wrong(own.values["time_limit"].at, "time_limit", "no call takes no time", '"10 s"')
    if own.problems:
        raise UnusableSpec(own.problems)
    return lambda: open_library(
        file.board,
        file.folder / path,
        name=file.name,
        points=file.points,
        safe=file.safe,
        time_limit=limit,
        latency=file.latency,
    )


def open_library(
    board: Board,
    path: Path,
    *,
    name: str = "firmware",
    points: Points | None = None,
    safe: dict[str, Value] | None = None,
    time_limit: int = TIME_LIMIT,
    latency: int = 0,
) -> Rig:
    """Give the rig of a firmware. ``time_limit`` and ``latency`` are in microseconds.

    A sensor that nothing is said about stands at 0 to begin with. Raises RigFailure where it cannot be loaded.
    """
    known = points or Points()
    values: dict[str, Value] = {**dict.fromkeys(board.inputs, Fraction(0)), **safe_levels(board), **(safe or {})}
    # By the names of the firmware: what it is told on the way through the rig file's points is turned there.
    drives = dict(values)
    if known.drives is not None:
        drives = {point.name: point.level(values[signal]) for signal, point in known.drives.items()}
    sees = [*board.outputs, *board.lamps]
    if known.sees is not None:
        sees = [point.name for point in known.sees.values()]
    said = {
        "library": str(path.resolve()),
        "name": name,
        "drives": {n: v if isinstance(v, bool) else str(v) for n, v in drives.items()},
        "sees": sees,
        "settings": {n: [p.name for p in row.positions] for n, row in board.settings.items() if row.positions[0].name},
        "time_limit": time_limit / 1_000_000,
    }
    command = [sys.executable, "-m", "boardgauge.rigs.firmware_process", json.dumps(said)]
    return LibraryRig(
        board,
        name,
        "library",
        lambda: FirmwareLink(command, path=path),
        known,
        values if POWER in values else {},
        latency,
        coils=True,
    )


def interface_header() -> str:
    """Give the text of the header that a firmware for this rig includes."""
    return resources.files(__package__).joinpath(HEADER).read_text(encoding="utf-8")


@define(eq=False)
class FirmwareLink(ProgramLink):
    """The link to the process of a firmware; tells what became of the firmware, and not of the process."""

    path: Path = field(kw_only=True)
    _asked: str = "hello"

    def send(self, line: str) -> None:
        if self._program.poll() is None:
            self._asked = line
        super().send(line)

    def _lost(self) -> LinkLost:
        told = str(super()._lost())
        said = told.partition("; it last said: ")[2]
        status = self._program.returncode
        if status == CANNOT_LOAD:
            return LinkLost(said)
        if status == TOO_SLOW:
            return LinkLost(f"the firmware {self.path.name} hangs: {said}")
        doing = f", asked for: {self._asked}"
        if status is not None and status < 0:
            with contextlib.suppress(ValueError):
                name = signal.Signals(-status).name
                return LinkLost(f"the firmware {self.path.name} crashed with {name}{doing}{_quoted(said)}")
        if status is not None:
            return LinkLost(
                f"the firmware {self.path.name} ended its process with status {status}{doing}{_quoted(said)}"
            )
        return LinkLost(told)


def _quoted(said: str) -> str:
    return f"; it last said: {said}" if said else ""


class LibraryRig(LineRig):
    """Firmware in a process of its own."""

    def safe(self) -> None:
        """Bring its inputs to rest. A firmware that is dead or hangs drives nothing, and that is safe."""
        with contextlib.suppress(RigFailure):
            super().safe()

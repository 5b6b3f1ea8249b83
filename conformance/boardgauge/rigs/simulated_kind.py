"""The rig of kind ``simulated``: a simulated board in a process of its own, behind the line protocol.

Law of this module: the process gets all it needs on its command line, and knows nothing of us: what ends us does not
end it before it has made itself safe.

::

    [simulated]
    timings = "random"                 # nominal, earliest, latest or random (unless said) within what the spec allows
    seed = 7                           # of every chance; 0 unless said
    speed = "virtual"                  # as fast as it can (unless said), or so many times as fast as a clock: 60
    fault = "restart_delay: absent"    # an id of `boardgauge faults`
    watchdog = "1 s"                   # with a clock: safe after so long without a word; 1 s unless said
    log = "fixture.log"                # where the fixture writes down what it drives, apart from our records

    [durations]                        # how long timings last: a time, or a list of times, one after another
    restart_delay = "45 s"
"""

from __future__ import annotations

import json
import os
import pickle
import sys
import tempfile
from collections.abc import Callable, Mapping
from fractions import Fraction
from pathlib import Path
from typing import cast

from boardgauge.language.model import Board, InputKind
from boardgauge.language.nodes import Node
from boardgauge.language.problems import Unreadable, UnusableSpec, nearest_of
from boardgauge.language.quantity_reader import read_plain_time
from boardgauge.language.quantity_writer import write_plain_time
from boardgauge.machine.chance import TIMINGS
from boardgauge.machine.compile import compile_board
from boardgauge.rigs.board_rig import BoardRig
from boardgauge.rigs.line_rig import LineRig
from boardgauge.rigs.lines import number_of, number_text
from boardgauge.rigs.links import ProgramLink
from boardgauge.rigs.paced import Paced
from boardgauge.rigs.rig import Report, Rig, RigFacts, Value
from boardgauge.rigs.rig_file import RigFile
from boardgauge.rigs.rig_table import Table, above_zero, text, time, whole
from boardgauge.rigs.serving import serve

KEYS = ("timings", "seed", "speed", "fault", "watchdog", "log")


def prepare(file: RigFile) -> Callable[[], Rig]:
    """Give what starts the process and gives the rig. Raises UnusableSpec; what it gives raises RigFailure."""
    said = said_in(file)
    return lambda: _started(file, said)


def _started(file: RigFile, said: dict[str, object]) -> Rig:
    said = dict(said)
    # The board itself, and not its file: it may be a variant, which no single file has.
    descriptor, said["board"] = tempfile.mkstemp(prefix="boardgauge-", suffix=".board")
    with os.fdopen(descriptor, "wb") as handed:
        pickle.dump(file.board, handed)
    command = [sys.executable, "-m", "boardgauge.rigs.simulated_kind", json.dumps(said)]
    try:
        return LineRig.of(file, lambda: ProgramLink(command), coils=True)
    finally:
        # The process has read it before it answered to hello.
        Path(str(said["board"])).unlink(missing_ok=True)


def said_in(file: RigFile) -> dict[str, object]:
    """Give what the process is told, of the table of the kind. Raises UnusableSpec."""
    own = file.own
    own.only(KEYS)
    timings = own.take("timings", "random", text, "one of " + ", ".join(TIMINGS))
    if timings not in TIMINGS:
        own.wrong(own.values["timings"].at, "timings", f"{timings!r} is none", "one of " + ", ".join(TIMINGS))
    fault = own.take("fault", "", text, "an id of a fault of the board")
    if fault:
        from boardgauge.faults import UnknownFault, fault_of

        try:
            fault_of(file.board, fault)
        except UnknownFault as error:
            own.wrong(own.values["fault"].at, "fault", str(error))
    log = own.take("log", "", text, "the name of a file")
    said: dict[str, object] = {
        "name": file.name,
        "timings": timings,
        "seed": own.take("seed", 0, whole, "a whole number"),
        "speed": own.take("speed", "virtual", _speed, '"virtual", or a number above 0'),
        "fault": fault,
        "watchdog": own.take("watchdog", 1_000_000, time, '"1 s"'),
        "log": str((file.folder / log).resolve()) if log else "",
        "durations": _durations(file),
        "safe": {name: number_text(value) for name, value in (_sensors(file.board) | file.safe).items()},
    }
    if own.problems:
        raise UnusableSpec(own.problems)
    return said


def _sensors(board: Board) -> dict[str, Value]:
    """Give the sensors at 0: nothing real is driven, so any number is safe where the rig file says none."""
    return {row.id: Fraction(0) for row in board.inputs.values() if row.kind is InputKind.SENSOR}


def _speed(value: object) -> str:
    return "virtual" if value == "virtual" else str(above_zero(value))


def _durations(file: RigFile) -> dict[str, list[int]]:
    root = Table("", file.own.node, file.durations, file.own.problems)
    rows = {row.name: row for row in compile_board(file.board).timings} if file.durations else {}
    found: dict[str, list[int]] = {}
    for name, node in file.durations.items():
        row = rows.get(name)
        if row is None:
            root.wrong(node.key_at, f"durations.{name}", "the board has no such timing", None, nearest_of(name, rows))
            continue
        least, most = min(d.shortest for d in row.choices), max(d.longest for d in row.choices)
        expected = f'a time from "{write_plain_time(least)}" to "{write_plain_time(most)}"'
        lengths = cast("list[Node]", node.value) if isinstance(node.value, list) else [node]
        for length in lengths:
            try:
                read = read_plain_time(text(length.value))
            except (Unreadable, TypeError):
                root.wrong(length.at, f"durations.{name}", "this is no time", expected)
                continue
            if not least <= read <= most:
                root.wrong(length.at, f"durations.{name}", "it is outside what the spec allows", expected)
            found.setdefault(name, []).append(read)
    return found


class Logged(Rig):
    """A rig that writes down what it drives, a line a change, as it does so: the fixture's own word."""

    def __init__(self, behind: Rig, path: Path) -> None:
        self._behind = behind
        self._file = path.open("a", encoding="utf-8")

    @property
    def facts(self) -> RigFacts:
        return self._behind.facts

    def _note(self, what: str, levels: Mapping[str, Value]) -> None:
        said = {name: number_text(value) for name, value in levels.items()}
        self._file.write(json.dumps({"did": what, "levels": said}) + "\n")
        self._file.flush()

    def start(self, settings: Mapping[str, str] | None = None) -> Report:
        report = self._behind.start(settings)
        self._note("start", self.facts.drives)
        return report

    def set(self, levels: Mapping[str, Value]) -> int:
        moment = self._behind.set(levels)
        self._note("set", levels)
        return moment

    def pulse(self, levels: Mapping[str, Value], back: Mapping[str, Value], length: int) -> tuple[int, int]:
        moments = self._behind.pulse(levels, back, length)
        self._note("set", levels)
        self._note("set", back)
        return moments

    def wait(self, until: int) -> Report:
        return self._behind.wait(until)

    def safe(self) -> None:
        self._behind.safe()
        self._note("safe", self.facts.drives)

    def close(self) -> None:
        self._behind.close()
        self._file.close()


def rig_of(said: Mapping[str, object]) -> Rig:
    """Give the rig that the process serves."""
    board: Board = pickle.loads(Path(str(said["board"])).read_bytes())
    acts = board
    if said["fault"]:
        from boardgauge.faults import fault_of

        acts = fault_of(board, str(said["fault"])).board
    rig: Rig = BoardRig(
        board,
        acts,
        said["timings"],  # type: ignore[arg-type]  # checked before
        cast(int, said["seed"]),
        cast("dict[str, list[int]]", said["durations"]),
        {name: _value(board, name, level) for name, level in cast("dict[str, str]", said["safe"]).items()},
        str(said["name"]),
    )
    if said["speed"] != "virtual":
        rig = Paced(rig, Fraction(str(said["speed"])), cast(int, said["watchdog"]))
    if said["log"]:
        rig = Logged(rig, Path(str(said["log"])))
    return rig


def _value(board: Board, name: str, level: str) -> Value:
    found = number_of(level)
    return found if board.inputs[name].kind.value == "sensor" else found == 1


if __name__ == "__main__":
    serve(rig_of(json.loads(sys.argv[1])))

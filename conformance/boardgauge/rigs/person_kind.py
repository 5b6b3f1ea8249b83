"""The rig of kind ``person``: a person sets the inputs, looks, and types what changed.

Law of this module: what a person tells is as good as a person's reaction, and no better: the reaction time is the
uncertainty of every moment. A lamp that flashes is faster than anybody can type, so a person sees outputs only.

::

    [person]
    reaction = "2 s"                   # from what is done or seen to the Enter key, at most

    [drives]                           # what the person can set, and how the prompt calls it
    power = "the supply"
    y = "clip lead Y"

    [sees]
    cc = "contactor"
"""

from __future__ import annotations

import sys
import time as clock
from collections.abc import Callable, Mapping

from attrs import define, field

from boardgauge.language.model import Board, InputKind
from boardgauge.language.problems import UnusableSpec, nearest_of
from boardgauge.language.scope import word_of
from boardgauge.rigs.links import Link
from boardgauge.rigs.points import Point
from boardgauge.rigs.pump import Pump
from boardgauge.rigs.rig import POWER, Change, Report, Rig, RigFacts, RigFailure, Value
from boardgauge.rigs.rig_file import RigFile
from boardgauge.rigs.rig_table import time

LONGEST = 0.5
"""Seconds: no wait for a line takes longer."""
_ON = ("on", "1", "+")
_OFF = ("off", "0", "-")


@define(eq=False)
class Terminal(Link):
    """The person's terminal: questions on standard error, answers on standard input."""

    source: int = 0
    _pump: Pump | None = None

    def send(self, line: str) -> None:
        print(line, file=sys.stderr, flush=True)

    def receive(self, within: float) -> bytes:
        if self._pump is None:
            self._pump = Pump(self.source)
        data = self._pump.take(within)
        if data is None:
            raise RigFailure("nobody is at the terminal any more")
        return data

    def close(self) -> None:
        """Leave it: others ask on it too."""


TERMINAL = Terminal()
"""The one terminal of this process: whoever asks on it asks through this, so that no answer is lost between two."""


def prepare(file: RigFile) -> Callable[[], Rig]:
    """Give what gives the rig. Raises UnusableSpec."""
    own, board = file.own, file.board
    own.only(("reaction",))
    reaction = own.need("reaction", 2_000_000, time, '"2 s"')
    drives, sees = file.points.drives, file.points.sees
    if drives is None:
        own.wrong(own.node.key_at, "drives", "the table of what the person sets is missing", "[drives]")
    for signal, point in (drives or {}).items():
        if point.turned:
            own.wrong(point.at, signal, "a person is told the state of the input itself; leave inverted out")
    for signal, point in (sees or {}).items():
        if signal in board.lamps:
            own.wrong(point.at, signal, "a person cannot type as fast as a lamp flashes; leave it out")
    if own.problems:
        raise UnusableSpec(own.problems)
    safe: dict[str, Value] = {}
    for signal, point in (drives or {}).items():
        if point.measured and signal not in file.safe:
            own.wrong(point.at, signal, "a sensor needs a safe value", f"[safe] {signal} = ...")
        safe[signal] = file.safe.get(signal, False)
    if own.problems:
        raise UnusableSpec(own.problems)
    facts = RigFacts(
        file.name,
        "person",
        safe,
        tuple(sees or {}),
        max(file.latency, reaction),
        file.clock_error,
        safe_within=max(file.safe_within, 60_000_000),
    )
    return lambda: PersonRig(board, facts, dict(drives or {}), dict(sees or {}))


def _wall() -> int:
    return clock.monotonic_ns() // 1000


@define(eq=False)
class PersonRig(Rig):
    """A person at a terminal, who sets what the prompt says and types how the points stand."""

    board: Board
    _facts: RigFacts
    drives: dict[str, Point]
    sees: dict[str, Point]
    terminal: Link = field(factory=lambda: TERMINAL)
    wall: Callable[[], int] = _wall
    _since: int = 0
    _now: int = 0
    _levels: dict[str, bool] = field(factory=dict)
    _known_safe: bool = True
    """Before the start nothing was driven yet."""
    _pending: list[Change] = field(factory=list)

    @property
    def facts(self) -> RigFacts:
        return self._facts

    def start(self, settings: Mapping[str, str] | None = None) -> Report:
        self._known_safe = False
        self.safe()
        self.terminal.send("Type what changes as you see it, each with Enter: " + self._example())
        self._since, self._now = self.wall(), 0
        # Without the supply every coil is off, and a contact that is normally closed is on.
        self._levels = {signal: point.turned for signal, point in self.sees.items()}
        return Report(0, tuple(Change(0, signal, False) for signal in self.sees))

    def _example(self) -> str:
        names = list(self.sees)
        return f"{names[0]} on, {names[-1]} off" if names else "nothing is to be looked at"

    def set(self, levels: Mapping[str, Value]) -> int:
        self._known_safe = False
        said = ", ".join(self._in_words(name, levels[name]) for name in levels)
        self.terminal.send(f"SET  {said}, then press Enter")
        while (line := self.terminal.line(LONGEST)) is None or line.strip():
            # What is seen meanwhile has its own moment.
            change = None if line is None else self._told(line)
            self._pending += [] if change is None else [change]
        self._now = max(self._now, self.wall() - self._since)
        return self._now

    def wait(self, until: int) -> Report:
        left = (until - (self.wall() - self._since)) / 1_000_000
        if not self._pending and left > 0:
            line = self.terminal.line(min(left, LONGEST))
            change = None if line is None or not line.strip() else self._told(line)
            self._pending += [] if change is None else [change]
        found, self._pending = tuple(self._pending), []
        self._now = max(self._now, self.wall() - self._since)
        return Report(self._now, found)

    def _told(self, line: str) -> Change | None:
        """Read what a person typed; tells what is wrong with it, and takes nothing then."""
        moment = max(self._now, self.wall() - self._since)
        name, _, word = " ".join(line.split()).partition(" ")
        if name not in self.sees:
            near = nearest_of(name, self.sees)
            hint = f"; did you mean {near}?" if near else f"; there are {', '.join(self.sees)}"
            self.terminal.send(f"not taken: there is nothing called {name!r} to look at{hint}")
            return None
        if word not in (*_ON, *_OFF):
            self.terminal.send(f"not taken: type {name} on or {name} off")
            return None
        level = word in _ON
        if self._levels[name] is level:
            self.terminal.send(f"not taken: {name} was {word} already")
            return None
        self._levels[name] = level
        point = self.sees[name]
        return Change(moment, name, level != point.turned)

    def _in_words(self, name: str, value: Value) -> str:
        point = self.drives[name]
        called = name if point.name == name else f"{name} ({point.name})"
        if point.measured:
            return f"{called} to {float(point.level(value)):g}"
        kind = InputKind.CALL if name == POWER else self.board.inputs[name].kind
        return f"{called} {word_of(kind, bool(value))}"

    def safe(self) -> None:
        if self._known_safe:
            return
        order = sorted(self.drives, key=lambda name: name != POWER)
        self.terminal.send(
            f"SAFE  {', '.join(self._in_words(n, self.facts.drives[n]) for n in order)}, then press Enter"
        )
        deadline = self.wall() + self.facts.safe_within
        while self.wall() < deadline:
            line = self.terminal.line(LONGEST)
            if line is not None and not line.strip():
                self._known_safe = True
                return
        raise RigFailure(f"nobody confirmed within {self.facts.safe_within / 1_000_000:g} s that everything is safe")

    def close(self) -> None:
        pass

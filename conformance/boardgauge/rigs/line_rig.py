"""A rig at the other end of the line protocol: a program, or a fixture on a port.

Law of this module: nothing that comes over the link is believed unseen: a line that is none, a time that goes back or a
point nobody spoke of ends the run. Every wait for an answer is bounded.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from fractions import Fraction
from typing import NoReturn

from attrs import define, field

from boardgauge.language.model import Board
from boardgauge.language.problems import nearest_of
from boardgauge.rigs.hello import About, ask_hello
from boardgauge.rigs.lines import LONGEST, BadLine, number_text, seen_of, shown, time_of, with_sum, without_sum
from boardgauge.rigs.links import Link, LinkLost
from boardgauge.rigs.points import Point, Points, by_name
from boardgauge.rigs.rig import Change, Report, Rig, RigFacts, RigFailure, Value
from boardgauge.rigs.rig_file import RigFile

VIRTUAL_WITHIN = 120.0
"""Seconds for the work that a long virtual wait may be."""
LOOK_EVERY = 0.01
"""Seconds between two questions to a fixture that answers at once."""


@define(eq=False)
class LineRig(Rig):
    """A fixture behind a link. ``opened`` makes the link; the fixture is asked what it is when the rig is made."""

    board: Board
    name: str
    kind: str
    opened: Callable[[], Link]
    points: Points = field(factory=Points)
    safe_levels: Mapping[str, Value] = field(factory=dict)
    latency: int = 0
    clock_error: Fraction = Fraction(0)
    safe_within: int = 1_000_000
    coils: bool = False
    """The fixture speaks of coils and not of terminals: a simulated board."""
    sleep: Callable[[float], None] = time.sleep
    clock: Callable[[], float] = time.monotonic
    _link: Link = field(init=False)
    _about: About = field(init=False)
    _drives: dict[str, Point] = field(init=False)
    _sees: dict[str, Point] = field(init=False)
    _facts: RigFacts = field(init=False)
    _now: int = 0
    _reported: int = -1
    _last: dict[str, int] = field(factory=dict)
    _lost: bool = False

    def __attrs_post_init__(self) -> None:
        self._link = self.opened()
        try:
            self._about = ask_hello(self.name, self._link, self.clock)
            self._drives = self._matched(self.points.drives, list(self._about.drives), "drives")
            self._sees = self._matched(self.points.sees, self._about.sees, "sees")
        except BaseException:
            self._link.close()
            raise
        safe = {s: self.safe_levels.get(s, self._said_safe(p)) for s, p in self._drives.items()}
        about = self._about
        self._facts = RigFacts(
            self.name,
            self.kind,
            safe,
            tuple(self._sees),
            self.latency,
            self.clock_error,
            about.sampled,
            about.least_pulse,
            about.virtual,
            self.safe_within,
            about.watchdog,
            about.chooses,
            about.pulses,
        )

    @classmethod
    def of(cls, file: RigFile, opened: Callable[[], Link], *, coils: bool = False) -> LineRig:
        """Give the rig of a rig file at the end of a link. Raises RigFailure."""
        return cls(
            file.board,
            file.name,
            file.kind,
            opened,
            file.points,
            file.safe,
            file.latency,
            file.clock_error,
            file.safe_within,
            coils,
        )

    @property
    def facts(self) -> RigFacts:
        return self._facts

    # -- what it is ----------------------------------------------------------------------------------------------

    def _matched(self, named: Mapping[str, Point] | None, own: list[str], verb: str) -> dict[str, Point]:
        """Give the points by the board's signals, and refuse those that the fixture does not have."""
        if named is None:
            known = ("power", *self.board.inputs) if verb == "drives" else (*self.board.outputs, *self.board.lamps)
            found = {name: by_name(self.board, name) for name in own if name in known}
            if self.coils:
                found = {n: Point(n, n, measured=p.measured) for n, p in found.items()}
            return found
        wrong = []
        for point in named.values():
            if point.name not in own:
                near = nearest_of(point.name, own)
                hint = f"; did you mean {near!r}?" if near else f"; it {verb} {', '.join(own) or 'nothing'}"
                wrong.append(f"{point.at}: {verb}.{point.signal}: the fixture {verb} no point {point.name!r}{hint}")
        if wrong:
            raise RigFailure("\n".join(wrong))
        return dict(named)

    def _said_safe(self, point: Point) -> Value:
        return point.value(self._about.drives[point.name])

    # -- the calls -----------------------------------------------------------------------------------------------

    def start(self, settings: Mapping[str, str] | None = None) -> Report:
        for name, position in (settings or {}).items() if self._about.chooses else ():
            self._ask(f"setting {name} {position}")
        seen, moments = self._ask("start")
        if moments != [0]:
            self._fail(f"its time does not begin at 0 with start, but at {moments}")
        self._now, self._reported, self._last = 0, -1, {}
        changes = self._changes(seen, 0)
        missing = [name for name in self._sees if name not in {c.signal for c in changes}]
        if missing:
            self._fail(f"it does not say at start how {', '.join(missing)} stands")
        if self._safe_differs():
            self.set(self._facts.drives)
        return Report(0, changes)

    def _safe_differs(self) -> bool:
        """Tell whether the rig file has another safe state than the fixture itself."""
        return any(p.level(self._facts.drives[s]) != self._about.drives[p.name] for s, p in self._drives.items())

    def set(self, levels: Mapping[str, Value]) -> int:
        driven = self._driven(levels)
        pairs = [f"{p.name}={number_text(p.level(levels[s]))}" for s, p in driven]
        return self._on_to(self._moments(" ".join(["set", *pairs]), 1)[0])

    def pulse(self, levels: Mapping[str, Value], back: Mapping[str, Value], length: int) -> tuple[int, int]:
        pairs = [
            f"{p.name}={number_text(p.level(levels[s]))}/{number_text(p.level(back[s]))}"
            for s, p in self._driven(levels)
        ]
        begins, ends = self._moments(" ".join(["pulse", str(length), *pairs]), 2)
        if ends < begins:
            self._fail(f"it tells of a pulse from {begins} to {ends}")
        return self._on_to(begins), self._on_to(ends)

    def _driven(self, levels: Mapping[str, Value]) -> list[tuple[str, Point]]:
        unknown = [name for name in levels if name not in self._drives]
        if unknown:
            raise RigFailure(f"{self.name} does not drive {', '.join(unknown)}")
        return [(signal, point) for signal, point in self._drives.items() if signal in levels]

    def _moments(self, line: str, number: int) -> list[int]:
        seen, moments = self._ask(line)
        if seen:
            self._fail(f"it tells of changes in its answer to {line.split()[0]}; those belong to wait")
        if len(moments) != number:
            self._fail(f"it answers {shown(line)} with {len(moments)} moments, and not {number}")
        return moments

    def wait(self, until: int) -> Report:
        began = self.clock()
        seen, moments = self._ask(f"wait {max(0, until)}")
        if len(moments) != 1:
            self._fail(f"it answers wait with {len(moments)} moments, and not one")
        now = self._on_to(moments[0])
        changes = self._changes(seen, now)
        if not changes and now < until and not self._about.virtual:
            # A fixture may answer at once; it need not be asked more often than that.
            spare = LOOK_EVERY - (self.clock() - began)
            if spare > 0:
                self.sleep(min(spare, (until - now) / 1_000_000))
        return Report(self._reported, changes)

    def safe(self) -> None:
        if self._lost:
            raise RigFailure(
                f"{self.name}: the link is lost, so its outputs cannot be made safe from here{self._by_itself()}"
            )
        deadline = self.clock() + self.safe_within / 1_000_000
        try:
            self._send("safe")
            while (line := self._link.line(max(0.0, deadline - self.clock()))) is not None:
                try:
                    line = without_sum(line) if self._about.sums else line
                except BadLine:
                    continue
                if line.split()[:1] == ["safe"]:
                    return
        except LinkLost as error:
            if self.kind in ("process", "simulated"):
                # With its program its outputs are gone; what hangs on them is the program's own matter.
                raise RigFailure(f"{error}; make sure that what it drove is off") from None
            raise RigFailure(f"{self.name}: {error}{self._by_itself()}") from None
        self._lost = True
        raise RigFailure(
            f"{self.name} did not confirm within {self.safe_within / 1_000_000:g} s that it is safe{self._by_itself()}"
        )

    def _by_itself(self) -> str:
        silence = self._about.watchdog
        if silence is None:
            return "; switch the supply off by hand"
        after = f"after {silence / 1_000_000:g} s of silence"
        return f"; it makes itself safe {after}: check that, or switch the supply off by hand"

    def close(self) -> None:
        self._link.close()

    # -- lines ---------------------------------------------------------------------------------------------------

    def _fail(self, message: str) -> NoReturn:
        raise RigFailure(f"{self.name}: {message}")

    def _send(self, line: str) -> None:
        if len(line) > LONGEST:
            self._fail(f"the line {shown(line)} is longer than {LONGEST} characters; drive fewer inputs in one step")
        try:
            self._link.send(with_sum(line) if self._about.sums else line)
        except LinkLost:
            self._lost = True
            raise

    def _ask(self, line: str) -> tuple[list[tuple[int, str, Fraction]], list[int]]:
        """Send a line and give the changes and the moments of its answer."""
        self._send(line)
        within = VIRTUAL_WITHIN if self._about.virtual else self._link.answers_within
        deadline = self.clock() + within
        seen: list[tuple[int, str, Fraction]] = []
        while True:
            try:
                said = self._link.line(max(0.0, deadline - self.clock()))
            except LinkLost as error:
                self._lost = True
                raise LinkLost(f"{self.name}: {error}") from None
            if said is None:
                self._fail(f"it did not answer {shown(line)} within {within:g} s")
            try:
                words = (without_sum(said) if self._about.sums else said).split()
                match words:
                    case []:
                        continue
                    case ["at", *_]:
                        found = seen_of(words)
                        seen.append((found.time, found.name, found.level))
                    case ["ok", *moments]:
                        return seen, [time_of(moment) for moment in moments]
                    case ["error", *why]:
                        self._fail(f"it answers {shown(line)} with: {' '.join(why)}")
                    case _:
                        raise BadLine(f"it answers {shown(line)} with {shown(said)}, which is not of the protocol")
            except BadLine as error:
                self._fail(str(error))

    def _on_to(self, now: int) -> int:
        if now < self._now:
            self._fail(f"its time goes back, from {self._now} to {now}")
        self._now = now
        return now

    def _changes(self, seen: list[tuple[int, str, Fraction]], now: int) -> tuple[Change, ...]:
        """Give what was told in the board's words, and take everything up to now as told.

        A fixture with a coarse clock may tell of a change at the very moment up to which it has told all, or of two at
        one moment: each is then taken a microsecond later than what went before it.
        """
        found = []
        for moment, name, level in seen:
            if name not in self._about.sees:
                self._fail(f"it tells of a point {shown(name)} that it did not say it sees")
            if not (self._reported <= moment <= now or self._reported < 0):
                self._fail(f"it tells at {now} of a change at {moment}, and had told all up to {self._reported}")
            moment = max(moment, self._reported + 1, self._last.get(name, -1) + 1)
            self._last[name] = moment
            point = next((p for p in self._sees.values() if p.name == name), None)
            if point is not None:
                try:
                    found.append(Change(moment, point.signal, point.value(level)))
                except ValueError as error:
                    self._fail(str(error))
        self._reported = max([now, *(change.time for change in found)])
        return tuple(sorted(found, key=lambda change: change.time))

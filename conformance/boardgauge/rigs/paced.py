"""A rig of virtual time, run by a clock.

Law of this module: what the rig behind does it does; here is only *when*: its time is that of the clock, so many times
faster. The clock and the sleep are given, so that a test needs neither.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from fractions import Fraction

from attrs import define, evolve, field

from boardgauge.rigs.rig import Change, Report, Rig, RigFacts, Value

TICK = 5_000
"""Microseconds on the clock between two looks."""
LONGEST = 100_000
"""No wait takes longer, in microseconds on the clock."""


def _wall() -> int:
    return time.monotonic_ns() // 1000


def _sleep(microseconds: int) -> None:
    time.sleep(microseconds / 1_000_000)


@define
class Paced(Rig):
    """The rig ``behind``, ``speed`` times as fast as the clock (microseconds), and safe after ``watchdog`` silence."""

    behind: Rig
    speed: Fraction = Fraction(1)
    watchdog: int | None = 1_000_000
    clock: Callable[[], int] = _wall
    sleep: Callable[[int], None] = _sleep
    _since: int = 0
    _found: list[Change] = field(factory=list)
    _now: int = 0

    @property
    def facts(self) -> RigFacts:
        return evolve(self.behind.facts, virtual=False, watchdog=self.watchdog)

    def start(self, settings: Mapping[str, str] | None = None) -> Report:
        self._found = []
        report = self.behind.start(settings)
        self._since, self._now = self.clock(), report.now
        return report

    def _time(self) -> int:
        return max(self._now, int((self.clock() - self._since) * self.speed))

    def _catch_up(self, to: int) -> None:
        report = self.behind.wait(to)
        self._found += report.changes
        while report.changes and report.now < to:
            report = self.behind.wait(to)
            self._found += report.changes
        self._now = report.now

    def set(self, levels: Mapping[str, Value]) -> int:
        self._catch_up(self._time())
        self._now = self.behind.set(levels)
        return self._now

    def pulse(self, levels: Mapping[str, Value], back: Mapping[str, Value], length: int) -> tuple[int, int]:
        self._catch_up(self._time())
        begins, self._now = self.behind.pulse(levels, back, length)
        self.sleep(int(length / self.speed))
        return begins, self._now

    def wait(self, until: int) -> Report:
        deadline = self.clock() + LONGEST
        while True:
            self._catch_up(min(max(until, self._now), self._time()))
            if self._found or self._now >= until or self.clock() >= deadline:
                found, self._found = tuple(self._found), []
                return Report(self._now, found)
            left = int((until - self._now) / self.speed)
            self.sleep(max(1, min(TICK, left)))

    def safe(self) -> None:
        self.behind.safe()

    def close(self) -> None:
        self.behind.close()

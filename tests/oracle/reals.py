"""Moments and durations as real numbers of a solver.

Law of this module: each clause about how long something lasts is a linear constraint, and stands here; the search says
when it applies.
"""

from __future__ import annotations

from typing import Any

import z3
from attrs import define, field, frozen

from boardgauge.language.model import Board
from boardgauge.language.quantities import Duration
from oracle.due import Known
from oracle.look import Key
from oracle.standing import Standing
from oracle.trace import Trace

Real = Any
"""A real number: of the solver, or a plain one. The solver states no types of its own."""


@frozen(eq=False)
class Going:
    """A timing: where it counts from, where it ends, where it ends at the latest."""

    origin: Real
    end: Real
    latest: Real


@frozen(eq=False)
class Filling:
    """An accumulator from reset to reset: its target, the greatest it can be, and the time it has."""

    target: Real
    greatest: Real
    has: Real


@define(eq=False)
class Times:
    """The times of one board on one trace, in microseconds."""

    known: Known
    trace: Trace
    events: list[tuple[int, str, bool]]
    solver: Any = field(factory=z3.Solver)
    named: int = 0
    clock: Real = None

    @property
    def board(self) -> Board:
        """Give the board."""
        return self.known.works.board

    def real(self) -> Real:
        """Give a number that is not known yet."""
        self.named += 1
        return z3.Real(f"t{self.named}")

    def add(self, *constraints: Any) -> None:
        """Demand something of this path."""
        self.solver.add(*(c for c in constraints if c is not True))

    def rates(self, owner: str) -> list[tuple[int, int]]:
        """Give since when the times of a rule run how fast: a speed-up counts from its terminal, so all is known."""
        fast = [row for row in self.board.speed_ups.values() if owner in row.what]
        look = self.known.works.glance(frozenset())
        level = {name: row[0][1] for name, row in self.trace.signals.items()}
        found = []
        for at, name, value in [(0, "", False), *self.events]:
            level[name] = value
            on = frozenset(n for n, v in level.items() if v)
            found.append((at, max([1, *(row.times_faster for row in fast if look.holds(row.while_, on))])))
        return found

    def sped_up(self, owner: str) -> bool:
        """Tell whether a speed-up ever holds for a rule."""
        return any(rate > 1 for _, rate in self.rates(owner))

    def board_time(self, owner: str, time: Real) -> Real:
        """Give the board time of a rule at a moment."""
        result, passed, before = time, 0, (0, 1)
        for at, rate in self.rates(owner):
            passed += (at - before[0]) * before[1]
            result = z3.If(time >= at, passed + (time - at) * rate, result) if at else time * rate
            before = (at, rate)
        return result

    def ahead(self, owner: str, time: Real, by: Real) -> Real:
        """Give the board time of so much more time at the rate of the moment."""
        result = by
        for at, rate in self.rates(owner):
            result = z3.If(time >= at, by * rate, result) if at else by * rate
        return result

    def drawn(self, duration: Duration) -> tuple[Real, Real]:
        """Draw a duration: what is used up at the rate of the moment, and what passes at rate 1 after it."""
        tolerance = duration.tolerance
        assert tolerance is not None
        k, beside = self.clock if self.clock is not None else self.real(), self.real()
        self.add(k >= z3.Q(*(1 - tolerance.percent_less).as_integer_ratio()))
        self.add(k <= z3.Q(*(1 + tolerance.percent_more).as_integer_ratio()))
        self.add(beside >= -tolerance.less, beside <= tolerance.more)
        return k * duration.nominal, beside

    def start(self, key: Key, origin: Real, standing: Standing) -> Going:
        """Start a timing that counts from a moment, on a board that stands so."""
        duration = self.known.works.duration(key, standing)
        owner = self.known.works.owner(key)
        at_rate, beside = self.drawn(duration)
        if not self.sped_up(owner):
            end = origin + at_rate + beside
            self.add(end >= origin)
            return Going(origin, end, origin + duration.longest)
        assert duration.tolerance is not None
        end, used, last = self.real(), self.real(), self.real()
        longest = z3.Q(*duration.percent_longest.as_integer_ratio())
        begun = self.board_time(owner, origin)
        self.add(self.board_time(owner, last) - begun == longest, last >= 0, end >= origin)
        # A part of the seconds that is less than nothing ends it before its board time is used up. The board cannot
        # know what the speed-up will do meanwhile, so it goes by the rate of the moment; the other way is allowed too.
        foreseen = z3.And(end == used + beside, self.board_time(owner, used) - begun == at_rate, used >= 0)
        going_by = self.board_time(owner, end) + self.ahead(owner, end, -beside) - begun == at_rate
        self.add(z3.Or(foreseen, z3.And(beside <= 0, going_by)))
        return Going(origin, end, last + duration.tolerance.more)

    def empty(self, name: str, standing: Standing) -> Filling:
        """Give an accumulator at zero."""
        target = self.known.works.duration(("target", name, 0), standing)
        at_rate, beside = self.drawn(target)
        return Filling(at_rate + beside, target.longest, 0)

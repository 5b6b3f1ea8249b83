"""A sensor over time, and when it was beyond a limit.

Law of this module: the sensor's accuracy applies to each limit on its own. Between a limit less the accuracy and the
limit plus it, the comparison is not known; the arithmetic on limits is exact.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction

import numpy as np
from attrs import evolve, frozen

from boardgauge.language.expressions import Comparator
from boardgauge.traces.recording import Times, Values
from boardgauge.traces.spread import EXACT, Spread
from boardgauge.traces.wave import Booleans, Levels, Wave, held, levels_of, merged, wave_of

_FLIPPED: dict[Comparator, Comparator] = {"<": ">", "<=": ">=", ">": "<", ">=": "<="}


@frozen(eq=False)
class Reading:
    """The numbers of a sensor: ``raw[i]`` holds from ``times[i]`` on; in its unit that is ``raw * scale + offset``.

    NaN is not known. ``spread`` says how far a recorded time may be from the true one.
    """

    signal: str
    channel: str
    start: int
    times: Times
    raw: Values
    scale: Fraction
    offset: Fraction
    spread: Spread

    @property
    def values(self) -> Values:
        """The numbers in the sensor's unit."""
        return self.raw * float(self.scale) + float(self.offset)

    def nominal(self) -> Reading:
        """Give the same reading with its times taken as recorded."""
        return evolve(self, spread=EXACT)

    def crossings(
        self,
        op: Comparator,
        limit: Fraction,
        until_op: Comparator | None = None,
        until: Fraction | None = None,
        accuracy: Fraction = Fraction(0),
        off: Sequence[tuple[int, int]] = (),
    ) -> Wave:
        """Give the truth of ``sensor op limit [until until_op until]`` over time; limits in the sensor's unit.

        With ``until`` the comparison, once true, stays true until the second one holds. Before the first number that
        settles it, it is not known. In the stretches ``off`` (from, to; without power) nothing is remembered: between
        its limits it is false there, and goes on from that.
        """
        if off:
            return self._with(tuple(start for start, _ in off))._crossings(op, limit, until_op, until, accuracy, off)
        return self._crossings(op, limit, until_op, until, accuracy, off)

    def _with(self, times: Sequence[int]) -> Reading:
        """Give the reading with a row of its own for each of these times."""
        more = merged(self.times, np.array(times, dtype=np.int64))
        more = more[more >= self.times[0]] if len(self.times) else more[:0]
        return evolve(self, times=more, raw=self.raw[np.searchsorted(self.times, more, side="right") - 1])

    def _crossings(
        self,
        op: Comparator,
        limit: Fraction,
        until_op: Comparator | None,
        until: Fraction | None,
        accuracy: Fraction,
        off: Sequence[tuple[int, int]],
    ) -> Wave:
        surely, possibly = self._beyond(op, limit, accuracy)
        if until_op is None or until is None:
            able_true, able_false, lets_go = possibly, ~surely, ~surely
        else:
            off_surely, lets_go = self._beyond(until_op, until, accuracy)
            asleep = np.zeros(len(self.times), dtype=bool)
            for start, end in off:
                asleep |= (self.times >= start) & (self.times < end)
            # True is possible if the value may switch on, or if it was possible and the value need not switch off.
            able_true = held(possibly | off_surely | asleep, possibly, True)
            able_false = held(lets_go | surely | asleep, lets_go | (asleep & ~surely), True)
        truths = np.where(able_true & able_false, -1, np.where(able_true, 1, 0)).astype(np.int8)
        levels = _as_one_change(levels_of(self.times, truths), self.times, possibly, lets_go)
        return wave_of(self.signal, self.channel, self.start, levels, self.spread)

    def _beyond(self, op: Comparator, limit: Fraction, accuracy: Fraction) -> tuple[Booleans, Booleans]:
        """Where the comparison holds for sure, and where it may."""
        inward = -abs(accuracy) if op in ("<", "<=") else abs(accuracy)
        none = np.isnan(self.raw)
        return self._compare(op, limit + inward) & ~none, self._compare(op, limit - inward) | none

    def _compare(self, op: Comparator, limit: Fraction) -> Booleans:
        if self.scale == 0:
            return np.full(len(self.raw), _compared(op, self.offset, limit))
        raw_limit = (limit - self.offset) / self.scale
        turned: Comparator = _FLIPPED[op] if self.scale < 0 else op
        with np.errstate(invalid="ignore"):
            nearest = float(raw_limit)
            exact = Fraction(nearest)
            if turned in ("<", "<="):
                if exact == raw_limit:
                    return np.asarray(self.raw < nearest if turned == "<" else self.raw <= nearest)
                below = nearest if exact < raw_limit else math.nextafter(nearest, -math.inf)
                return np.asarray(self.raw <= below)
            if exact == raw_limit:
                return np.asarray(self.raw > nearest if turned == ">" else self.raw >= nearest)
            above = nearest if exact > raw_limit else math.nextafter(nearest, math.inf)
            return np.asarray(self.raw >= above)


def _as_one_change(levels: Levels, times: Times, takes_hold: Booleans, lets_go: Booleans) -> Levels:
    """Make one change, somewhere in the stretch, of a stretch that is not known on the way from false to true, or back.

    That is so where nothing in the stretch can undo the change once it is made: with two limits apart, a value on its
    way through one of them does not come near the other.
    """
    if len(levels.times) < 3:
        return levels
    holds, goes = (np.concatenate(([0], np.cumsum(found))) for found in (takes_hold, lets_go))
    keep = np.ones(len(levels.times), dtype=bool)
    lead = levels.lead.copy()
    for index in np.flatnonzero((levels.truths[1:-1] < 0) & (levels.truths[:-2] + levels.truths[2:] == 1)) + 1:
        first, last = np.searchsorted(times, levels.times[index : index + 2])
        undo = goes if levels.truths[index + 1] == 1 else holds
        if undo[first] == undo[last]:
            keep[index] = False
            lead[index + 1] = levels.lead[index]
    return Levels(levels.times[keep], levels.truths[keep], lead[keep], levels.tail[keep])


def _compared(op: Comparator, left: Fraction, right: Fraction) -> bool:
    return {"<": left < right, "<=": left <= right, ">": left > right, ">=": left >= right}[op]

"""A sensor over time, and when it was beyond a limit.

Law of this module: the sensor's accuracy applies to each limit on its own. Between a limit less the accuracy and the
limit plus it, the comparison is not known. The arithmetic on limits is exact, and where a curve makes it irrational,
bounded outward; samples are never rounded, it is the limits that are turned into numbers of the channel.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction

import numpy as np
from attrs import evolve, frozen

from boardgauge.language.expressions import Comparator
from boardgauge.traces.recording import Times, Values
from boardgauge.traces.sensor_scale import Bound, BySensor, Lost
from boardgauge.traces.spread import EXACT, Spread
from boardgauge.traces.wave import Booleans, Levels, Wave, held, levels_of, merged, wave_of

_BELOW = ("<", "<=")
_FLIPPED: dict[Comparator, Comparator] = {"<": ">", "<=": ">=", ">": "<", ">=": "<="}


@frozen(eq=False)
class Reading:
    """The numbers of a sensor: ``raw[i]`` holds from ``times[i]`` on; in its unit that is ``raw * scale + offset``.

    With ``by`` that is what was measured of the sensor, and ``by`` leads on to the temperature. NaN is not known.
    ``spread`` says how far a recorded time may be from the true one, ``resolution`` how far a number on a straight
    scale, either way. ``lost`` are the stretches in which the sensor was beyond its curve.
    """

    signal: str
    channel: str
    start: int
    times: Times
    raw: Values
    scale: Fraction
    offset: Fraction
    spread: Spread
    by: BySensor | None = None
    resolution: Fraction = Fraction(0)
    lost: tuple[Lost, ...] = ()

    @property
    def values(self) -> Values:
        """The numbers in the sensor's unit, as near as floats are; nothing is decided by them."""
        measured = self.raw * float(self.scale) + float(self.offset)
        return measured if self.by is None else self.by.values(measured)

    def nominal(self) -> Reading:
        """Give the same reading with its times taken as recorded, and its numbers as measured without error."""
        by = None if self.by is None else self.by.nominal()
        return evolve(self, spread=EXACT, by=by, resolution=Fraction(0))

    def crossings(
        self,
        op: Comparator,
        limit: Fraction,
        until_op: Comparator | None = None,
        until: Fraction | None = None,
        accuracy: Fraction = Fraction(0),
        off: Sequence[tuple[int, int]] = (),
        sees: int = 0,
        perhaps: Sequence[tuple[int, int]] = (),
    ) -> Wave:
        """Give the truth of ``sensor op limit [until until_op until]`` over time; limits in the sensor's unit.

        With ``until`` the comparison, once true, stays true until the second one holds. Before the first number that
        settles it, it is not known. In the stretches ``off`` (from, to; without power) nothing is remembered: between
        its limits it is false there, and goes on from that; in those ``perhaps`` it may be so. What does not last
        longer than ``sees`` (microseconds) the board need not have seen: with two limits it is not known what it
        remembers of it.
        """
        starts = [start for start, _ in (*off, *perhaps)]
        reading = self._with(starts) if starts else self
        return reading._crossings(op, limit, until_op, until, accuracy, off, sees, perhaps)

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
        sees: int,
        perhaps: Sequence[tuple[int, int]],
    ) -> Wave:
        surely, possibly = self.beyond(op, limit, accuracy)
        if until_op is None or until is None:
            able_true, able_false, lets_go = possibly, ~surely, ~surely
        else:
            off_surely, lets_go = self.beyond(until_op, until, accuracy)
            surely, off_surely = self._lasting(surely, sees), self._lasting(off_surely, sees)
            asleep, forgets = self._inside(off), self._inside((*off, *perhaps))
            # True is possible if the value may switch on, or if it was possible and the value need not switch off.
            able_true = held(possibly | off_surely | asleep, possibly, True)
            able_false = held(lets_go | surely | forgets, lets_go | (forgets & ~surely), True)
        truths = np.where(able_true & able_false, -1, np.where(able_true, 1, 0)).astype(np.int8)
        levels = _as_one_change(levels_of(self.times, truths), self.times, possibly, lets_go)
        return wave_of(self.signal, self.channel, self.start, levels, self.spread)

    def _inside(self, stretches: Sequence[tuple[int, int]]) -> Booleans:
        inside = np.zeros(len(self.times), dtype=bool)
        for start, end in stretches:
            inside |= (self.times >= start) & (self.times < end)
        return inside

    def _lasting(self, holds: Booleans, sees: int) -> Booleans:
        """Leave out the stretches that may have been over within a time; the last may go on behind the recording."""
        if not sees or not len(holds):
            return holds
        turns = np.flatnonzero(np.diff(holds.astype(np.int8), prepend=0, append=0))
        first, last = turns[::2], turns[1::2]
        begun = self.spread.drifted(*self.spread.own(self.times[first], self.times[first]))[1]
        ends = self.times[np.minimum(last, len(holds) - 1)]
        over = self.spread.drifted(*self.spread.own(ends, ends))[0]
        kept = (last == len(holds)) | (over - begun > sees)
        lasting = np.zeros(len(holds) + 1, dtype=np.int64)
        lasting[first[kept]] += 1
        lasting[last[kept]] -= 1
        return np.cumsum(lasting[:-1]) > 0

    def beyond(self, op: Comparator, limit: Fraction, accuracy: Fraction) -> tuple[Booleans, Booleans]:
        """Give where a comparison with a limit holds for sure, and where it may."""
        inward = -abs(accuracy) if op in ("<", "<=") else abs(accuracy)
        none = np.isnan(self.raw)
        return self._compare(op, limit + inward, True) & ~none, self._compare(op, limit - inward, False) | none

    def _compare(self, op: Comparator, limit: Fraction, surely: bool) -> Booleans:
        """Where the comparison holds whatever the number may be off, or (not ``surely``) where it may hold."""
        if self.scale == 0:
            return np.full(len(self.raw), _compared(op, self.offset, limit))
        off = self.resolution
        least, greatest = (limit - off, limit + off) if self.by is None else self.by.bounds(limit)
        first, second = (self._raw(bound) for bound in (least, greatest))
        rises = (self.scale > 0) == (self.by is None or self.by.rises)
        turned: Comparator = op if rises else _FLIPPED[op]
        return _beyond(self.raw, turned, min(first, second) if (turned in _BELOW) == surely else max(first, second))

    def _raw(self, number: Bound) -> Bound:
        """Give the channel's number for one in the unit that was measured."""
        if isinstance(number, Fraction):
            return (number - self.offset) / self.scale
        return number if self.scale > 0 else -number


def _beyond(raw: Values, op: Comparator, limit: Bound) -> Booleans:
    """Compare floats with a limit that need not be one."""
    with np.errstate(invalid="ignore"):
        nearest = float(limit)
        exact = nearest if math.isinf(nearest) else Fraction(nearest)
        if op in _BELOW:
            if exact == limit:
                return np.asarray(raw < nearest if op == "<" else raw <= nearest)
            below = nearest if exact < limit else math.nextafter(nearest, -math.inf)
            return np.asarray(raw <= below)
        if exact == limit:
            return np.asarray(raw > nearest if op == ">" else raw >= nearest)
        above = nearest if exact > limit else math.nextafter(nearest, math.inf)
        return np.asarray(raw >= above)


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

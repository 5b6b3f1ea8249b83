"""A sensor over time, and when it was beyond a limit.

Law of this module: the sensor's accuracy applies to each limit on its own. Between a limit less the accuracy and the
limit plus it, the comparison is not known; the arithmetic on limits is exact.
"""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np
from attrs import evolve, frozen

from boardgauge.language.expressions import Comparator
from boardgauge.traces.recording import Times, Values
from boardgauge.traces.spread import EXACT, Spread
from boardgauge.traces.wave import Booleans, Wave, held, levels_of, wave_of

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
    ) -> Wave:
        """Give the truth of ``sensor op limit [until until_op until]`` over time; limits in the sensor's unit.

        With ``until`` the comparison, once true, stays true until the second one holds. Before the first number that
        settles it, it is not known.
        """
        surely, possibly = self._beyond(op, limit, accuracy)
        if until_op is None or until is None:
            able_true, able_false = possibly, ~surely
        else:
            off_surely, off_possibly = self._beyond(until_op, until, accuracy)
            # True is possible if the value may switch on, or if it was possible and the value need not switch off.
            able_true = held(possibly | off_surely, possibly, True)
            able_false = held(off_possibly | surely, off_possibly, True)
        truths = np.where(able_true & able_false, -1, np.where(able_true, 1, 0)).astype(np.int8)
        return wave_of(self.signal, self.channel, self.start, levels_of(self.times, truths), self.spread)

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


def _compared(op: Comparator, left: Fraction, right: Fraction) -> bool:
    return {"<": left < right, "<=": left <= right, ">": left > right, ">=": left >= right}[op]

"""How far the true time of a change may be from the recorded one.

Law of this module: every uncertainty of measuring is here and adds up; one left out would be a false alarm that no
judge could notice.
"""

from __future__ import annotations

from fractions import Fraction

import numpy as np
from attrs import frozen

from boardgauge.traces.recording import Times


@frozen(eq=False)
class Spread:
    """``samples``: the change came after the sample before. ``before`` and ``after``: skew and rounding, microseconds.

    ``clock_error``: how far the recorder's clock may run off, as a fraction, counted from ``start``.
    """

    start: int = 0
    samples: Times | None = None
    before: int = 0
    after: int = 0
    clock_error: Fraction = Fraction(0)

    def of(self, first: Times, last: Times) -> tuple[Times, Times]:
        """Give the earliest and the latest true times of changes that were recorded from ``first`` to ``last``."""
        if self.samples is not None and len(self.samples):
            index = np.searchsorted(self.samples, first, side="left") - 1
            first = np.where(index >= 0, self.samples[np.maximum(index, 0)], first)
        if self.clock_error:
            error = float(self.clock_error)
            first = first - np.ceil(np.abs(first - self.start) * error).astype(np.int64)
            last = last + np.ceil(np.abs(last - self.start) * error).astype(np.int64)
        return first - self.before, last + self.after


EXACT = Spread()

"""How far the true time of a change may be from the recorded one.

Law of this module: every uncertainty of measuring is here and adds up; one left out would be a false alarm that no
judge could notice.
"""

from __future__ import annotations

from fractions import Fraction

import numpy as np
from attrs import field, frozen

from boardgauge.traces.recording import Times
from boardgauge.traces.samples import Samples, samples_of


@frozen(eq=False)
class Spread:
    """``samples``: the change came after the sample before. ``before`` and ``after``: skew and rounding, microseconds.

    ``clock_error``: how far the recorder's clock may run off, as a fraction, counted from ``start``.
    """

    start: int = 0
    samples: Samples | None = field(default=None, converter=samples_of)
    before: int = 0
    after: int = 0
    clock_error: Fraction = Fraction(0)

    def own(self, first: Times, last: Times) -> tuple[Times, Times]:
        """Give the earliest and latest times, by the recorder's clock, of changes recorded ``first`` to ``last``."""
        if self.samples is not None and len(self.samples):
            first = self.samples.before(first)
        return first - self.before, last + self.after

    def drifted(self, earliest: Times, latest: Times) -> tuple[Times, Times]:
        """Widen times of the recorder's clock to true times."""
        if not self.clock_error:
            return earliest, latest
        error = float(self.clock_error)
        return (
            earliest - np.ceil(np.abs(earliest - self.start) * error).astype(np.int64),
            latest + np.ceil(np.abs(latest - self.start) * error).astype(np.int64),
        )


EXACT = Spread()

"""Mean and spread of times that are known between bounds only.

Law of this module: a measured time is an interval (the recorder's uncertainty, and where a timing ended several times
in one recording also how these differed), and what is said of many is said of every way to choose a time from each.
The bounds of the mean and the least spread are exact; the greatest spread is never said too small (to find it exactly
is a problem that no quick way solves).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
import numpy.typing as npt
from attrs import frozen

Numbers = npt.NDArray[np.float64]
_HALVINGS = 200


@frozen
class Interval:
    """From ``low`` to ``high``, both included; in seconds where it is a time."""

    low: float
    high: float

    @property
    def middle(self) -> float:
        """The middle between the two."""
        return (self.low + self.high) / 2

    @property
    def width(self) -> float:
        """How far they lie apart."""
        return self.high - self.low


@frozen
class Spread:
    """Mean and standard deviation (of a sample, n - 1) of ``n`` measured times.

    ``mean`` and ``deviation`` are those of the middles; the intervals hold those of every choice of times.
    """

    n: int
    mean: float
    deviation: float
    mean_within: Interval
    deviation_within: Interval
    width: float
    """The median width of the intervals: what a recording leaves open of one time."""


def spread_of(values: Sequence[Interval]) -> Spread:
    """Give mean and spread of at least two measured times. Raises ValueError for fewer."""
    if len(values) < 2:
        raise ValueError("a spread takes two values at least")
    low, high = (np.array([getattr(v, side) for v in values], dtype=np.float64) for side in ("low", "high"))
    middle = (low + high) / 2
    return Spread(
        len(values),
        float(middle.mean()),
        float(middle.std(ddof=1)),
        Interval(float(low.mean()), float(high.mean())),
        Interval(_least(low, high), _greatest(low, high)),
        float(np.median(high - low)),
    )


def _least(low: Numbers, high: Numbers) -> float:
    """Give the least standard deviation: the sum of squares about a centre is least where each comes nearest to it."""

    def away(centre: float) -> Numbers:
        found: Numbers = centre - np.clip(centre, low, high)
        return found

    centre = _root(lambda c: float(away(c).sum()), float(low.min()), float(high.max()))
    return float(np.sqrt((away(centre) ** 2).sum() / (len(low) - 1)))


def _greatest(low: Numbers, high: Numbers) -> float:
    """Give a bound above every standard deviation: for no centre are the squares of the far ends less than this.

    (The greatest of the least is never more than the least of the greatest.) Of ``n`` times it is at most
    sqrt(n / (n - 1)) of the greatest, since all but one of them stand at an end that another balances.
    """

    def away(centre: float) -> Numbers:
        return np.where(centre - low > high - centre, centre - low, centre - high)

    centre = _root(lambda c: float(away(c).sum()), float(low.min()), float(high.max()))
    return float(np.sqrt((away(centre) ** 2).sum() / (len(low) - 1)))


def _root(rising: Callable[[float], float], low: float, high: float) -> float:
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        if middle in (low, high):
            break
        if rising(middle) > 0:
            high = middle
        else:
            low = middle
    return (low + high) / 2

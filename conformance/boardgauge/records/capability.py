"""Capability of a timing: how its spread over the boards compares with what the spec allows.

Law of this module: an index comes with its confidence bounds and with what the recordings leave open, and is not given
for too few boards. It takes the times to be normally distributed, which is tested and told. Sources: Cp and Cpk as in
the NIST/SEMATECH e-Handbook of Statistical Methods, 6.1.6; the bounds of Cp from the chi-square distribution of the
variance; those of Cpk by Bissell's approximation, Cpk ± z sqrt(1/(9n) + Cpk²/(2(n-1))) (A. F. Bissell, "How reliable
is your capability index?", Applied Statistics 39, 1990; so quoted by R. N. Rodriguez, Journal of Quality Technology
24, 1992).
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from attrs import frozen

from boardgauge.records.spread import Interval, Spread, spread_of

LEAST = 5
"""Boards below which no index is given: for fewer, Bissell's approximation is worth nothing (common practice asks for
30 and more; no source)."""
CONFIDENCE = 0.95
_NOT_NORMAL = 0.01
_MOST_TESTED = 5000
"""Boards up to which the test of normality is made for."""


@frozen
class Index:
    """A capability index. ``value`` is that of the middles; math.inf where nothing bounds it.

    ``confidence`` holds the index of all boards of this kind with 95 %, had the times been measured exactly;
    ``measured`` the index of these very boards, wherever in their intervals the times lie; ``both`` allows for both.
    """

    value: float
    confidence: Interval
    measured: Interval
    both: Interval


@frozen
class Capability:
    """Spread and capability of a timing against its limits, in seconds.

    ``cp`` compares the spread alone, ``cpk`` also where its middle lies. ``normal`` is the p-value of Shapiro and
    Wilk's test of the middles, None where it could not be made.
    """

    spread: Spread
    limits: Interval
    cp: Index
    cpk: Index
    normal: float | None

    @property
    def doubtful(self) -> bool:
        """Tell whether the times are hardly normally distributed, so that the indices say little."""
        return self.normal is not None and self.normal < _NOT_NORMAL


def capability(values: Sequence[Interval], limits: Interval) -> Capability | None:
    """Give the capability of measured times, None where there are too few or the limits leave no room."""
    if len(values) < LEAST or limits.width <= 0:
        return None
    spread = spread_of(values)
    return Capability(spread, limits, cp_of(spread, limits), cpk_of(spread, limits), _normal(values))


def cp_of(spread: Spread, limits: Interval) -> Index:
    """Give (USL - LSL) / (6 s)."""
    value = _over(limits.width, 6 * spread.deviation)
    within = spread.deviation_within
    measured = Interval(_over(limits.width, 6 * within.high), _over(limits.width, 6 * within.low))
    low, high = cp_factors(spread.n)
    return Index(
        value,
        Interval(value * low, value * high),
        measured,
        Interval(measured.low * low, measured.high * high),
    )


def cpk_of(spread: Spread, limits: Interval) -> Index:
    """Give min(USL - mean, mean - LSL) / (3 s)."""
    value = _over(_room(spread.mean, limits), 3 * spread.deviation)
    mean, s = spread.mean_within, spread.deviation_within
    least = min(_room(mean.low, limits), _room(mean.high, limits))
    most = _room(min(max(limits.middle, mean.low), mean.high), limits)
    measured = Interval(
        _over(least, 3 * (s.high if least >= 0 else s.low)), _over(most, 3 * (s.low if most >= 0 else s.high))
    )
    return Index(
        value,
        bissell(value, spread.n),
        measured,
        Interval(bissell(measured.low, spread.n).low, bissell(measured.high, spread.n).high),
    )


def cp_factors(n: int, confidence: float = CONFIDENCE) -> tuple[float, float]:
    """Give what the confidence bounds of a Cp found from ``n`` times are of it: sqrt(chi² quantile / (n - 1))."""
    from scipy.stats import chi2

    tail = (1 - confidence) / 2
    low, high = (math.sqrt(float(chi2.ppf(q, n - 1)) / (n - 1)) for q in (tail, 1 - tail))
    return low, high


def bissell(cpk: float, n: int, confidence: float = CONFIDENCE) -> Interval:
    """Give the confidence bounds of a Cpk found from ``n`` times."""
    from scipy.stats import norm

    if math.isinf(cpk):
        return Interval(cpk, cpk)
    z = float(norm.ppf(1 - (1 - confidence) / 2))
    half = z * math.sqrt(1 / (9 * n) + cpk * cpk / (2 * (n - 1)))
    return Interval(cpk - half, cpk + half)


def _room(mean: float, limits: Interval) -> float:
    return min(limits.high - mean, mean - limits.low)


def _over(part: float, whole: float) -> float:
    if whole > 0:
        return part / whole
    return math.copysign(math.inf, part) if part else 0.0


def _normal(values: Sequence[Interval]) -> float | None:
    from scipy.stats import shapiro

    middles = [value.middle for value in values]
    if len(middles) > _MOST_TESTED or max(middles) - min(middles) <= 1e-9:
        return None
    return float(shapiro(middles).pvalue)

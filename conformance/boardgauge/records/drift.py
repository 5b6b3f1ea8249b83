"""Whether a timing moves: over time, and from lot to lot.

Law of this module: a movement is told only if a stated test finds it, the tests of one report together giving a false
alarm no more often than ``FALSE_ALARMS``, and if what the recordings leave open could not account for it. Neither test
takes the times to be normally distributed. Over time: Kendall's rank correlation with the moment of measuring, with
the slope of Theil and Sen. From lot to lot: the test of Kruskal and Wallis. Of several timings, Holm's way of sharing
the false alarms.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime

import numpy as np
from attrs import frozen

from boardgauge.records.spread import Interval

FALSE_ALARMS = 0.01
"""How often a report of boards among which nothing moves tells of a movement, at most."""
LEAST_IN_A_LOT = 5
"""Boards below which a lot is not compared."""
LEAST_IN_A_TREND = 8
_DAY = 86_400.0
MONTH = 30.0
"""Days."""


@frozen
class Trend:
    """How a timing moved over time. ``slope`` is seconds a month of 30 days; ``change`` that over the whole span.

    ``beyond``: the change is more than a recording leaves open of one time.
    """

    n: int
    p: float
    slope: float
    change: float
    beyond: bool


@frozen
class Lot:
    """A lot of boards: how many, and the mean of their times between its bounds."""

    name: str
    n: int
    mean: Interval


@frozen
class Drift:
    """How a timing differs from lot to lot, lots in the order in which they were first measured.

    ``beyond``: no one time could be the mean of all lots, wherever in their intervals the times lie. ``left_out`` are
    lots with too few boards.
    """

    lots: tuple[Lot, ...]
    p: float
    beyond: bool
    left_out: tuple[str, ...] = ()

    @property
    def furthest(self) -> tuple[Lot, Lot]:
        """The lots with the least and the greatest mean."""
        ordered = sorted(self.lots, key=lambda lot: lot.mean.middle)
        return ordered[0], ordered[-1]


def trend_of(values: Sequence[tuple[datetime, Interval]]) -> Trend | None:
    """Give how measured times moved; None for too few, or if all were measured at one moment, or are one time."""
    from scipy.stats import kendalltau, theilslopes

    days = np.array([when.timestamp() / _DAY for when, _ in values])
    middles = np.array([value.middle for _, value in values])
    if len(values) < LEAST_IN_A_TREND or np.ptp(days) == 0 or np.ptp(middles) == 0:
        return None
    found = kendalltau(days, middles)
    slope = float(theilslopes(middles, days).slope)
    change = slope * float(np.ptp(days))
    width = float(np.median([value.width for _, value in values]))
    return Trend(len(values), float(found.pvalue), slope * MONTH, change, abs(change) > width)


def drift_of(lots: Mapping[str, Sequence[Interval]]) -> Drift | None:
    """Give how lots differ; None if fewer than two have boards enough, or all times are one."""
    from scipy.stats import kruskal

    large = {name: values for name, values in lots.items() if len(values) >= LEAST_IN_A_LOT}
    small = tuple(name for name in lots if name not in large)
    groups = [[value.middle for value in values] for values in large.values()]
    if len(groups) < 2 or len({middle for group in groups for middle in group}) < 2:
        return None
    rows = tuple(
        Lot(
            name,
            len(values),
            Interval(float(np.mean([v.low for v in values])), float(np.mean([v.high for v in values]))),
        )
        for name, values in large.items()
    )
    # Intervals on a line have a point in common if the greatest low end is no greater than the least high end.
    beyond = max(row.mean.low for row in rows) > min(row.mean.high for row in rows)
    return Drift(rows, float(kruskal(*groups).pvalue), beyond, small)


def told(p_values: Mapping[str, float], false_alarms: float = FALSE_ALARMS) -> set[str]:
    """Give the names whose test finds something, the whole of them being wrong no more often than said (Holm)."""
    found: set[str] = set()
    ordered = sorted(p_values.items(), key=lambda item: item[1])
    for rank, (name, p) in enumerate(ordered):
        if p > false_alarms / (len(ordered) - rank):
            break
        found.add(name)
    return found

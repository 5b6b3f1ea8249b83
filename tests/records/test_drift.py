"""Trend and drift: told when they are there, and no oftener than said when they are not."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from boardgauge.records.drift import LEAST_IN_A_LOT, LEAST_IN_A_TREND, drift_of, told, trend_of
from boardgauge.records.spread import Interval

DAY = datetime(2026, 3, 2, tzinfo=UTC)
REPORTS = 400
"""Simulated reports: a true rate of 5 % shows as no more than 9 % in all but one of a thousand."""


def exact(times: list[float]) -> list[Interval]:
    """Give times that are known exactly."""
    return [Interval(time, time) for time in times]


def in_days(times: list[float]) -> list[tuple[datetime, Interval]]:
    """Give exact times measured day after day."""
    return [(DAY + timedelta(days=n), value) for n, value in enumerate(exact(times))]


# -- false alarms --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("shape", ["normal", "skewed", "sampled"])
def test_lots_that_are_alike_hardly_ever_drift(shape: str) -> None:
    """Lots from one population give an alarm in no more than 5 % of the reports, if 5 % are allowed.

    Each report has three timings of three lots; the bound of the program is 1 %.
    """
    chance = np.random.default_rng(11)
    alarms = 0
    for _ in range(REPORTS):
        p_values = {}
        for timing in ("a", "b", "c"):
            times = chance.normal(45, 0.3, 36) if shape != "skewed" else 45 + chance.exponential(0.3, 36)
            if shape == "sampled":
                # A logger of ten samples a second: many boards with the same time.
                times = np.round(times, 1)
            lots = {name: exact(times[n * 12 : n * 12 + 12].tolist()) for n, name in enumerate("xyz")}
            drift = drift_of(lots)
            assert drift is not None
            p_values[timing] = drift.p
        alarms += bool(told(p_values, 0.05))
    assert alarms / REPORTS <= 0.09


def test_times_that_do_not_move_hardly_ever_trend() -> None:
    """Times from one population give a trend in no more than 5 % of the reports, if 5 % are allowed."""
    chance = np.random.default_rng(12)
    alarms = 0
    for _ in range(REPORTS):
        trends = {name: trend_of(in_days(chance.normal(45, 0.3, 30).tolist())) for name in "ab"}
        alarms += bool(told({name: trend.p for name, trend in trends.items() if trend is not None}, 0.05))
    assert alarms / REPORTS <= 0.09


@given(st.lists(st.floats(0, 1), min_size=1, max_size=8), st.floats(0.001, 0.2))
def test_holm_is_between_bonferroni_and_none(p_values: list[float], level: float) -> None:
    """Whatever Bonferroni's bound finds is told; nothing above the level is; and the told are the smallest."""
    named = {str(n): p for n, p in enumerate(p_values)}
    found = told(named, level)
    assert {name for name, p in named.items() if p <= level / len(named)} <= found
    assert all(named[name] <= level for name in found)
    rest = [p for name, p in named.items() if name not in found]
    assert all(named[name] <= min(rest, default=1.0) for name in found)


# -- what is there is found ----------------------------------------------------------------------------------------


def test_a_lot_that_is_off_is_found() -> None:
    """A lot that is two standard deviations off is told, with the lots that lie furthest apart."""
    chance = np.random.default_rng(5)
    lots = {name: exact(chance.normal(45 + off, 0.3, 20).tolist()) for name, off in (("a", 0), ("b", 0.6), ("c", 0.1))}
    drift = drift_of(lots)
    assert drift is not None
    assert told({"x": drift.p}) == {"x"}
    assert drift.beyond
    assert [lot.name for lot in drift.furthest] == ["a", "b"]


def test_a_slow_movement_is_found() -> None:
    """Times that rise by a standard deviation in a month are told, with about that slope."""
    chance = np.random.default_rng(6)
    trend = trend_of(in_days((45 + 0.01 * np.arange(90) + chance.normal(0, 0.3, 90)).tolist()))
    assert trend is not None
    assert told({"x": trend.p}) == {"x"}
    assert trend.beyond
    assert trend.slope == pytest.approx(0.3, abs=0.1)
    assert trend.change == pytest.approx(0.9, abs=0.3)


def test_what_measuring_may_explain_is_not_told() -> None:
    """Lots that differ by less than their intervals leave open drift beyond nothing, however sure the test is."""
    lots = {"a": [Interval(45.0, 45.2)] * 10, "b": [Interval(45.1, 45.3)] * 10}
    drift = drift_of(lots)
    assert drift is not None
    assert drift.p < 0.001
    assert not drift.beyond
    apart = drift_of({**lots, "b": [Interval(45.21, 45.4)] * 10})
    assert apart is not None
    assert apart.beyond


@given(st.lists(st.tuples(st.floats(0, 10), st.floats(0, 3)), min_size=10, max_size=30), st.floats(0, 10))
def test_lots_with_a_time_in_common_never_drift(drawn: list[tuple[float, float]], common: float) -> None:
    """Where one time lies in all intervals, no drift is beyond what measuring leaves open."""
    values = [Interval(min(low, common), max(low + width, common)) for low, width in drawn]
    half = len(values) // 2
    drift = drift_of({"a": values[:half], "b": values[half:]})
    assert drift is None or not drift.beyond


def test_a_trend_within_the_measuring_is_not_told() -> None:
    """A rise over the whole span that is no more than the width of a time is not beyond it; a little more is."""
    for rise, beyond in ((0.99, False), (1.01, True)):
        width = 0.5
        values = [
            (DAY + timedelta(days=n), Interval(45 + rise * width * n / 19, 45 + rise * width * n / 19 + width))
            for n in range(20)
        ]
        trend = trend_of(values)
        assert trend is not None
        assert trend.p < 1e-6
        assert trend.beyond is beyond


def test_too_few_are_not_compared() -> None:
    """Lots and spans below the least number are left out, and at it they are not."""
    few, enough = exact([45.0, 45.1, 45.2, 45.3]), exact([45.0, 45.1, 45.2, 45.3, 45.4])
    assert (len(few), len(enough)) == (LEAST_IN_A_LOT - 1, LEAST_IN_A_LOT)
    assert drift_of({"a": few, "b": enough}) is None
    drift = drift_of({"a": few, "b": enough, "c": enough})
    assert drift is not None
    assert drift.left_out == ("a",)
    times = [45.0 + n / 10 for n in range(LEAST_IN_A_TREND)]
    assert trend_of(in_days(times[:-1])) is None
    assert trend_of(in_days(times)) is not None


def test_times_that_are_all_one_neither_drift_nor_move() -> None:
    """The same time everywhere, or one moment of measuring, has no movement to test."""
    assert drift_of({"a": exact([45.0] * 6), "b": exact([45.0] * 6)}) is None
    assert trend_of(in_days([45.0] * 10)) is None
    assert trend_of([(DAY, value) for value in exact([45.0 + n for n in range(10)])]) is None

"""Mean, spread and capability of times known between bounds: every choice lies within, published figures come out."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from boardgauge.records.capability import LEAST, Index, bissell, capability, cp_factors, cp_of, cpk_of
from boardgauge.records.spread import Interval, Spread, spread_of

LIMITS = Interval(8.0, 20.0)


@st.composite
def intervals(draw: st.DrawFn, least: int = 2, most: int = 12) -> list[Interval]:
    """Draw intervals, some of no width, some that hold others."""
    lows = draw(st.lists(st.floats(0, 30), min_size=least, max_size=most))
    widths = [draw(st.one_of(st.just(0.0), st.floats(0, 5))) for _ in lows]
    return [Interval(low, low + width) for low, width in zip(lows, widths, strict=True)]


@st.composite
def chosen(draw: st.DrawFn) -> tuple[list[Interval], list[float]]:
    """Draw intervals, and a time from each."""
    drawn = draw(intervals(least=LEAST))
    parts = [draw(st.one_of(st.sampled_from([0.0, 1.0]), st.floats(0, 1))) for _ in drawn]
    return drawn, [i.low + part * i.width for i, part in zip(drawn, parts, strict=True)]


def exactly(times: list[float]) -> Spread:
    """Give the spread of times that are known exactly."""
    return spread_of([Interval(time, time) for time in times])


def inside(value: float, interval: Interval) -> bool:
    """Tell whether a value lies in an interval, but for rounding."""
    slack = 1e-7 * (1 + min(abs(value), 1e6))
    return interval.low - slack <= value <= interval.high + slack


# -- spread --------------------------------------------------------------------------------------------------------


@given(chosen())
def test_every_choice_lies_within(drawn: tuple[list[Interval], list[float]]) -> None:
    """The mean and the standard deviation of any times from the intervals lie between the bounds."""
    values, times = drawn
    spread = spread_of(values)
    assert inside(float(np.mean(times)), spread.mean_within)
    assert inside(float(np.std(times, ddof=1)), spread.deviation_within)


@given(intervals(most=7))
def test_the_least_spread_is_reached(values: list[Interval]) -> None:
    """There are times in the intervals with no more spread than the least that is told."""
    least = spread_of(values).deviation_within.low
    # The best choice has every time as near as it can be to one centre.
    low, high = np.array([v.low for v in values]), np.array([v.high for v in values])
    centres = np.linspace(low.min(), high.max(), 4001)[:, None]
    best = float(np.clip(centres, low, high).std(axis=1, ddof=1).min())
    assert best >= least - 1e-9
    assert best <= least + 0.02


@given(intervals(most=7))
def test_the_greatest_spread_is_not_far_off(values: list[Interval]) -> None:
    """The greatest spread that is told is hardly more than the greatest of all corners, where the greatest lies."""
    corners = np.array(np.meshgrid(*[(v.low, v.high) for v in values])).reshape(len(values), -1)
    greatest = float(corners.std(axis=0, ddof=1).max())
    told = spread_of(values).deviation_within.high
    n = len(values)
    assert told >= greatest - 1e-9
    # One interval that reaches to both sides of all others alike is the worst: only one of its ends can be taken.
    assert told <= greatest * math.sqrt(n / (n - 1)) + 1e-6


def test_the_greatest_spread_of_one_wide_interval() -> None:
    """One time in [0, 2] beside one that is 1: no more than 0.707 is possible, and 1 is told."""
    spread = spread_of([Interval(0, 2), Interval(1, 1)])
    assert (spread.deviation_within.low, spread.deviation_within.high) == pytest.approx((0.0, 1.0), abs=1e-9)


@given(st.lists(st.floats(0, 1000), min_size=2, max_size=20))
def test_exact_times_have_one_spread(times: list[float]) -> None:
    """Times without uncertainty leave nothing open."""
    spread = exactly(times)
    assert inside(float(np.std(times, ddof=1)), Interval(spread.deviation, spread.deviation))
    assert spread.deviation_within.width <= 1e-6 * (1 + spread.deviation)
    assert spread.width == 0


def test_one_time_has_no_spread() -> None:
    """A spread of fewer than two times is refused."""
    with pytest.raises(ValueError, match="two values"):
        spread_of([Interval(1, 2)])


# -- capability ----------------------------------------------------------------------------------------------------


def test_the_published_example_comes_out() -> None:
    """NIST/SEMATECH e-Handbook, 6.1.6: USL 20, LSL 8, mean 16, s 2 give Cp 1.0 and Cpk 0.667."""
    spread = Spread(50, 16.0, 2.0, Interval(16.0, 16.0), Interval(2.0, 2.0), 0.0)
    assert cp_of(spread, LIMITS).value == pytest.approx(1.0)
    assert cpk_of(spread, LIMITS).value == pytest.approx(0.6667, abs=5e-5)


def test_confidence_bounds_against_their_formulas() -> None:
    """For n = 50: Cp by chi-square with 49 degrees of freedom (31.555, 70.222 in printed tables), Cpk by Bissell."""
    low, high = cp_factors(50)
    assert (low, high) == pytest.approx((math.sqrt(31.555 / 49), math.sqrt(70.222 / 49)), rel=1e-4)
    bounds = bissell(0.6667, 50)
    half = 1.959964 * math.sqrt(1 / 450 + 0.6667**2 / 98)
    assert (bounds.low, bounds.high) == pytest.approx((0.6667 - half, 0.6667 + half), rel=1e-6)


@given(chosen())
def test_every_choice_has_its_index_within(drawn: tuple[list[Interval], list[float]]) -> None:
    """Cp and Cpk of any times from the intervals lie in what measuring leaves open, their confidence bounds in both."""
    values, times = drawn
    if np.std(times) < 1e-6:
        return
    told, exact = spread_of(values), exactly(times)
    for index in (cp_of, cpk_of):
        of_told, of_exact = index(told, LIMITS), index(exact, LIMITS)
        assert inside(of_exact.value, of_told.measured)
        assert inside(of_exact.confidence.low, of_told.both)
        assert inside(of_exact.confidence.high, of_told.both)


@given(intervals(least=LEAST))
@example([Interval(0.0, 0.0)] * 3 + [Interval(1.192092896e-07, 1.192092896e-07)] * 2)
def test_both_is_never_less_than_either(values: list[Interval]) -> None:
    """What allows for sampling and measuring holds what allows for one of them."""
    found = capability(values, LIMITS)
    assert found is not None
    for index in (found.cp, found.cpk):
        for part in (index.confidence, index.measured):
            assert index.both.low <= part.low or math.isclose(index.both.low, part.low, rel_tol=1e-9, abs_tol=1e-9)
            assert index.both.high >= part.high or math.isclose(index.both.high, part.high, rel_tol=1e-9, abs_tol=1e-9)
    assert found.cpk.value <= found.cp.value or math.isclose(found.cpk.value, found.cp.value, abs_tol=1e-9)


def _coverage(of: Callable[[Spread, Interval], Index], true: float, n: int) -> float:
    """Give how often the confidence bounds hold the true index, for normal times."""
    chance = np.random.default_rng(7)
    samples = chance.normal(16.0, 2.0, size=(1500, n))
    held = 0
    for mean, deviation in zip(samples.mean(axis=1), samples.std(axis=1, ddof=1), strict=True):
        exact = Interval(float(mean), float(mean)), Interval(float(deviation), float(deviation))
        bounds = of(Spread(n, float(mean), float(deviation), *exact, 0.0), LIMITS).confidence
        held += bounds.low <= true <= bounds.high
    return held / 1500


@pytest.mark.parametrize("n", [10, 50])
def test_confidence_bounds_hold_as_often_as_they_say(n: int) -> None:
    """Of 1,500 simulated lots, 95 % of the bounds hold the true Cp (exact) and about as many the Cpk (approximate)."""
    assert 0.935 <= _coverage(cp_of, 1.0, n) <= 0.965
    assert 0.92 <= _coverage(cpk_of, 4 / 6, n) <= 0.975


def test_too_few_or_too_tight_have_no_index() -> None:
    """Below the least number of boards, and where limits leave no room, nothing is told; at the number, it is."""
    values = [Interval(10.0 + n, 10.0 + n) for n in range(LEAST)]
    assert capability(values[:-1], LIMITS) is None
    assert capability(values, Interval(8.0, 8.0)) is None
    assert capability(values, LIMITS) is not None


def test_no_spread_at_all_has_no_bound() -> None:
    """Boards that all took the same time: the index is unbounded, below zero outside the limits, and never raises."""
    same = capability([Interval(12.0, 12.0)] * LEAST, LIMITS)
    assert same is not None
    assert (same.cp.value, same.cpk.value, same.normal) == (math.inf, math.inf, None)
    outside = capability([Interval(25.0, 25.0)] * LEAST, LIMITS)
    assert outside is not None
    assert outside.cpk.value == -math.inf
    blurred = capability([Interval(12.0, 12.5)] * LEAST, LIMITS)
    assert blurred is not None
    assert blurred.cp.measured.high == math.inf
    assert math.isfinite(blurred.cp.measured.low)


def test_what_is_not_normal_is_doubted() -> None:
    """Two clusters far apart are told as hardly normal; the normal quantiles are not."""
    clusters = capability([Interval(t, t) for t in [9.0] * 15 + [19.0] * 15 + [9.1, 18.9]], LIMITS)
    assert clusters is not None
    assert clusters.doubtful
    from scipy.stats import norm

    normal = [14 + float(norm.ppf((i + 0.5) / 40)) for i in range(40)]
    smooth = capability([Interval(t, t) for t in normal], LIMITS)
    assert smooth is not None
    assert not smooth.doubtful

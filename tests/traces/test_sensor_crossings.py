"""A comparison is true or false only where no value within the accuracy says otherwise."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from boardgauge.traces import Reading
from boardgauge.traces.spread import EXACT, Spread


def reading(values: list[float], scale: Fraction = Fraction(1), offset: Fraction = Fraction(0)) -> Reading:
    return Reading("x", "x", 0, np.arange(len(values)) * 10, np.array(values), scale, offset, EXACT)


F = Fraction
NAN = float("nan")


def test_plain_comparison() -> None:
    """Between the limit less the accuracy and the limit plus it, the comparison is not known."""
    found = reading([20, 11, 9.5, 8.9, NAN, 8]).crossings("<", F(10), accuracy=F(1))
    assert found.initial is False
    # 11 is not below 10 by more than the accuracy; 9.5 may be either; 8.9 is below.
    assert found.changes() == [(20, 20, None), (30, 30, True), (40, 40, None), (50, 50, True)]


def test_until() -> None:
    """With a second limit it stays true until that one is passed; each limit has the accuracy on its own."""
    mv = [505, 490, 475, 469, 495, 505, 511, 490]
    found = reading([float(v) for v in mv], F(1, 10), F(-50)).crossings("<=", F(-2), ">", F(0), F(1))
    # Degrees: 0.5, -1, -2.5, -3.1, -0.5, 0.5, 1.1, -1
    assert found.initial is None
    # From -0.5 to 1.1 it lets go somewhere and cannot take hold again; at -1 it may.
    assert found.changes() == [(30, 30, True), (40, 60, False), (70, 70, None)]


def test_one_change_of_a_ramp() -> None:
    """A value on its way through one of two limits changes the comparison once, however coarse the sensor."""
    ramp = reading([float(v) for v in (4, 0, -1, -2, -3, -4)])
    assert ramp.crossings("<", F(-2), ">", F(2), F(1)).changes() == [(30, 50, True)]
    # With one limit it may chatter.
    assert ramp.crossings("<", F(-2), accuracy=F(1)).changes() == [(30, 30, None), (50, 50, True)]


def test_what_is_too_short_to_be_seen_may_be_remembered_or_not() -> None:
    """Beyond a limit for no longer than the filter, it is not known what a comparison with two limits remembers."""
    spike = reading([0.0, 5.0, 0.0, 0.0, 5.0, 5.0, 0.0, -5.0, 0.0, -5.0, -5.0])
    assert spike.crossings(">", F(2), "<", F(-2)).changes() == [(10, 10, True), (70, 70, False)]
    # It lasts 10, then 20; and lets go for 10, then to the end.
    assert spike.crossings(">", F(2), "<", F(-2), sees=9).changes() == [(10, 10, True), (70, 70, False)]
    found = reading([-5.0, *spike.raw.tolist()]).crossings(">", F(2), "<", F(-2), sees=10)
    assert (found.initial, found.changes()) == (None, [(50, 50, True), (80, 100, False)])
    found = reading([-5.0, -5.0, *spike.raw.tolist()]).crossings(">", F(2), "<", F(-2), sees=10)
    assert (found.initial, found.changes()) == (False, [(30, 60, True), (90, 110, False)])
    assert spike.crossings(">", F(2), "<", F(-2), sees=20).changes() == [(90, 90, False)]
    # With one limit the filter sees to it.
    assert spike.crossings(">", F(2), sees=20).changes() == spike.crossings(">", F(2)).changes()


def test_between_samples_a_stretch_may_be_shorter_than_it_looks() -> None:
    """Two samples beyond the limit: for as long as from one to the other at least, for three times as long at most."""
    values = np.array([-5.0, -5.0, -5.0, -5.0, 5.0, 5.0, 0.0, 0.0])
    times = np.arange(len(values)) * 10
    sampled = Reading("x", "x", 0, times, values, F(1), F(0), Spread(samples=times))
    assert sampled.crossings(">", F(2), "<", F(-2), sees=9).changes() == [(30, 40, True)]
    assert sampled.crossings(">", F(2), "<", F(-2), sees=10).changes() == [(30, 30, None)]
    assert sampled.nominal().crossings(">", F(2), "<", F(-2), sees=19).changes() == [(40, 40, True)]


def test_without_power_nothing_is_remembered() -> None:
    """Between its limits a comparison does not hold at power-up, whatever it was before the loss."""
    values = [float(v) for v in (-4, -1, -1, -1, 3)]
    kept = reading(values).crossings("<", F(-2), ">", F(2))
    assert (kept.initial, kept.changes()) == (True, [(40, 40, False)])
    lost = reading(values).crossings("<", F(-2), ">", F(2), off=[(15, 25)])
    assert (lost.initial, lost.changes()) == (True, [(15, 15, False)])
    assert reading([0.0, 0.0]).crossings("<", F(-2), ">", F(2)).initial is None
    assert reading([0.0, 0.0]).crossings("<", F(-2), ">", F(2), off=[(0, 5)]).initial is False


def test_turned_scale() -> None:
    """A falling scale turns the comparison over."""
    assert reading([1.0, 3.0], F(-1)).crossings("<", F(-2)).changes() == [(10, 10, True)]


def test_limits_are_exact() -> None:
    """A limit that no float meets is compared as it is, not as the float beside it."""
    third = 1 / 3  # a float a little below one third
    assert reading([third]).crossings("<", F(1, 3)).initial is True
    assert reading([third]).crossings(">=", F(1, 3)).initial is False
    assert reading([0.1]).crossings("<=", F(1, 10)).initial is False


def test_sampled_crossings_have_an_interval() -> None:
    """Between two samples it may have crossed at any moment; nominally, at the second."""
    sampled = Reading(
        "x", "x", 0, np.array([0, 10, 20]), np.array([1.0, 5.0, 1.0]), F(1), F(0), Spread(samples=np.array([0, 10, 20]))
    )
    assert sampled.crossings(">", F(3)).changes() == [(0, 10, True), (10, 20, False)]
    assert sampled.nominal().crossings(">", F(3)).changes() == [(10, 10, True), (20, 20, False)]


@given(
    st.lists(st.integers(-8, 8), min_size=1, max_size=12),
    st.lists(st.integers(-1, 1), min_size=12, max_size=12),
    st.integers(-4, 0),
    st.integers(0, 4),
)
def test_what_a_sensor_in_tolerance_decides_is_possible(
    values: list[int], errors: list[int], low: int, width: int
) -> None:
    """Whatever each limit is within the accuracy, a comparison worked out with it never contradicts a known truth."""
    found = reading([float(v) for v in values]).crossings("<", F(low), ">", F(low + width), F(1))
    for start in (False, True):
        for error_low in (-1, 0, 1):
            for error_high in (-1, 0, 1):
                on = start
                for index, value in enumerate(values):
                    if value < low + error_low:
                        on = True
                    elif value > low + width + error_high:
                        on = False
                    known = found.at(index * 10)
                    if any(early <= index * 10 <= late and early < late for early, late, _ in found.changes()):
                        known = None
                    both = value < low + error_low and value > low + width + error_high
                    assert known is None or known is on or both

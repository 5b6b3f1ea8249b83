"""Times, tolerances, quantities and patterns are read exactly, or refused at their place; writing gives them back."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boardgauge.language.model import Blink, Dark, Flashes, Pattern, Steady
from boardgauge.language.pattern_reader import read_dark_part, read_pattern
from boardgauge.language.problems import Unreadable
from boardgauge.language.quantities import EXACTLY, MS, Duration, H, Quantity, S, TimeRange, Tolerance
from boardgauge.language.quantity_reader import (
    read_accuracy,
    read_plain_time,
    read_quantity,
    read_time,
    read_time_range,
    read_tolerance,
)
from boardgauge.language.quantity_writer import (
    write_number,
    write_pattern,
    write_plain_time,
    write_quantity,
    write_time,
    write_time_range,
    write_tolerance,
)
from boardgauge.language.units import UNITS, WrongUnit, difference_in_unit, in_unit
from expression_strategies import durations, tolerances

TIMES = {
    "5 min": Duration(300 * S),
    "5min": Duration(300 * S),
    "0.3 s": Duration(300 * MS),
    "250 ms": Duration(250 * MS),
    "1.5 h": Duration(5400 * S),
    "0.000001 s": Duration(1),
    "45 s exactly": Duration(45 * S, EXACTLY),
    "90 s ± 10 %": Duration(90 * S, Tolerance(Fraction(1, 10), Fraction(1, 10))),
    "90 s +- 10%": Duration(90 * S, Tolerance(Fraction(1, 10), Fraction(1, 10))),
    "90 s ± 0.5 s": Duration(90 * S, Tolerance(less=S // 2, more=S // 2)),
    "45 s ± (4 % + 0.3 s)": Duration(45 * S, Tolerance(Fraction(1, 25), Fraction(1, 25), 300 * MS, 300 * MS)),
    "120 s +15 s -5 s": Duration(120 * S, Tolerance(less=5 * S, more=15 * S)),
    "120 s + 10 % - 2 s": Duration(120 * S, Tolerance(percent_more=Fraction(1, 10), less=2 * S)),
    "28 s to 33 s": Duration(30_500 * MS, Tolerance(less=2500 * MS, more=2500 * MS), span=True),
    "5 s to 5 s": Duration(5 * S, EXACTLY, span=True),
}


@pytest.mark.parametrize("text", TIMES)
def test_times_are_exact(text: str) -> None:
    """Each way to write a time means whole microseconds and fractions."""
    assert read_time(text) == TIMES[text]


def test_the_range_of_a_time() -> None:
    """45 s ± (4 % + 0.3 s) is 42.9 s to 47.1 s: the parts add."""
    duration = read_time("45 s ± (4 % + 0.3 s)")
    assert (duration.shortest, duration.longest) == (42_900 * MS, 47_100 * MS)
    span = read_time("28 s to 33 s")
    assert (span.shortest, span.longest) == (28 * S, 33 * S)


BAD_TIMES = {
    "": (0, "missing at the end"),
    "s": (0, "does not begin with a number"),
    "5": (1, "the unit is missing"),
    "5 sec": (2, "'sec' is no unit of time"),
    "5 S": (2, "'S' is no unit of time"),
    "5,5 s": (1, "with a point"),
    "-5 s": (0, "does not begin with a number"),
    "5 s 3": (4, "left over"),
    "5 s ± 4": (7, "the unit is missing"),
    "5 s ± (0.3 s + 4 %)": (7, "the percentage comes first"),
    "5 s ± (4 % 0.3 s)": (11, 'joined by "+"'),
    "5 s ± (4 % + 0.3 s": (18, 'closing ")"'),
    "5 s ± 4 % ± 0.3 s": (10, "add them, ± (4 % + 0.3 s), or take the greater"),
    "5 s ± the greater of 4 % and 0.3 s": (6, "not in version 1"),
    "5 s + 3 s": (9, '"-" part is missing'),
    "5 s ± 101 %": (6, "more than 100 %"),
    "9 s to 5 s": (0, "the lesser"),
    "28 to 33 s": (3, "'to' is no unit of time"),
    "0.0000001 s": (0, "whole number of microseconds"),
    "200000 h": (0, "longer than"),
    "1" * 40 + " s": (0, "40 characters"),
    "5 s exactly ± 4 %": (12, "left over"),
    "5 s roughly": (4, "left over"),
    "٣ s": (0, ""),
}


@pytest.mark.parametrize("text", BAD_TIMES)
def test_bad_times_are_refused_at_their_place(text: str) -> None:
    """Each wrong time is told with the offset at which reading stopped."""
    at, words = BAD_TIMES[text]
    with pytest.raises(Unreadable) as caught:
        read_time(text)
    assert words in str(caught.value)
    assert caught.value.at == at


def test_limits_take_no_tolerance() -> None:
    """A plain time is a limit; a tolerance on it is refused."""
    assert read_plain_time("200 ms") == 200 * MS
    for text in ("200 ms ± 10 %", "1 s to 2 s", "1 s exactly"):
        with pytest.raises(Unreadable, match=r'takes no tolerance; expected one time, such as "200 ms"'):
            read_plain_time(text)


def test_ranges_of_times() -> None:
    """Two times, the lesser first."""
    assert read_time_range("40 ms to 150 ms") == TimeRange(40 * MS, 150 * MS)
    with pytest.raises(Unreadable, match="the lesser"):
        read_time_range("150 ms to 40 ms")
    with pytest.raises(Unreadable, match="second time"):
        read_time_range("150 ms")


def test_tolerances_alone() -> None:
    """The board's tolerance stands without a time."""
    assert read_tolerance("± 10 %") == Tolerance(Fraction(1, 10), Fraction(1, 10))
    assert read_tolerance(" exactly ") == EXACTLY
    with pytest.raises(Unreadable, match="no tolerance"):
        read_tolerance("10 %")


def test_quantities_and_accuracies() -> None:
    """A limit is a number and a unit, an accuracy has ± before it."""
    assert read_quantity("-2 °C") == Quantity(Fraction(-2), "°C")
    assert read_quantity("−2.5°C") == Quantity(Fraction(-5, 2), "°C")
    assert read_accuracy("± 1 K") == Quantity(Fraction(1), "K")
    with pytest.raises(Unreadable, match="without a tolerance"):
        read_quantity("2 V ± 1 V")
    with pytest.raises(Unreadable, match="begins with"):
        read_accuracy("1 K")


PATTERNS: dict[str, Pattern] = {
    "steady": Steady(),
    "dark": Dark(),
    "1 s lit, 3 s dark": Blink(S, 3 * S),
    "0.25 s lit,0.5 s dark": Blink(250 * MS, 500 * MS),
    "3 flashes": Flashes(3),
    "1 flash": Flashes(1),
}


@pytest.mark.parametrize("text", PATTERNS)
def test_patterns(text: str) -> None:
    """What a lamp shows is read, written and read again."""
    assert read_pattern(text) == PATTERNS[text]
    assert read_pattern(write_pattern(PATTERNS[text])) == PATTERNS[text]


@pytest.mark.parametrize(
    "text",
    [
        "",
        "on",
        "0 flashes",
        "101 flashes",
        "1 s lit",
        "1 s lit, 1 s",
        "1 s dark, 1 s lit",
        "0 s lit, 1 s dark",
        "steady dark",
    ],
)
def test_bad_patterns_are_refused(text: str) -> None:
    """What no lamp shows is refused."""
    with pytest.raises(Unreadable):
        read_pattern(text)


def test_the_dark_between_groups() -> None:
    """It is a time and the word dark."""
    assert read_dark_part("1.5 s dark") == 1500 * MS
    with pytest.raises(Unreadable, match="'dark'"):
        read_dark_part("1.5 s")


@settings(max_examples=200)
@given(durations())
def test_times_survive_writing(duration: Duration) -> None:
    """Every time is read back as it was."""
    assert read_time(write_time(duration)) == duration


@settings(max_examples=200)
@given(durations(), tolerances())
def test_the_usual_tolerance_is_left_out(duration: Duration, usual: Tolerance) -> None:
    """A time written without its tolerance has exactly the usual one, and no other is left out."""
    read = read_time(write_time(duration, usual))
    assert duration == (read if read.tolerance is not None else Duration(read.nominal, usual))


@given(st.integers(0, 100_000 * H))
def test_plain_times_survive_writing(time: int) -> None:
    """Every whole number of microseconds has a text."""
    assert read_plain_time(write_plain_time(time)) == time


@given(tolerances())
def test_tolerances_survive_writing(tolerance: Tolerance) -> None:
    """Every tolerance that can be said is read back."""
    assert read_tolerance(write_tolerance(tolerance)) == tolerance


@given(st.integers(0, 10**9), st.integers(0, 10**9))
def test_ranges_survive_writing(one: int, two: int) -> None:
    """Every range is read back."""
    times = TimeRange(min(one, two), max(one, two))
    assert read_time_range(write_time_range(times)) == times


@given(st.decimals(min_value=-(10**6), max_value=10**6, places=4), st.sampled_from(sorted(UNITS)))
def test_quantities_survive_writing(number: object, unit: str) -> None:
    """Every decimal number with a unit is read back."""
    quantity = Quantity(Fraction(str(number)), unit)
    assert read_quantity(write_quantity(quantity)) == quantity


def test_what_cannot_be_said_is_a_value_error() -> None:
    """A number without an end, and an uneven tolerance of both parts, have no text."""
    with pytest.raises(ValueError, match="no exact decimal"):
        write_number(Fraction(1, 3))
    with pytest.raises(ValueError, match="has no text"):
        write_tolerance(Tolerance(Fraction(1, 10), Fraction(1, 10), 1, 2))


@pytest.mark.parametrize(
    ("number", "unit", "wanted", "there"),
    [
        ("0", "°C", "32", "°F"),
        ("100", "°C", "212", "°F"),
        ("-40", "°F", "-40", "°C"),
        ("14", "°C", "57.2", "°F"),
        ("0", "°C", "273.15", "K"),
        ("480", "mV", "0.48", "V"),
        ("1", "bar", "100", "kPa"),
        ("10", "kΩ", "10000", "Ω"),
        ("60", "rpm", "1", "Hz"),
    ],
)
def test_units_convert_exactly(number: str, unit: str, wanted: str, there: str) -> None:
    """Fixed points of the temperature scales (0 and 100 °C, −40) and powers of ten, to the last digit and back."""
    quantity = Quantity(Fraction(number), unit)
    assert in_unit(quantity, there) == Quantity(Fraction(wanted), there)
    assert in_unit(in_unit(quantity, there), unit) == quantity


def test_differences_convert_without_the_zero() -> None:
    """A difference of 1 K is 1.8 °F and 1 °C; the zero of the scale takes no part."""
    kelvin = Quantity(Fraction(1), "K")
    assert difference_in_unit(kelvin, "°F").number == Fraction(9, 5)
    assert difference_in_unit(kelvin, "°C").number == 1


def test_a_psi_in_pascal() -> None:
    """1 psi is 6894.757 Pa, from the international pound and inch and standard gravity."""
    assert round(float(in_unit(Quantity(Fraction(1), "psi"), "Pa").number), 3) == 6894.757


def test_units_of_other_kinds_do_not_convert() -> None:
    """A unit that is unknown, or measures something else, converts to itself only."""
    assert in_unit(Quantity(Fraction(3), "ppm"), "ppm").number == 3
    for unit in ("V", "ppm"):
        with pytest.raises(WrongUnit):
            in_unit(Quantity(Fraction(3), "K"), unit)

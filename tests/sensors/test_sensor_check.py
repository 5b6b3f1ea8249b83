"""A sensor is good or bad only beyond doubt: the zones of ISO 14253-1."""

from __future__ import annotations

from fractions import Fraction as F

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from boardgauge.sensors import Allowance, Divider, check_sensor, curve_names, find_curve, sensor_table
from boardgauge.sensors.amounts import read_allowance
from boardgauge.sensors.chart_rows import ohms_in_words
from boardgauge.sensors.sensor_check import BeyondTheCurve, insulation_verdict

NTC, PT100 = find_curve("ntc-10k"), find_curve("pt100")
EXACTLY = Allowance()
tenths = st.integers(-10, 10).map(lambda n: F(n, 10))


@given(
    st.sampled_from(curve_names()), st.integers(-25, 95), tenths, tenths, tenths, st.integers(0, 300), st.integers(0, 2)
)
def test_a_sensor_within_its_limits_is_never_bad(
    name: str, celsius: int, off: F, meter: F, thermometer: F, kelvin: int, percent: int
) -> None:
    """Whatever meter and thermometer show within what they may be off; and one outside is never good."""
    curve, allowance = find_curve(name), Allowance(F(kelvin, 100))
    per_meter, per_thermometer = F(percent, 100), F(1, 2)
    shown = F(celsius) + thermometer * per_thermometer
    inside = F(curve.form.ohms(celsius + off * allowance.kelvin)) / (1 + meter * per_meter)
    verdict = check_sensor(curve, shown, inside, allowance, per_meter, per_thermometer).verdict
    assert verdict in ("good", "doubtful")
    outside = F(curve.form.ohms(celsius + allowance.kelvin + F(1, 100))) / (1 + meter * per_meter)
    assert check_sensor(curve, shown, outside, allowance, per_meter, per_thermometer).verdict != "good"


@given(st.integers(0, 50), st.integers(5000, 20000), st.integers(0, 20), st.integers(0, 20))
def test_a_coarser_meter_decides_less(celsius: int, ohms: int, permille: int, more: int) -> None:
    """More uncertainty makes no bad sensor good and no good one bad."""
    fine, coarse = (
        check_sensor(NTC, F(celsius), F(ohms), Allowance(F(2)), F(m, 1000), F(0)).verdict
        for m in (permille, permille + more)
    )
    assert coarse in (fine, "doubtful")


@pytest.mark.parametrize(
    ("ohms", "verdict"),
    [
        (9668, "doubtful"), (9669, "good"), (10346, "good"), (10347, "doubtful"), (9074, "doubtful"), (9073, "bad"),
        (11032, "doubtful"), (11034, "bad"), (10**7, "open"), (3, "shorted"),
    ],
)  # fmt: skip
def test_both_sides_of_each_limit(ohms: int, verdict: str) -> None:
    """The common 10 kΩ sensor at 25 °C, ± 1.5 K, with a meter of 1 % and a thermometer of 0.5 K."""
    assert check_sensor(NTC, F(25), F(ohms)).verdict == verdict


def test_the_limits_are_those_of_the_temperatures_around() -> None:
    """Limits of 1.5 K at 25 °C are the curve's own ohms at 26.5 and 23.5 °C; with 0.5 K of doubt, at 26 and 24 °C."""
    check = check_sensor(NTC, F(25), F(10_000), meter=F(0))
    for ohms, celsius in (
        (check.least, 26.5), (check.greatest, 23.5), (check.surely_least, 26), (check.surely_greatest, 24),
        (check.possibly_least, 27), (check.possibly_greatest, 23),
    ):  # fmt: skip
        assert NTC.celsius_of(ohms) == pytest.approx(celsius, abs=1e-6)


def test_open_is_over_the_range() -> None:
    """A meter over its range is an open sensor, and a reading beyond the warm end of platinum too."""
    assert check_sensor(NTC, F(25), None).verdict == "open"
    assert check_sensor(PT100, F(25), None).verdict == "open"
    assert check_sensor(PT100, F(25), F(100_000)).verdict == "open"
    assert check_sensor(PT100, F(25), F(1)).verdict == "shorted"
    assert check_sensor(NTC, F(25), F(0)).verdict == "shorted"


def test_too_coarse_is_said() -> None:
    """A meter of 1 % cannot call any platinum sensor good within 0.5 K; a closer one can."""
    coarse = check_sensor(PT100, F(0), F(100), Allowance(F(1, 2)))
    assert (coarse.verdict, coarse.too_coarse) == ("doubtful", True)
    fine = check_sensor(PT100, F(0), F(100), Allowance(F(1, 2)), F(1, 10_000), F(1, 10))
    assert (fine.verdict, fine.too_coarse) == ("good", False)
    assert coarse.as_json()["good_from"] is None


@pytest.mark.parametrize("name", curve_names())
def test_the_coarsest_instruments_are_no_trouble(name: str) -> None:
    """At either end, with all the tolerance there can be, a check comes to a verdict that can be written down."""
    curve = find_curve(name)
    for celsius in (curve.low, curve.high):
        for ohms in (None, F(0), F(1), F(10**12)):
            check = check_sensor(curve, celsius, ohms, read_allowance("± (100 K + 0.2 |t| + 99 %)"), F(99, 100), F(100))
            assert check.as_json()["verdict"] in ("open", "shorted", "doubtful", "bad")
            assert 0 <= check.least < check.greatest


def test_beyond_the_curve() -> None:
    """At a temperature the curve does not reach nothing can be checked."""
    with pytest.raises(BeyondTheCurve, match="runs from -50 °C to 120 °C"):
        check_sensor(NTC, F(121), F(100))


def test_insulation() -> None:
    """Below 1 MΩ condemns, from 10 MΩ on is sound, and so is over range; between is doubtful."""
    shown = [F(999_999), F(1_000_000), F(9_999_999), F(10_000_000), None]
    assert [insulation_verdict(ohms) for ohms in shown] == ["bad", "doubtful", "doubtful", "good", "good"]


# -- tables --------------------------------------------------------------------------------------------------------


def test_rows_at_whole_steps() -> None:
    """A table begins and ends where it is asked to; without that, at whole steps inside the curve."""
    table = sensor_table(NTC, F(0), F(20), F(10))
    assert [(row.celsius, row.fahrenheit) for row in table.rows] == [(0, 32), (10, 50), (20, 68)]
    fahrenheit = sensor_table(NTC, scale="°F")
    assert {row.fahrenheit % 10 for row in fahrenheit.rows} == {0}
    assert (fahrenheit.rows[0].fahrenheit, fahrenheit.rows[-1].fahrenheit) == (-20, 210)


@given(st.integers(-29, 99), st.integers(100, 10**6), st.sampled_from(["top", "bottom"]))
def test_volts_of_a_row(celsius: int, fixed: int, sensor: str) -> None:
    """The volts of a row come back as its ohms, and never lie outside the supply."""
    divider = Divider(F(fixed), sensor, F(5))  # type: ignore[arg-type]
    row = sensor_table(NTC, F(celsius), F(celsius), F(1), divider=divider).rows[0]
    assert row.measured is not None
    assume(0.001 < row.measured < 4.999)
    back = divider.ohms(F(row.measured))
    assert back is not None
    assert float(back) == pytest.approx(row.ohms, rel=1e-9)
    assert divider.ohms(F(0)) is divider.ohms(F(5)) is divider.ohms(F(6)) is None


@pytest.mark.parametrize(
    ("low", "high", "step", "what"),
    [(F(-60), None, None, "--from -60 °C"), (None, F(130), None, "--to 130 °C"), (None, None, F(0), "above 0"),
     (F(20), F(10), None, "no whole step"), (None, None, F(1, 100), "1000 is the most")],
)  # fmt: skip
def test_what_no_table_can_show(low: F | None, high: F | None, step: F | None, what: str) -> None:
    """Temperatures off the curve and steps without end are refused."""
    with pytest.raises(ValueError, match=what):
        sensor_table(NTC, low, high, step)


def test_ohms_as_the_trade_says_them() -> None:
    """Four figures, in the unit that keeps them short; what rounds up to a unit is told in it."""
    told = [ohms_in_words(ohms) for ohms in (0.5, 9.99996, 109.73, 999.96, 9803, 99999, 123456, 1.2e6)]
    assert told == ["0.500 Ω", "10.00 Ω", "109.7 Ω", "1.000 kΩ", "9.803 kΩ", "100.0 kΩ", "123.5 kΩ", "1.200 MΩ"]

"""The curves that ship agree with what is published of them, and with an independent library."""

from __future__ import annotations

from fractions import Fraction as F

import numpy as np
import pytest
import rtd_sensor
from hypothesis import given
from hypothesis import strategies as st

from boardgauge.sensors import curve_from, curve_names, find_curve
from boardgauge.sensors.amounts import CLASSES

NTC = find_curve("ntc-10k")


@pytest.mark.parametrize(
    ("celsius", "ohms"), [(-40, "84.27"), (0, "100.00"), (25, "109.73"), (70, "127.08"), (100, "138.51")]
)
def test_pt100(celsius: int, ohms: str) -> None:
    """IEC 60751, its table for 100 Ω, to the hundredth of an ohm; ten times that for 1000 Ω."""
    assert f"{find_curve('pt100').ohms(F(celsius)):.2f}" == ohms
    assert find_curve("pt1000").ohms(F(celsius)) == pytest.approx(10 * find_curve("pt100").ohms(F(celsius)))


@given(st.floats(-50, 500), st.sampled_from(["pt100", "pt500", "pt1000"]))
def test_platinum_against_a_library(celsius: float, name: str) -> None:
    """rtd-sensor, written by others from IEC 60751, gives the same ohms and comes back to the same degrees."""
    curve, other = find_curve(name), getattr(rtd_sensor, name)
    ohms = other.celsius_to_resistance(celsius)
    assert curve.ohms(F(celsius)) == pytest.approx(ohms, rel=1e-12)
    assert curve.celsius(np.array([ohms]))[0] == pytest.approx(other.resistance_to_celsius(ohms), abs=1e-6)


@pytest.mark.parametrize("name", ["AA", "A", "B", "C"])
def test_classes_against_a_library(name: str) -> None:
    """The tolerance classes of IEC 60751 are those of rtd-sensor where a class is defined."""
    for celsius in (0, 25, 100, 150):
        theirs = rtd_sensor.tolerance.thermometer_tolerance_c(celsius, tolerance_class=name, construction="film")
        assert float(CLASSES[f"class {name}"].shift(F(celsius))) == pytest.approx(theirs)


PUBLISHED = [
    (-40, "336103.2"), (-35, "242430.2"), (-30, "176804.8"), (-25, "130307.6"), (-20, "97006.9"), (-15, "72911.1"),
    (-10, "55303.9"), (-5, "42316.7"), (0, "32650.9"), (1, "31030.8"),
]  # fmt: skip


@pytest.mark.parametrize(("celsius", "ohms"), PUBLISHED)
def test_the_common_thermistor(celsius: int, ohms: str) -> None:
    """The table printed in a probe's manual for the common 10 kΩ curve is met within 0.0025 °C."""
    assert NTC.celsius_of(F(ohms)) == pytest.approx(celsius, abs=0.0025)


@pytest.mark.parametrize(("celsius", "ohms"), [(10, 19902.9), (25, 10000.0), (40, 5325.0)])
def test_the_formula_of_steinhart_and_hart(celsius: int, ohms: float) -> None:
    """Recomputed from 1/T = a + b ln R + c (ln R)³ with the published coefficients."""
    assert NTC.ohms(F(celsius)) == pytest.approx(ohms, abs=0.05)


def test_a_beta_is_of_its_pair() -> None:
    """Of the printed table 0 °C and 25 °C give 3854.7 K; of the same sensor other pairs give others."""
    table = curve_from(
        'language = 1\n[curve]\nid = "t"\ntitle = "T"\nsource = "printed"\ntolerance = "exactly"\n'
        "[table]\npoints = [[0, 32650.9], [25, 10000]]\n"
    )
    assert round(table.beta(F(0), F(25)), 1) == 3854.7
    assert NTC.beta(F(0), F(25)) == pytest.approx(3854.7, abs=0.2)
    assert NTC.beta(F(25), F(85)) > NTC.beta(F(0), F(25)) + 100


def test_two_tables_of_one_kind() -> None:
    """Two makers' numbers for the common 10 kΩ thermistor agree within 0.03 K from -30 to 100 °C."""
    other = find_curve("ntc-10k-table")
    for celsius in range(-30, 101, 5):
        assert NTC.celsius_of(F(other.form.ohms(F(celsius)))) == pytest.approx(celsius, abs=0.03)


def test_between_the_points_of_a_table() -> None:
    """Between points 5 K apart the beta line keeps within 0.02 K of the curve they are from."""
    rows = ", ".join(f"[{t}, {NTC.ohms(F(t)):.1f}]" for t in range(-40, 101, 5))
    head = 'language = 1\n[curve]\nid = "t"\ntitle = "T"\nsource = "ours"\ntolerance = "exactly"\n'
    table = curve_from(f"{head}[table]\npoints = [{rows}]\n")
    for tenths in range(-400, 1000, 7):
        assert table.celsius_of(F(NTC.form.ohms(F(tenths, 10)))) == pytest.approx(tenths / 10, abs=0.02)


@given(st.sampled_from(curve_names()), st.integers(-3000, 10000), st.integers(1, 500))
def test_monotone_and_back(name: str, hundredths: int, more: int) -> None:
    """Every curve runs one way throughout, and its degrees come back from its ohms."""
    curve = find_curve(name)
    cold, warm = F(hundredths, 100), F(hundredths + more, 100)
    if curve.low <= cold and warm <= curve.high:
        first, second = curve.ohms(cold), curve.ohms(warm)
        assert (first > second) is curve.falls
        assert curve.celsius(np.array([first, second])) == pytest.approx([float(cold), float(warm)], abs=1e-6)


@given(st.sampled_from(curve_names()), st.integers(-2900, 9900), st.integers(-10, 10), st.integers(-10, 10))
def test_bounds_are_outward(name: str, hundredths: int, kelvin: int, share: int) -> None:
    """A sensor anywhere in its tolerance lies within the bounds; one exactly on the curve does so without any."""
    curve, celsius = find_curve(name), F(hundredths, 100)
    allowed = curve.tolerance
    least, greatest = curve.bounds(celsius)
    ohms = F(curve.form.ohms(celsius + allowed.shift(celsius) * kelvin / 10)) * (1 + allowed.share * share / 10)
    assert least <= ohms <= greatest


@pytest.mark.parametrize("name", curve_names())
def test_every_curve_says_where_it_is_from(name: str) -> None:
    """A curve's id is the name of its file, and it has a source; what has none says that it has none."""
    curve = find_curve(name)
    assert curve.id == name
    assert len(curve.source) > 40
    assert "source" in curve.source or "IEC" in curve.source

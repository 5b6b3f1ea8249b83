"""A sensor by its resistance: a comparison is known only where no part within its tolerance says otherwise."""

from __future__ import annotations

import math
from fractions import Fraction as F
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from boardgauge.language.model import Board
from boardgauge.language.reader import read_board_text
from boardgauge.machine.run import Edges, Run
from boardgauge.sensors import Allowance, Divider, curve_names, find_curve
from boardgauge.traces import BadWiring, Reading, Trace, condition, wiring_from
from boardgauge.traces.recording import Recording, channel_of
from boardgauge.traces.sensor_scale import BySensor
from boardgauge.traces.simulated import recording_of
from boardgauge.traces.spread import EXACT

NTC, PT100, BETA = (find_curve(name) for name in ("ntc-10k", "pt100", "ntc-10k-b3950"))
EXACTLY = Allowance()
PULLED_UP = Divider(F(10_000), "bottom", F(5), F(1, 100), F(2, 100))
HEAD = 'language = 1\nboard = "b"\n[wiring]\nid = "w"\n[channels.x]\nsignal = "coil"\n'
BOARD = """language = 1
[board]
id = "b"
title = "A small board (invented)"
tolerance = "exactly"
[inputs.coil]
kind = "sensor"
unit = "°C"
{more}
[inputs.y]
kind = "call"
[outputs.q]
on = "coil <= -2 °C until > 0 °C"
"""


def board(more: str = "") -> Board:
    return read_board_text(BOARD.replace("{more}", more), "b.toml")


def trace(values: list[float], wiring: str, more: str = "", head: str = HEAD) -> Trace:
    times = np.arange(len(values), dtype=np.int64) * 10
    channel = channel_of("x", times, np.array(values))
    recording = Recording("r", "VCD", 0, len(values) * 10, {"x": channel})
    return condition(recording, wiring_from(head + wiring, "w.toml"), board(more))


def reading(values: list[float], by: BySensor, scale: F = F(1), offset: F = F(0)) -> Reading:
    return Reading("x", "x", 0, np.arange(len(values)) * 10, np.array(values), scale, offset, EXACT, by)


# -- the law -------------------------------------------------------------------------------------------------------

shares = st.integers(-4, 4).map(lambda n: F(n, 4))


@given(
    st.sampled_from(sorted(curve_names())),
    st.sampled_from(["ohms", "top", "bottom", "counts"]),
    st.integers(-20, 90),
    st.integers(-20, 90),
    st.tuples(shares, shares, shares, shares, shares),
    st.sampled_from([F(1), F(-1, 1000)]),
)
def test_a_sensor_in_tolerance_never_contradicts_what_is_known(
    name: str, way: str, celsius: int, limit: int, off: tuple[F, F, F, F, F], scale: F
) -> None:
    """Whatever parts are fitted within their tolerances, a known comparison is that of the true temperature."""
    curve = find_curve(name)
    allowance = Allowance(F(1, 2), F(1, 200), F(1, 100))
    marked = {
        "ohms": None,
        "top": Divider(F(4_700), "top", F(5), F(1, 100), F(2, 100)),
        "bottom": PULLED_UP,
        "counts": Divider(F(10_000), "bottom", fixed_share=F(1, 100), counts=1023),
    }[way]
    by = BySensor(curve, "°C", marked, allowance, F(1, 1000), F(1, 2))
    # A sensor that is off by parts of all it may be off, in a divider of parts that are off.
    shift, share, fixed, supply, step = off
    true = F(celsius)
    ohms = F(curve.form.ohms(true + shift * allowance.shift(true))) * (1 + share * allowance.share) + by.leads
    number = ohms
    if marked is not None:
        whole = marked.whole * (1 + supply * (0 if marked.counts else marked.supply_share))
        real = Divider(marked.fixed * (1 + fixed * marked.fixed_share), marked.sensor, whole)
        number = real.measured(ohms)
    number += step * by.resolution
    raw = float(number / scale)
    for op, holds in (("<", true < limit), ("<=", true <= limit), (">", true > limit), (">=", true >= limit)):
        known = reading([raw], by, scale).crossings(op, F(limit)).initial  # type: ignore[arg-type]
        if abs(true - limit) > F(1, 10**6):
            assert known is None or known is holds


@given(st.sampled_from(sorted(curve_names())), st.integers(-2000, 9000), st.booleans())
def test_without_tolerances_nothing_is_in_doubt(name: str, hundredths: int, divided: bool) -> None:
    """Every part as marked, a comparison is known on either side of its limit, as close as floats tell apart."""
    curve = find_curve(name)
    by = BySensor(curve, "°C", PULLED_UP if divided else None).nominal()
    limit = F(hundredths, 100)
    inside = [float(by.number(limit + away)) for away in (F(-1, 10**4), F(1, 10**4))]
    if curve.low + 1 < limit < curve.high - 1:
        found = reading(inside, by).crossings("<", limit)
        assert (found.initial, found.changes()) == (True, [(10, 10, False)])


@given(st.lists(st.integers(-300, 900), min_size=1, max_size=10), st.integers(0, 30), st.integers(0, 30))
def test_more_tolerance_knows_less(tenths: list[int], less: int, more: int) -> None:
    """A wider tolerance turns no comparison that was not known, or that was otherwise, into a known one."""
    numbers = [float(NTC.ohms(F(t, 10))) for t in tenths]
    narrow, wide = (
        reading(numbers, BySensor(NTC, "°C", None, Allowance(F(k, 10)))).crossings("<=", F(10))
        for k in (less, less + more)
    )
    for index in range(len(numbers)):
        assert wide.at(index * 10) in (None, narrow.at(index * 10))


# -- examples ------------------------------------------------------------------------------------------------------


def test_the_limit_is_turned_not_the_samples() -> None:
    """A limit of 0 °C and a tolerance of 0.5 K are the ohms at -0.5 and 0.5 °C, by the formula the other way round."""
    least, greatest = BySensor(NTC, "°C").bounds(F(0))
    for ohms, celsius in ((least, 0.5), (greatest, -0.5)):
        logarithm = math.log(ohms)
        kelvin = 1 / (1.129241e-3 + 2.341077e-4 * logarithm + 8.775468e-8 * logarithm**3)
        assert kelvin - 273.15 == pytest.approx(celsius, abs=1e-9)
    assert least < F(NTC.form.ohms(F(1, 2))) < F(NTC.form.ohms(F(-1, 2))) < greatest
    in_fahrenheit = BySensor(NTC, "°F").bounds(F(32))
    assert in_fahrenheit == (least, greatest)


def test_a_limit_beyond_the_curve_is_certain() -> None:
    """What the curve has is colder than a limit far past its warm end, and warmer than one past its cold end."""
    for by in (BySensor(NTC, "°C"), BySensor(PT100, "°C"), BySensor(NTC, "°C", PULLED_UP)):
        number = float(by.number(F(20)))
        for scale in (F(1), F(-1)):
            at = reading([number * float(scale)], by, scale)
            assert at.crossings("<", F(900)).initial is True
            assert at.crossings(">=", F(900)).initial is False
            assert at.crossings(">", F(-250)).initial is True
            assert at.crossings("<=", F(-250)).initial is False


@pytest.mark.parametrize("sensor", ["top", "bottom"])
def test_volts_of_a_divider(sensor: str) -> None:
    """At 25 °C a 10 kΩ sensor beside 10 kΩ halves the supply; the tolerances of both and of the supply add up."""
    by = BySensor(BETA, "°C", Divider(F(10_000), sensor, F(5), F(1, 100), F(2, 100)), Allowance(share=F(1, 100)))  # type: ignore[arg-type]
    assert by.number(F(25)) == pytest.approx(2.5)
    least, greatest = by.bounds(F(25))
    assert float(least) == pytest.approx(5 * 0.98 * 0.99 / 2, rel=1e-3)
    assert float(greatest) == pytest.approx(5 * 1.02 * 1.01 / 2, rel=1e-3)
    assert by.values(np.array([2.5, 0.0, 5.0, -1.0]))[0] == pytest.approx(25)
    assert np.isnan(by.values(np.array([2.5, 0.0, 5.0, -1.0]))[1:]).all()


def test_values_are_those_of_the_curve() -> None:
    """For people and charts the numbers come back as degrees, in the sensor's unit."""
    for curve in map(find_curve, curve_names()):
        warm = [F(t) for t in (-25, 0, 25, 70, 100)]
        for divider in (None, PULLED_UP, Divider(F(4700), "top")):
            by = BySensor(curve, "°F", divider, leads=F(1, 2))
            found = by.values(np.array([by.number(t * 9 / 5 + 32) for t in warm]))
            assert found == pytest.approx([float(t) * 1.8 + 32 for t in warm], abs=1e-6)


# -- wirings -------------------------------------------------------------------------------------------------------


def test_open_and_shorted_are_not_known() -> None:
    """Beyond the ends of the curve a sensor says nothing: open (to the supply) and shorted (to ground) are told."""
    divider = 'divider = { fixed = "10 kΩ", sensor = "bottom", supply = "5 V" }'
    found = trace([2.5, 5.0, 4.999, 4.2, 0.0, 4.2], f'curve = "ntc-10k"\n{divider}')
    cold = found.readings["coil"].crossings("<=", F(-2), ">", F(0))
    assert [cold.at(t) for t in (5, 15, 25, 35, 45, 55)] == [False, None, None, True, None, True]
    assert [(r.kind, r.start, r.end, r.known) for r in found.remarks] == [
        ("open sensor", 10, 30, False),
        ("shorted sensor", 40, 50, False),
    ]
    assert "open, or below -50 °C" in found.remarks[0].text
    assert "shorted, or above 120 °C" in found.remarks[1].text


def test_platinum_breaks_the_other_way() -> None:
    """A platinum sensor rises: open is warmer than its curve, shorted colder."""
    found = trace([100.0, 1e6, 2.0], 'curve = "pt100"')
    assert [r.kind for r in found.remarks] == ["open sensor", "shorted sensor"]
    assert "above 500 °C" in found.remarks[0].text


def test_counts_are_known_to_one_count() -> None:
    """Of a converter's counts no more is known than a count either way, unless the wiring says otherwise."""
    keys = 'curve = "ntc-10k"\ncurve_tolerance = "exactly"\n'
    by = trace([512.0], keys + 'divider = { fixed = "10k", sensor = "top", counts = 1023 }').readings["coil"].by
    assert by is not None
    least, greatest = by.bounds(F(25))
    assert greatest - least > 2
    assert float(greatest - least) == pytest.approx(2)
    by = (
        trace([512.0], keys + 'resolution = 0.5\ndivider = { fixed = "10k", sensor = "top", counts = 1023 }')
        .readings["coil"]
        .by
    )
    assert by is not None
    assert by.resolution == F(1, 2)


def test_the_curve_of_the_spec() -> None:
    """A wiring may leave the curve to the spec; a nominal trace has every part as marked."""
    found = trace([100.0, 110.0], 'curve = "of the spec"', 'curve = "pt100"').readings["coil"]
    assert found.by is not None
    assert found.by.curve.id == "pt100"
    assert found.nominal().by == found.by.nominal() != found.by
    assert found.values == pytest.approx([0, 25.68], abs=0.01)


def test_the_resolution_of_a_straight_scale() -> None:
    """A resolution leaves a comparison open between the limit less it and the limit plus it; nominally it is exact."""
    found = trace([-4.0, -2.4, -1.6, -1.4, -2.4], "resolution = 0.5").readings["coil"]
    assert found.crossings("<=", F(-2)).changes() == [(10, 10, None), (30, 30, False), (40, 40, None)]
    assert found.nominal().crossings("<=", F(-2)).changes() == [(20, 20, False), (40, 40, True)]


def test_a_curve_of_ones_own(tmp_path: Path) -> None:
    """A curve file is found from the folder of the wiring."""
    (tmp_path / "own.toml").write_text(
        'language = 1\n[curve]\nid = "own"\ntitle = "Own"\nsource = "measured"\ntolerance = "± 1 K"\n'
        "[table]\npoints = [[-20, 2000], [0, 1000], [40, 300]]\n",
        encoding="utf-8",
    )
    wiring = wiring_from(HEAD + 'curve = "own.toml"\n', str(tmp_path / "w.toml"))
    curve = wiring.wires[0].curve
    assert not isinstance(curve, str)
    assert curve is not None
    assert curve.ohms(F(0)) == 1000


def test_a_simulated_run_comes_back() -> None:
    """What is written by a wiring with a divider is read by it as the temperature it was."""
    wiring = wiring_from(
        HEAD + 'curve = "ntc-10k"\nscale = 0.001\ndivider = { fixed = "10k", sensor = "bottom", supply = "5 V" }'
    )
    spec = board()
    points = ((0, F(-5)), (10, F(3)), (20, F(25)))
    run = Run(30, {"coil": Edges(points[0][1], points[1:])}, {}, {}, Edges(True), ())
    recording = recording_of(run, spec, wiring)
    assert max(recording.channels["x"].values) < 5000
    found = condition(recording, wiring, spec).readings["coil"].values
    assert found == pytest.approx([-5, 3, 25], abs=1e-6)


@pytest.mark.parametrize(
    ("keys", "line", "what"),
    [
        ('curve = "ntc-10kk"', 7, "did you mean 'ntc-10k'"),
        ("curve = 3", 7, "this is no name"),
        ('curve = "ntc-10k"\ncurve_tolerance = "0.5"', 8, 'begins with "±"'),
        ('curve = "ntc-10k"\ndivider = "10k"', 8, "not a table"),
        ('curve = "ntc-10k"\ndivider = { fixed = "10k", sensor = "bottom" }', 8, 'either supply = "5 V" or counts'),
        ('curve = "ntc-10k"\ndivider = { sensor = "bottom", supply = "5 V" }', 8, "its fixed resistor"),
        ('curve = "ntc-10k"\ndivider = { fixed = "10k", sensor = "left", supply = "5 V" }', 8, '"top"'),
        ('curve = "ntc-10k"\ndivider = { fixed = "0k", sensor = "top", supply = "5 V" }', 8, "some resistance"),
        ('curve = "ntc-10k"\ndivider = { fixed = "1k", sensor = "top", suply = "5 V" }', 8, "did you mean 'supply'"),
        ('curve = "ntc-10k"\ndivider = { fixed = "1k", sensor = "top", counts = true }', 8, "full scale"),
        (
            'curve = "ntc-10k"\ndivider = { fixed = "1k", sensor = "top", counts = 9, supply_tolerance = "± 1 %" }',
            8,
            "means nothing",
        ),
    ],
)
def test_what_is_wrong_is_told_with_its_line(keys: str, line: int, what: str) -> None:
    """One fault each, at the key that says it."""
    with pytest.raises(BadWiring, match=what) as error:
        wiring_from(HEAD + keys, "w.toml")
    assert {problem.at.line for problem in error.value.problems} == {line}


@pytest.mark.parametrize(
    ("keys", "more", "what"),
    [
        ('divider = { fixed = "1k", sensor = "top", supply = "5 V" }', "", "divider means nothing without a curve"),
        ('leads = "1 Ω"', "", "leads means nothing without a curve"),
        ('curve = "of the spec"', "", "names no curve for coil"),
        ('curve = "of the spec"', 'curve = "pt10"', "did you mean 'pt100'"),
    ],
)
def test_what_does_not_fit_the_sensor(keys: str, more: str, what: str) -> None:
    """What a wiring says of a curve must go with the board's sensor."""
    with pytest.raises(BadWiring, match=what):
        trace([1.0], keys, more)


def test_a_curve_is_for_sensors() -> None:
    """A call has no resistance."""
    with pytest.raises(BadWiring, match="y is no sensor: curve means nothing for it"):
        trace([1.0], 'curve = "pt100"', head=HEAD.replace("coil", "y"))

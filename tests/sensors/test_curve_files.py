"""A curve file is read with everything wrong in it told at once, each thing with its line."""

from __future__ import annotations

import contextlib
from fractions import Fraction as F
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boardgauge.language.problems import Unreadable
from boardgauge.sensors import Allowance, BadCurve, UnknownCurve, curve_from, find_curve, read_curve
from boardgauge.sensors.amounts import read_allowance, read_celsius, read_ohms, read_volts
from boardgauge.sensors.curve_reader import __doc__ as laws
from boardgauge.sensors.forms import Beta, Table

HEAD = 'language = 1\n[curve]\nid = "c"\ntitle = "C"\nsource = "measured here"\ntolerance = "± 0.5 K"\n'
ENDS = 'from = "-20 °C"\nto = "80 °C"\n'
BETA = '[beta]\nohms = "10k"\nat = "25 °C"\nbeta = 3950\nbetween = ["25 °C", "50 °C"]\n'


def test_a_beta_file() -> None:
    """Its pair of temperatures is kept, and the tolerance of the beta widens the limits away from 25 °C only."""
    curve = curve_from(HEAD.replace("± 0.5 K", "± 1 %") + ENDS + BETA + 'tolerance = "± 1 %"\n')
    assert isinstance(curve.form, Beta)
    assert curve.form.between == (25, 50)
    at_25, at_60 = (float(greatest / least) for least, greatest in (curve.bounds(F(25)), curve.bounds(F(60))))
    assert at_25 == pytest.approx(1.01 / 0.99, rel=1e-9)
    assert at_60 > 1.03


def test_a_table_in_fahrenheit() -> None:
    """A table may be in °F and kΩ; its ends are those of the curve, and a rising one is straight."""
    rising = HEAD + '[table]\ntemperature = "°F"\nresistance = "kΩ"\npoints = [[32, 1.0], [50, 1.2], [212, 2]]\n'
    curve = curve_from(rising)
    assert (curve.low, curve.high) == (0, 100)
    assert isinstance(curve.form, Table)
    assert curve.form.straight
    assert curve.ohms(F(5)) == 1100
    assert curve.falls is False


def test_the_example_of_the_law() -> None:
    """The file shown at the top of the reader reads, with each of the four forms."""
    assert laws is not None
    shown = laws.split("A curve file::", 1)[1].replace("and one of these four::", "")
    text = "\n".join(line.removeprefix("    ") for line in shown.splitlines())
    # Its ends lie outside the two points shown, which stand for more.
    text = text.replace("[-39, 314558]", "[125, 300]")
    start = text.index("[steinhart_hart]")
    forms = [block for block in text[start:].split("\n\n") if block.strip()]
    assert [curve_from(f"{text[:start]}\n{form}").id for form in forms] == ["ntc-10k"] * 4


@pytest.mark.parametrize(
    ("text", "line", "what"),
    [
        (HEAD + ENDS, 1, "nothing of how the curve runs"),
        (HEAD + ENDS + BETA + '[platinum]\nohms = "100"\n', 1, "beta and platinum at once"),
        (HEAD + BETA, 2, "the coldest temperature"),
        (HEAD + ENDS + BETA.replace('between = ["25 °C", "50 °C"]\n', ""), 9, "nothing without its pair"),
        (HEAD + ENDS + BETA.replace('["25 °C", "50 °C"]', '["25 °C"]'), 13, "no pair of temperatures"),
        (HEAD + ENDS + BETA.replace('"50 °C"]', '"25 °C"]'), 13, "the two temperatures are one"),
        (HEAD + ENDS + BETA.replace('"25 °C", "50', '"25", "50'), 13, "says no scale"),
        (HEAD + ENDS + BETA.replace("3950", "-3950"), 12, "would not fall throughout"),
        (HEAD + ENDS + BETA.replace("3950", '"3950"'), 12, "a number is needed"),
        (HEAD + ENDS + BETA.replace('"10k"', '"10 kV"'), 10, "no resistance"),
        (HEAD + ENDS + BETA.replace("beta = 3950", "betta = 3950"), 12, "did you mean 'beta'"),
        (HEAD.replace("± 0.5 K", "0.5 K") + ENDS + BETA, 6, 'begins with "±"'),
        (HEAD.replace("± 0.5 K", "± 500 K") + ENDS + BETA, 6, "by so much tells nothing"),
        (HEAD.replace("± 0.5 K", "± 0.5 V") + ENDS + BETA, 6, "no part of a tolerance"),
        (HEAD.replace('"C"', '" "') + ENDS + BETA, 4, "says nothing"),
        (HEAD + ENDS.replace("80", "-80") + BETA, 8, "ends before it begins"),
        (HEAD + ENDS.replace("80", "8000") + BETA, 8, "no resistance sensor"),
        (HEAD + "[steinhart_hart]\na = 1e-3\nb = -2e-4\nc = 1e-7\n" + ENDS, 9, "would not fall throughout"),
        (HEAD + "[table]\npoints = [[0, 3]]\n", 8, "there are 1 points"),
        (HEAD + "[table]\npoints = [[0, 3], [10, 2],\n[5, 1]]\n", 9, "not warmer than the one before"),
        (HEAD + "[table]\npoints = [[0, 3], [10, 2],\n[20, 2.5], [30, 1]]\n", 9, "but not to this one"),
        (HEAD + "[table]\npoints = [[0, 3], [10]]\n", 8, "this is no point"),
        (HEAD + "[table]\npoints = [[0, 3], [10, -2]]\n", 8, "no such temperature or resistance"),
        (HEAD + 'from = "-5 °C"\n[table]\npoints = [[0, 3], [10, 2]]\n', 3, "nothing so far out"),
        (HEAD + '[table]\nbetween = "curve"\npoints = [[0, 3], [10, 2]]\n', 8, '"beta line" or "straight line"'),
        ("language = 2\n" + HEAD[13:] + ENDS + BETA, 1, "2 is not known"),
        (HEAD + "[platinum", 7, "not TOML"),
    ],
)
def test_what_is_wrong_is_told_with_its_line(text: str, line: int, what: str) -> None:
    """One fault each."""
    with pytest.raises(BadCurve) as error:
        curve_from(text, "c.toml")
    assert what in str(error.value)
    assert line in [problem.at.line or 0 for problem in error.value.problems]


def test_all_faults_at_once() -> None:
    """A file with nothing in it misses everything; nothing is told twice."""
    with pytest.raises(BadCurve) as error:
        curve_from("[curve]\n[beta]\n")
    keys = [problem.key for problem in error.value.problems]
    assert {"language", "curve.id", "curve.title", "curve.source", "curve.tolerance", "beta.between"} <= set(keys)
    assert len(keys) == len(set(keys))


def test_files_that_are_none(tmp_path: Path) -> None:
    """A missing file, a folder and bytes that are no text are told, never a traceback."""
    (tmp_path / "b.toml").write_bytes(b"\xff\xfe\x00")
    for path, what in (("none.toml", "No such file"), ("", "irectory"), ("b.toml", "not UTF-8")):
        with pytest.raises(BadCurve, match=what):
            read_curve(tmp_path / path)
    with pytest.raises(UnknownCurve, match="did you mean 'ntc-10k'"):
        find_curve("ntc10k")


@given(st.text(max_size=30))
def test_no_text_breaks_the_readers(text: str) -> None:
    """Whatever is typed is read or refused."""
    for read in (read_ohms, read_celsius, read_volts, read_allowance):
        with contextlib.suppress(Unreadable):
            read(text)


@given(st.integers(1, 10**9), st.sampled_from(["", " Ω", "ohm", " k", "kΩ", "M"]))
def test_resistances(number: int, unit: str) -> None:
    """A resistance is read exactly, with its sign or without."""
    times = 10**3 if "k" in unit else 10**6 if "M" in unit else 1
    assert read_ohms(f"{number / 10}{unit}") == F(repr(number / 10)) * times


def test_ways_to_write_an_amount() -> None:
    """Codes of IEC 60062, degrees of three scales, and the parts of a tolerance."""
    assert (read_ohms("4k7"), read_ohms("2M2"), read_ohms("100R5")) == (4700, 2_200_000, F("100.5"))
    assert (read_celsius("77F"), read_celsius("298.15 K"), read_celsius("−2 °C")) == (25, 25, -2)
    assert read_allowance("± (0.3 K + 0.005 |t|)") == read_allowance("class B") == Allowance(F(3, 10), F(5, 1000))
    assert read_allowance("+- 1 %") == Allowance(share=F(1, 100))
    assert read_allowance("± 1.8 °F") == Allowance(F(1))
    assert str(read_allowance("± (0.3 K + 1 %)")) == "± (0.3 K + 1 %)"

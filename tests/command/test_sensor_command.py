"""``boardgauge sensor`` lists, prints, checks and draws, and says what is wrong with what it was given."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from boardgauge.command import main

SPEC = """language = 1
[board]
id = "small"
title = "A small board (invented)"
tolerance = "exactly"
[inputs.coil]
kind = "sensor"
unit = "°F"
curve = "own.toml"
[inputs.room]
kind = "sensor"
unit = "°C"
[outputs.q]
on = "coil < 30 °F"
"""
OWN = """language = 1
[curve]
id = "own"
title = "A sensor of one's own (invented)"
source = "measured"
tolerance = "± 1 K"
[table]
points = [[-20, 2000], [0, 1000], [40, 300]]
"""


def run(*arguments: str) -> Result:
    return CliRunner().invoke(main, ["sensor", *arguments])


def test_the_curves_are_listed() -> None:
    """Without a curve, every one that ships is listed with its ends."""
    assert "pt1000" in run().output
    assert {row["curve"] for row in json.loads(run("--json").output)["curves"]} >= {"ntc-10k", "pt100"}


def test_a_chart_is_printed() -> None:
    """The table, its source, the steps of both checks and the cautions."""
    told = run("ntc-10k", "--from", "20C", "--to", "30C").output
    assert "   25.0    77.0      10.00 kΩ    9.783 kΩ    10.22 kΩ" in told
    for words in ("Source:", "To check the sensor", "Leads to chassis", "Caution:", "0/25 °C 3854.6 K"):
        assert words in told


def test_fahrenheit_and_volts() -> None:
    """Rows at whole degrees Fahrenheit, with a column for the divider."""
    told = run("ntc-10k", "--fahrenheit", "--from", "77F", "--to", "77F", "--fixed", "10k", "--supply", "5V").output
    assert "   25.0    77.0      10.00 kΩ    9.783 kΩ    10.22 kΩ    2.500" in told
    counts = run("ntc-10k", "--from", "25C", "--to", "25C", "--fixed", "10k", "--counts", "1023").output
    assert "   25.0    77.0      10.00 kΩ    9.783 kΩ    10.22 kΩ      511" in counts


@pytest.mark.parametrize(
    ("arguments", "verdict", "status"),
    [
        (("--at", "25C", "--ohms", "9.8k"), "good", 0),
        (("--at", "77F", "--ohms", "9.6k"), "doubtful", 3),
        (("--at", "25C", "--ohms", "12k"), "bad", 1),
        (("--at", "25C", "--ohms", "OL"), "open", 1),
        (("--at", "25C", "--ohms", "0.2"), "shorted", 1),
        (("--to-chassis", "OL"), "leads to chassis", 0),
        (("--to-chassis", "5M"), "leads to chassis", 3),
        (("--to-chassis", "800k"), "leads to chassis", 1),
        (("--at", "25C", "--ohms", "9.8k", "--to-chassis", "800k"), "good", 1),
    ],
)
def test_a_check_leaves_with_its_verdict(arguments: tuple[str, ...], verdict: str, status: int) -> None:
    """0 good, 1 bad, 3 doubtful; of two checks the worse. Cautions are told with each."""
    result = run("ntc-10k", *arguments)
    assert result.exit_code == status, result.output
    assert result.output.startswith(verdict)
    assert "Caution:" in result.output


def test_another_kind_of_sensor() -> None:
    """A sensor that is bad on its curve and good on another one that ships may be the wrong one."""
    told = run("ntc-10k", "--at", "25C", "--ohms", "5.02k").output
    assert "it would be good as ntc-5k-b3470" in told
    assert "it would be good" not in run("ntc-10k", "--at", "25C", "--ohms", "7.2k").output
    assert "it would be good" not in run("ntc-10k", "--at", "25C", "--ohms", "10k").output


def test_a_check_as_json() -> None:
    """The verdict with its limits, as plain values."""
    found = json.loads(run("pt100", "--at", "0C", "--ohms", "100", "--meter", "0.01%", "--json").output)["check"]
    assert (found["verdict"], found["ohms_by_curve"], found["meter_percent"]) == ("good", 100.0, 0.01)
    assert found["bad_below"] < found["least"] < found["good_from"] < 100 < found["good_to"] < found["bad_above"]


def test_a_picture_is_drawn(tmp_path: Path) -> None:
    """The kind of file goes by its name; the check is on it."""
    path = tmp_path / "chart.svg"
    result = run("ntc-10k", "--at", "25C", "--ohms", "9.8k", "-o", str(path))
    assert result.exit_code == 0, result.output
    assert "measured: good" in path.read_text(encoding="utf-8")
    assert run("pt100", "-o", str(tmp_path / "chart.pdf"), "--paper", "a4").exit_code == 0
    assert (tmp_path / "chart.pdf").read_bytes().startswith(b"%PDF")


def test_curves_of_specs_and_files(tmp_path: Path) -> None:
    """A curve file, a spec's sensor by its name, and the only one with a curve of a spec."""
    (tmp_path / "own.toml").write_text(OWN, encoding="utf-8")
    spec = tmp_path / "small.toml"
    spec.write_text(SPEC, encoding="utf-8")
    for name in (str(tmp_path / "own.toml"), f"{spec}:coil", str(spec)):
        result = run(name, "--from", "0C", "--to", "0C")
        assert "A sensor of one's own" in result.output
    result = run(f"{spec}:room")
    assert result.exit_code == 2
    assert "names no curve for its sensor room" in result.output
    (tmp_path / "own.toml").write_text(OWN.replace("2000", "200"), encoding="utf-8")
    result = run(f"{spec}:coil")
    assert result.exit_code == 2
    assert "own.toml:8:" in result.output


def test_a_curve_that_is_not_there_is_advice(tmp_path: Path) -> None:
    """A spec whose curve cannot be had can still be used; vetting says where it is named, and the nearest name."""
    spec = tmp_path / "small.toml"
    spec.write_text(SPEC.replace("own.toml", "ntc10k"), encoding="utf-8")
    result = CliRunner().invoke(main, ["vet", str(spec), "--no-exploring"])
    assert result.exit_code == 0, result.output
    assert "small.toml:6:" in result.output
    assert "advice: inputs.coil.curve: its curve cannot be had" in result.output
    assert "did you mean 'ntc-10k'" in result.output
    spec.write_text(SPEC.replace("own.toml", "ntc-10k"), encoding="utf-8")
    assert "inputs.coil.curve" not in CliRunner().invoke(main, ["vet", str(spec), "--no-exploring"]).output


@pytest.mark.parametrize(
    ("arguments", "what"),
    [
        (("ntc10k",), "did you mean 'ntc-10k'"),
        (("none.toml",), "no such file"),
        (("tarnbeck-thermistor",), "names a curve for no sensor"),
        (("tarnbeck-thermistor:cl",), "did you mean 'coil'"),
        (("ntc-10k", "--at", "25", "--ohms", "1k"), "says no scale"),
        (("ntc-10k", "--at", "25C"), "--ohms is missing"),
        (("ntc-10k", "--ohms", "10k"), "--at is missing"),
        (("ntc-10k", "--at", "400C", "--ohms", "1k"), "runs from -50 °C to 120 °C"),
        (("ntc-10k", "--at", "25C", "--ohms", "ten"), "is no resistance"),
        (("ntc-10k", "--at", "25C", "--ohms", "10k", "--meter", "1 K"), "a percentage"),
        (("ntc-10k", "--at", "25C", "--ohms", "10k", "--step", "2"), "--step is for the chart"),
        (("ntc-10k", "--meter", "1%"), "--meter goes with --at and --ohms"),
        (("ntc-10k", "--fixed", "10k"), "one of --supply and --counts"),
        (("ntc-10k", "--sensor-at", "top"), "a divider needs --fixed"),
        (("ntc-10k", "--paper", "a4"), "--paper goes with -o"),
        (("ntc-10k", "-o", "chart.doc"), "end it in .svg, .png or .pdf"),
        (("ntc-10k", "--step", "0"), "above 0"),
        (("ntc-10k", "--step", "nan"), "no number of degrees"),
        (("ntc-10k", "--tolerance", "5"), 'begins with "±"'),
    ],
)
def test_what_is_wrong_is_said(arguments: tuple[str, ...], what: str) -> None:
    """Exit status 2 and words, never a traceback."""
    result = run(*arguments)
    assert result.exit_code == 2, result.output
    assert what in result.output
    assert "a fault of Boardgauge itself" not in result.output


def test_no_temperature_is_less_than_nothing() -> None:
    """A little below 0 °C is rounded to 0.0 °C, without a sign."""
    result = run("ntc-10k", "--at", "0C", "--ohms", "32.7k")
    assert "which stands for 0.0 °C (31.9 °F)" in result.output

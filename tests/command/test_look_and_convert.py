"""``look``, ``convert`` and ``simulate -o`` as they are typed."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from boardgauge.command import main
from boardgauge.traces import read_recording

RECORDINGS = Path(__file__).parents[1] / "recordings"
LOGGER = str(RECORDINGS / "s05_hp_two_calls__good__logger.csv.gz")
AC60 = str(RECORDINGS / "s05_hp_two_calls__good__ac60.vcd")
FAN = Path(__file__).parents[2] / "docs" / "examples"


def typed(*words: object) -> Result:
    """Run a command."""
    return CliRunner().invoke(main, [str(word) for word in words])


@pytest.mark.parametrize("ending", ["vcd", "csv.xz", "jsonl", "parquet", "arrow", "arrows"])
def test_a_converted_recording_gets_the_same_verdict(ending: str, tmp_path: Path) -> None:
    """What is converted is judged as what it was made of, measured timings and all."""
    target = tmp_path / f"run.{ending}"
    assert typed("convert", LOGGER, "-o", target).exit_code == 0
    one = json.loads(typed("judge", "tarnbeck", LOGGER, "--json").output)
    other = json.loads(typed("judge", "tarnbeck", target, "--json").output)
    for changing in ("trace", "trace_digest"):
        one.pop(changing)
        other.pop(changing)
    assert one == other


def test_a_drafted_wiring_is_judged_by(tmp_path: Path) -> None:
    """look finds the pulses of the line, drafts a wiring with them, and judge takes it as it is."""
    target = tmp_path / "bench.toml"
    told = typed("look", AC60, "--board", "tarnbeck", "-o", target)
    assert told.exit_code == 0
    assert "60 Hz half-wave" in told.output
    assert "16 channels wired, 0 left as comments" in told.output
    assert "conforms" in typed("judge", "tarnbeck", AC60, "--wiring", target).output


def test_look_without_a_board() -> None:
    """A recording alone has its span, its rate, its gaps and its channels; --json says the same in numbers."""
    told = typed("look", LOGGER).output
    for part in ("wide CSV", "17,960, every 20 ms (14.1 ms to 25.9 ms)", "gaps      40", "led_n"):
        assert part in told
    found = json.loads(typed("look", LOGGER, "--json").output)
    assert (found["start_us"], found["samples"]["usual"], len(found["channels"])) == (20_000, 20_000, 16)


@pytest.mark.parametrize(
    ("words", "what"),
    [
        (("look", LOGGER, "-o", "w.toml"), "needs --board"),
        (("look", LOGGER, "--wiring", "tarnbeck"), "needs --board"),
        (
            ("look", LOGGER, "--board", "tarnbeck", "--wiring", "tarnbeck", "-o", "w.toml"),
            "cannot be used with --wiring",
        ),
        (("look", "nowhere.vcd"), "No such file"),
        (("convert", LOGGER, "-o", "out.xyz"), "its name does not say the format"),
        (("convert", LOGGER, "-o", "out.vcd", "--long"), "neither wide nor long"),
        (("convert", "nowhere.vcd", "-o", "out.csv"), "No such file"),
        (("simulate", FAN / "fan.toml", FAN / "fan-overheats.toml", "-o", "out.txt"), "its name does not say"),
    ],
)
def test_what_cannot_be_done_is_said(
    words: tuple[object, ...], what: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Status 2, one message, no file."""
    monkeypatch.chdir(tmp_path)
    result = typed(*words)
    assert list(tmp_path.iterdir()) == []
    assert (result.exit_code, what in result.output) == (2, True), result.output


@pytest.mark.parametrize("ending", ["csv", "vcd.gz", "jsonl", "parquet", "arrow"])
def test_simulated_runs_in_every_format(ending: str, tmp_path: Path) -> None:
    """simulate -o writes what convert writes."""
    first, target = tmp_path / "first.vcd", tmp_path / f"run.{ending}"
    for path in (first, target):
        result = typed("simulate", FAN / "fan.toml", FAN / "fan-overheats.toml", "--quiet", "-o", path)
        assert result.exit_code == 0, result.output
    assert read_recording(target).channels == read_recording(first).channels

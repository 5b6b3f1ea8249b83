"""``boardgauge chart`` and ``draw`` write what they are asked for, and say what is wrong with what they were given."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from click.testing import CliRunner

from boardgauge.command import main

RECORDING = str(Path(__file__).parent.parent / "recordings" / "s05_hp_two_calls__good__logger.csv.gz")
SCENARIO = """
language = 1
board = "tarnbeck"
title = "A call"
steps = [{ wait = "1 s" }, { power = "on" }, { wait = "5 s" }, { set = { y = "on" } }, { wait = "1 min" }]
"""


@pytest.fixture
def scenario(tmp_path: Path) -> str:
    path = tmp_path / "call.toml"
    path.write_text(SCENARIO, encoding="utf-8")
    return str(path)


def run(*words: str) -> tuple[int, str]:
    result = CliRunner().invoke(main, list(words))
    assert result.exception is None or isinstance(result.exception, SystemExit)
    return result.exit_code, result.output


@pytest.mark.parametrize("ending", ["svg", "png", "pdf"])
def test_a_scenario_is_charted(tmp_path: Path, scenario: str, ending: str) -> None:
    target = tmp_path / f"chart.{ending}"
    assert run("chart", "tarnbeck", scenario, "-o", str(target)) == (0, f"{target}\n")
    start = {"svg": b"<svg", "png": b"\x89PNG", "pdf": b"%PDF"}[ending]
    assert target.read_bytes().startswith(start)


def test_the_durations_of_a_scenario_are_chosen(tmp_path: Path, scenario: str) -> None:
    """A board at its latest comes on later than one at its earliest, and the charts differ."""
    made = []
    for timings in ("earliest", "latest"):
        target = tmp_path / f"{timings}.svg"
        run("chart", "tarnbeck", scenario, "--timings", timings, "-o", str(target))
        made.append(target.read_text(encoding="utf-8"))
    assert made[0] != made[1]
    assert "latest timings" in made[1]


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--signals", "ccc"), 'no signal, rule or timing "ccc"; did you mean "cc"?'),
        (("--from", "soon"), "--from soon: expected a time like 90s"),
        (("--from", "2min", "--to", "90s"), "lies behind"),
        (("--from", "2h"), "the scenario ends at 66 s"),
        (("--wiring", "x"), "--wiring is for recordings"),
        (("-o", "chart.doc"), "the format is not plain"),
        (("--from", "10s", "--to", "20s"), "nothing changes in the stretch asked for"),
    ],
)
def test_what_cannot_be_charted_is_told(tmp_path: Path, scenario: str, words: tuple[str, ...], told: str) -> None:
    status, said = run("chart", "tarnbeck", scenario, "-o", str(tmp_path / "chart.svg"), *words)
    assert status == 2
    assert told in said


def test_timings_are_not_chosen_of_a_recording() -> None:
    status, said = run("chart", "tarnbeck", RECORDING, "--timings", "latest")
    assert status == 2
    assert "--timings is for scenarios" in said


def test_the_path_of_a_scenario_and_of_a_recording_is_drawn(tmp_path: Path, scenario: str) -> None:
    for source in (scenario, RECORDING):
        target = tmp_path / "path.svg"
        assert run("draw", "tarnbeck", "--path", source, "-o", str(target)) == (0, f"{target}\n")
        assert "Thick arrows: the path" in target.read_text(encoding="utf-8")


def test_pictures_of_several_pages_are_numbered(tmp_path: Path) -> None:
    status, said = run("draw", "tarnbeck", "-o", str(tmp_path / "all.png"))
    assert (status, said.split()) == (0, [str(tmp_path / "all-1.png"), str(tmp_path / "all-2.png")])


def test_several_pictures_asked_for_are_all_drawn(tmp_path: Path) -> None:
    """Repeated or by commas, with the overview among them: none takes the place of another."""
    made = []
    for words in (("--what", "lp_lockout,hp_lockout"), ("--what", "lp_lockout", "--what", "hp_lockout")):
        target = tmp_path / f"rules-{len(words)}.svg"
        assert run("draw", "tarnbeck", *words, "-o", str(target)) == (0, f"{target}\n")
        made.append(target.read_text(encoding="utf-8"))
    assert made[0] == made[1]
    status, said = run(
        "draw", "tarnbeck", "--what", "lp_lockout", "--what", "overview", "-o", str(tmp_path / "both.svg")
    )
    assert (status, said.split()) == (0, [str(tmp_path / "both-1.svg"), str(tmp_path / "both-2.svg")])


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--state", "defrot"), 'did you mean "defrost"?'),
        (("--state", "defrost", "--what", "bypass"), "give one of them"),
        (("--what", "lockout"), 'did you mean "lockouts"?'),
        (("--what", "toggles"), "has no toggles"),
        (("--path", "missing.toml"), "missing.toml"),
        (("--state", "defrost", "--state", "standby"), "--state is given 2 times, and one is drawn at a time"),
        (("--what", "all", "--what", "overview"), "all of them are drawn by all alone"),
    ],
)
def test_what_cannot_be_drawn_is_told(words: tuple[str, ...], told: str) -> None:
    status, said = run("draw", "tarnbeck", *words)
    assert status == 2
    assert told in said


@pytest.mark.parametrize(("paper", "size"), [("letter", (792.0, 612.0)), ("a4", (841.89, 595.28))])
def test_a_chart_goes_on_the_paper_asked_for(
    tmp_path: Path, scenario: str, paper: str, size: tuple[float, float]
) -> None:
    """A PDF has the sheet's size, on its side, as drawings have."""
    target = tmp_path / "chart.pdf"
    assert run("chart", "tarnbeck", scenario, "-o", str(target), "--paper", paper)[0] == 0
    box = re.search(rb"/MediaBox\s*\[\s*0 0 ([0-9.]+) ([0-9.]+)", target.read_bytes())
    assert box is not None
    assert (float(box[1]), float(box[2])) == pytest.approx(size, abs=0.1)


def test_a_recording_of_another_board_is_told_alike_by_judge_and_chart(tmp_path: Path) -> None:
    """One line, to the same effect: how many of the board's channels it has, and what to do."""
    recording = str(Path(__file__).parents[1] / "recordings" / "s01_powerup_restart__good.vcd")
    target = tmp_path / "chart.svg"
    _, charted = run("chart", "quillmere", recording, "-o", str(target), "--to", "1s")
    _, judged = run("judge", "quillmere", recording)
    (line,) = (line for line in judged.splitlines() if "names for quillmere" in line)
    assert f"boardgauge: {line.strip()}" in charted
    assert "has 2 of the 14 channels" in line
    for command in (("chart", "-o", str(target)), ("judge",)):
        status, told = run(command[0], "iec-ctu", recording, *command[1:])
        assert status == 2
        assert "the supply alone is in" in told

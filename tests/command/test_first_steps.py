"""What a person tries in the first minutes, and what helps on."""

from __future__ import annotations

import shlex
import shutil
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from boardgauge.command import main
from boardgauge.command.failing import INTERRUPTED, UNUSABLE, explained
from boardgauge.command.finding import find_board
from boardgauge.command.first_scenario import first_scenario
from boardgauge.machine.compile import compile_board
from boardgauge.machine.scenario import play
from boardgauge.machine.scenario_reader import read_scenario_text

ROOT = Path(__file__).parents[2]


@pytest.mark.parametrize(
    ("given", "told"),
    [
        ("jugde", "there is no command 'jugde'; did you mean 'judge'?"),
        ("qqqqqq", "there is no command 'qqqqqq'; boardgauge --help lists them"),
    ],
)
def test_a_misspelt_command_is_told_with_the_nearest(given: str, told: str) -> None:
    """The nearest command is told, or where to find them all."""
    result = CliRunner().invoke(main, [given])
    assert result.exit_code == UNUSABLE
    assert told in result.output


def test_help_is_a_word_too() -> None:
    """``boardgauge help`` prints what --help prints."""
    asked = CliRunner().invoke(main, ["help"])
    assert asked.exit_code == 0
    assert asked.output == CliRunner().invoke(main, ["--help"]).output


def test_a_recording_without_a_board_is_understood() -> None:
    """Who gives a recording alone is told that the board is missing, not the recording."""
    result = CliRunner().invoke(main, ["judge", "mine.csv"])
    assert result.exit_code == UNUSABLE
    assert "mine.csv is taken for the board" in result.output
    assert "boardgauge judge BOARD RECORDING" in result.output


def test_channels_of_other_names_lead_to_a_wiring(tmp_path: Path) -> None:
    """A recording that does not fit the wiring is told with the command that drafts one, and that command works."""
    recording = tmp_path / "mine.csv"
    rows = "\n".join(f"{0.02 * n:.2f},1,{int(n > 5)},0,0" for n in range(20))
    recording.write_text(f"time,SUPPLY,CALL,M1,M2\n{rows}\n", encoding="utf-8")
    result = CliRunner().invoke(main, ["judge", "tarnbeck", str(recording)])
    assert result.exit_code == UNUSABLE
    draft = f"look {recording} --board tarnbeck -o wiring.toml"
    assert f"boardgauge {draft} drafts one, to be read and completed" in " ".join(result.output.split())
    wiring = tmp_path / "wiring.toml"
    looked = CliRunner().invoke(main, ["look", str(recording), "--board", "tarnbeck", "-o", str(wiring)])
    assert looked.exit_code == 0, looked.output
    assert wiring.is_file()
    bare = tmp_path / "bare.toml"
    bare.write_text('language = 1\nboard = "tarnbeck"\n[wiring]\nid = "bare"\n[channels]\n', encoding="utf-8")
    unwired = CliRunner().invoke(main, ["judge", "tarnbeck", str(recording), "--wiring", str(bare)])
    assert unwired.exit_code == UNUSABLE
    assert "no channel is wired of" in unwired.output
    assert "take the # away" in unwired.output


def test_the_commands_of_the_records_are_told_whole() -> None:
    """No sentence about a command ends in dots."""
    told = CliRunner().invoke(main, ["records", "--help"]).output
    assert "a .csv or .parquet file." in " ".join(told.split())
    assert "..." not in told.partition("Commands:")[2]


def test_the_command_that_drafts_a_wiring_names_a_spec_of_ones_own_by_its_file(tmp_path: Path) -> None:
    """The id of a board that the library does not have would lead nowhere."""
    spec, recording = tmp_path / "mine.toml", tmp_path / "my run.csv"
    fan = (ROOT / "docs" / "examples" / "fan.toml").read_text(encoding="utf-8")
    spec.write_text(fan.replace('id = "fan"', 'id = "mine"'), encoding="utf-8")
    recording.write_text("time,SUPPLY,M1\n0,1,0\n0.02,1,0\n", encoding="utf-8")
    result = CliRunner().invoke(main, ["judge", str(spec), str(recording)])
    assert result.exit_code == UNUSABLE
    line = next(line for line in result.output.splitlines() if line.startswith("boardgauge look"))
    words = shlex.split(line.removesuffix(" drafts one, to be read and completed"))
    looked = CliRunner().invoke(main, [*words[1:-1], str(tmp_path / words[-1])])
    assert looked.exit_code == 0, looked.output


def test_a_spec_of_ones_own_is_told_of_like_a_board_of_the_library(tmp_path: Path) -> None:
    """``boards FILE`` tells what stands in a file: it has no sheet in the library, but wirings beside it."""
    spec = tmp_path / "fan.toml"
    shutil.copy(ROOT / "docs" / "examples" / "fan.toml", spec)
    (tmp_path / "wirings").mkdir()
    for name, board in (("bench-2", "fan"), ("other", "tarnbeck")):
        text = f'language = 1\nboard = "{board}"\n[wiring]\nid = "{name}"\n[channels]\n'
        (tmp_path / "wirings" / f"{name}.toml").write_text(text, encoding="utf-8")
    told = CliRunner().invoke(main, ["boards", str(spec)])
    assert told.exit_code == 0, told.output
    assert "outputs:   motor" in told.output
    assert [line for line in told.output.splitlines() if line.startswith("wiring:")] == ["wiring:    bench-2"]


def test_a_file_called_like_a_board_does_not_borrow_its_sheet(tmp_path: Path) -> None:
    """A file whose id is that of a board of the library is told without the sheet and the wirings of that board."""
    spec = tmp_path / "mine.toml"
    text = (ROOT / "docs" / "examples" / "fan.toml").read_text(encoding="utf-8")
    spec.write_text(text.replace('id = "fan"', 'id = "tarnbeck"'), encoding="utf-8")
    told = CliRunner().invoke(main, ["boards", str(spec)])
    assert told.exit_code == 0, told.output
    assert "described:" not in told.output
    assert "wiring:" not in told.output


def test_a_spec_named_without_its_ending_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Who leaves ``.toml`` away is told the file, and not the names of the whole library."""
    monkeypatch.chdir(tmp_path)
    shutil.copy(ROOT / "docs" / "examples" / "fan.toml", "pump.toml")
    result = CliRunner().invoke(main, ["boards", "pump"])
    assert result.exit_code == UNUSABLE
    assert "the library has no board 'pump'; did you mean the file pump.toml?" in result.output
    assert "quillmere" not in result.output


def test_an_unknown_board_leads_to_the_list_and_to_a_draft() -> None:
    """A name that is like none is told in one line, with the commands that help on."""
    result = CliRunner().invoke(main, ["vet", "zzz zzz"])
    assert result.exit_code == UNUSABLE
    assert "zzz zzz: neither a file nor a board of the library" in result.output
    assert "`boardgauge new` drafts a spec" in result.output
    assert "quillmere" not in result.output


def test_a_question_of_click_broken_off_is_no_verdict_and_no_fault_of_ours() -> None:
    """What click makes of Ctrl-C at its own questions ends like any Ctrl-C: with 130, and is not told as our fault."""

    @explained
    def asks() -> None:
        raise click.Abort

    with pytest.raises(SystemExit) as stopped:
        asks()
    assert stopped.value.code == INTERRUPTED


@pytest.mark.parametrize("name", ["tarnbeck", "tarnbeck-thermistor", "compressor-guard", "relay-star-delta", "iec-rs"])
def test_who_has_no_scenario_gets_one_that_can_be_played(name: str, tmp_path: Path) -> None:
    """The scenario that is told runs as it stands, on boards with sensors, with signals only, and without inputs."""
    asked = CliRunner().invoke(main, ["simulate", name])
    assert asked.exit_code == UNUSABLE
    said, told = asked.output.split("\n\n", 1)
    assert f"boardgauge simulate {name} SCENARIO" in said
    scenario = tmp_path / "one.toml"
    scenario.write_text(told, encoding="utf-8")
    played = CliRunner().invoke(main, ["simulate", name, str(scenario)])
    assert played.exit_code == 0, played.output
    assert "the supply comes on" in played.output


@pytest.mark.parametrize("name", ["sump-pumps", "cold-room", "hearthgate", "iec-rs"])
def test_some_output_answers_in_the_first_scenario(name: str) -> None:
    """What is used does something alone: of the pumps no button that silences, of the block not what resets."""
    board = find_board(name)
    run = play(compile_board(board), read_scenario_text(first_scenario(board), "first.toml", board))
    assert any(time > 10_000_000 for edges in run.outputs.values() for time, _ in edges.changes)


@pytest.mark.parametrize("board", ["tarnbeck", "tarnbeck-thermistor", "tarnbeck-renewed", "quillmere", "sump-pumps"])
def test_what_simulate_writes_is_judged_as_it_is(board: str, tmp_path: Path) -> None:
    """The trace is wired as the board's own wiring says, inverted channels too, and judge takes that by itself."""
    scenario, trace = tmp_path / "first.toml", tmp_path / "trace.vcd"
    scenario.write_text(first_scenario(find_board(board)))
    made = CliRunner().invoke(main, ["simulate", board, str(scenario), "--quiet", "-o", str(trace)])
    assert made.exit_code == 0, made.output
    judged = CliRunner().invoke(main, ["judge", board, str(trace)])
    assert judged.exit_code == 0, judged.output

"""The schemas that editors get take what the readers take, and know the readers' keys."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import jsonschema  # type: ignore[import-untyped]
import pytest
from click.testing import CliRunner
from hypothesis import HealthCheck, given, settings

from board_strategies import boards
from boardgauge.boards import board_names, board_path, wiring_names, wiring_path
from boardgauge.command import main
from boardgauge.command.editor_commands import FILE_KINDS
from boardgauge.language import read_board
from boardgauge.language.model import Board
from boardgauge.language.schema import shipped_schema_text
from boardgauge.machine import scenario_reader
from boardgauge.machine.scenario import Power, Scenario, Wait
from boardgauge.machine.scenario_writer import write_scenario
from boardgauge.plans import plan_reader
from boardgauge.rigs.rig_file import POINT_KEYS, RIG_KEYS
from boardgauge.schemas import SCHEMAS
from boardgauge.schemas.rig_schema import POINT, RIG
from boardgauge.schemas.wiring_schema import DIVIDER, RECORDER, WIRE
from boardgauge.traces import sensor_wiring, wiring_from
from boardgauge.traces.errors import BadWiring
from boardgauge.traces.wiring import Wire

CLONE = Path(__file__).resolve().parents[2]
VALIDATORS = {kind: jsonschema.Draft202012Validator(make()) for kind, make in SCHEMAS.items()}


@pytest.mark.parametrize("kind", FILE_KINDS)
def test_every_kind_of_file_has_a_schema(kind: str, tmp_path: Path) -> None:
    """The command prints a schema that obeys its draft, and writes the same to a file."""
    result = CliRunner().invoke(main, ["schema", kind])
    assert result.exit_code == 0, result.output
    jsonschema.Draft202012Validator.check_schema(json.loads(result.output))
    path = tmp_path / "out.json"
    assert CliRunner().invoke(main, ["schema", kind, "-o", str(path)]).exit_code == 0
    assert path.read_text("utf-8") == result.output


def test_the_schema_of_a_spec_is_the_one_that_ships() -> None:
    """Without a kind the board schema is printed, as the package has it."""
    assert CliRunner().invoke(main, ["schema"]).output == shipped_schema_text()
    assert set(FILE_KINDS) == set(SCHEMAS)


@pytest.mark.parametrize("name", board_names())
def test_the_boards_of_the_library_are_valid(name: str) -> None:
    """Every spec of the library, variants too, is valid against the schema."""
    VALIDATORS["spec"].validate(tomllib.loads(board_path(name).read_text("utf-8")))


@pytest.mark.parametrize("name", wiring_names())
def test_the_wirings_of_the_library_are_valid(name: str) -> None:
    """Every wiring of the library is valid against the schema."""
    VALIDATORS["wiring"].validate(tomllib.loads(wiring_path(name).read_text("utf-8")))


def test_the_wiring_of_the_documents_is_valid() -> None:
    """The long example at the top of the module of wirings is valid: it has every key but a few."""
    from boardgauge.traces import wiring

    text = "\n".join(line[4:] for line in (wiring.__doc__ or "").splitlines() if line.startswith("    "))
    VALIDATORS["wiring"].validate(tomllib.loads(text))


def test_scenarios_are_valid() -> None:
    """The scenarios of the documents and the cases are valid, and so is what the writer writes."""
    found = 0
    for path in [*(CLONE / "docs" / "examples").glob("*.toml"), *(CLONE / "conformance").rglob("*.toml")]:
        table = tomllib.loads(path.read_text("utf-8"))
        if {"steps", "board", "title"} <= set(table):
            VALIDATORS["scenario"].validate(table)
            found += 1
    assert found
    board = read_board(board_path("iec-ton"))
    scenario = Scenario(board.id, "on", (Power(True), Wait(1_000_000)))
    VALIDATORS["scenario"].validate(tomllib.loads(write_scenario(scenario, board)))


@settings(max_examples=10, deadline=None, suppress_health_check=list(HealthCheck))
@given(boards())
def test_a_misspelt_key_of_a_board_is_not_valid(board: Board) -> None:
    """A key that the language does not know is marked wherever it stands."""
    from boardgauge.language import write_board

    table = tomllib.loads(write_board(board))
    for section in ("inputs", "rules", "outputs", "lamps"):
        for id_ in table.get(section, {}):
            spoilt = {**table, section: {**table[section], id_: {**table[section][id_], "lastz": "3 s"}}}
            assert not VALIDATORS["spec"].is_valid(spoilt)


def test_the_keys_are_the_readers() -> None:
    """Each schema has the keys of its reader, no more and no fewer."""
    assert set(WIRE) == set(Wire.__annotations__) - {"channel", "at"}
    assert set(DIVIDER) == set(sensor_wiring._KEYS)
    assert set(RIG) == set(RIG_KEYS)
    assert set(POINT) == set(POINT_KEYS)
    for kind, keys in (("scenario", scenario_reader.FILE_KEYS), ("plan", plan_reader.FILE_KEYS)):
        assert set(SCHEMAS[kind]()["properties"]) == {key.name for key in keys}


@pytest.mark.parametrize(
    ("part", "old", "new"),
    [
        ("a key", 'signal = "cc"', 'signl = "cc"'),
        ("a word", 'unpowered = "low"', 'unpowered = "none"'),
        ("a number", "line_frequency = 60", "line_frequency = 6"),
        ("a time", 'bounce = "5 ms"', 'bounce = "5"'),
        ("the version", "language = 1", "language = 2"),
        ("a recorder", 'skew = "1 ms"', 'skev = "1 ms"'),
    ],
)
def test_wrong_wirings_are_marked(part: str, old: str, new: str) -> None:
    """What the reader refuses by its form, the schema refuses too."""
    good = (
        'language = 1\nboard = "b"\n[wiring]\nid = "w"\n[recorder]\nskew = "1 ms"\n[channels.c]\nsignal = "cc"\n'
        'unpowered = "low"\nbounce = "5 ms"\n[channels.y]\nsignal = "y"\nline_frequency = 60\n'
    )
    wiring_from(good)
    VALIDATORS["wiring"].validate(tomllib.loads(good))
    bad = good.replace(old, new)
    assert not VALIDATORS["wiring"].is_valid(tomllib.loads(bad))
    with pytest.raises(BadWiring):
        wiring_from(bad)
    assert set(RECORDER) == {"clock_error", "skew", "least_pulse", "rows"}

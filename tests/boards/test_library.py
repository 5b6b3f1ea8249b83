"""The library: found by name, light to import, each board vetted, each citation true."""

from __future__ import annotations

import re
import subprocess
import sys

import pytest

from boardgauge.boards import (
    UnknownBoard,
    UnknownWiring,
    board_names,
    board_path,
    description_path,
    wiring_names,
    wiring_path,
    wirings_for,
)
from boardgauge.language import advise, read_board
from boardgauge.language.model import Board
from boardgauge.machine.compile import compile_board
from boardgauge.machine.explore import reachable
from boardgauge.machine.settle import Engine
from boardgauge.traces import read_wiring
from boardgauge.traces.wiring import signals_of

_LARGE = {"quillmere", "quillmere-split", "cold-room", "cold-room-adaptive", "compressor-guard"}


@pytest.mark.parametrize("name", board_names())
def test_a_board_is_called_what_its_file_is_called(name: str) -> None:
    """The name by which a board is found is its id."""
    assert read_board(board_path(name)).id == name == board_path(name).stem


@pytest.mark.parametrize("name", board_names())
def test_nothing_is_to_be_said_against_a_board(name: str) -> None:
    """The reader finds no error, and there is no advice."""
    assert advise(read_board(board_path(name))) == ()


@pytest.mark.parametrize("name", board_names())
def test_a_board_comes_to_rest(name: str) -> None:
    """Whatever single cause comes in whatever configuration; for all but the largest, whatever two causes at once."""
    engine = Engine(compile_board(read_board(board_path(name))))
    small = name not in _LARGE and not name.startswith("tarnbeck")
    found = reachable(engine, together=small)
    assert found.findings == ()
    assert found.complete


def _clauses(board: Board) -> set[str]:
    tables = (board.inputs, board.settings, board.conditions, board.rules, board.outputs, board.lamps)
    rows = [row for table in (*tables, board.requirements, board.speed_ups) for row in table.values()]
    cited = {row.note.clause for row in rows}
    cited |= {line.clause for lamp in board.lamps.values() for line in lamp.lines}
    return {clause for clause in cited if clause is not None}


@pytest.mark.parametrize("name", board_names())
def test_every_clause_cited_stands_in_the_sheet(name: str) -> None:
    """A clause stands at the beginning of a paragraph, a heading or a row of a table."""
    sheet = description_path(name)
    cited = _clauses(read_board(board_path(name)))
    if sheet is None:
        assert cited == set()
        return
    stand = set(re.findall(r"^(?:#+ |\| )?(\d+(?:\.\d+)*)\\?\.?\s", sheet.read_text(encoding="utf-8"), re.MULTILINE))
    assert cited <= stand


def test_a_variant_has_the_sheet_of_its_base() -> None:
    """Unless it has one of its own."""
    assert (
        description_path("quillmere-split")
        == description_path("quillmere")
        == board_path("quillmere").with_name("quillmere.md")
    )


def test_a_folder_of_small_boards_has_one_sheet() -> None:
    """Blocks have theirs, and relays; a variant among them has the same."""
    assert description_path("iec-ton") == board_path("iec-ton").with_name("iec.md")
    relays = board_path("relay-summing").with_name("relays.md")
    assert description_path("relay-summing") == description_path("relay-summing-kept") == relays


@pytest.mark.parametrize("name", wiring_names())
def test_a_wiring_fits_its_boards(name: str) -> None:
    """Its id is its name, its boards are in the library, and every signal is on one of them."""
    wiring = read_wiring(wiring_path(name))
    assert wiring.id == name
    boards = [read_board(board_path(board)) for board in wiring.boards]
    known = {signal for board in boards for signal in signals_of(board)}
    assert {wire.signal for wire in wiring.wires} <= known
    for board in boards:
        assert name in wirings_for(board.id)
        wired = {wire.signal for wire in wiring.wires}
        assert set(signals_of(board)) <= wired


def test_the_wiring_called_like_the_board_comes_first() -> None:
    """So a command can take it unless told otherwise."""
    assert wirings_for("tarnbeck") == ("tarnbeck", "tarnbeck-ac60")
    assert wirings_for("tarnbeck-thermistor") == ("tarnbeck",)
    assert wirings_for("iec-ton") == ()


def test_an_unknown_name_suggests_the_nearest() -> None:
    """Where none is near, all are told."""
    with pytest.raises(UnknownBoard, match=r"no board 'quilmere'; did you mean 'quillmere'\?") as caught:
        board_path("quilmere")
    assert caught.value.nearest == "quillmere"
    with pytest.raises(UnknownWiring, match="did you mean 'tarnbeck-ac60'"):
        wiring_path("tarnbeck-ac50")
    with pytest.raises(UnknownBoard, match="it has cold-room, cold-room-adaptive, "):
        board_path("!!")
    with pytest.raises(UnknownBoard):
        board_path("../tarnbeck")


def test_the_library_is_light_to_import() -> None:
    """Names and paths need neither the parser nor numbers."""
    code = (
        "import sys, boardgauge.boards as b; b.board_names(); b.wirings_for('tarnbeck');"
        "print([m for m in ('lark', 'numpy', 'attrs', 'tomlkit', 'rapidfuzz') if m in sys.modules])"
    )
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout == "[]\n"

"""The recordings of the library's boards: made by the list, and judged as their table says.

Law: a board in order conforms, a faulty one deviates; every board of the library has at least one of each.
"""

from __future__ import annotations

import lzma
from pathlib import Path

import pytest

from boardgauge.boards import board_names
from boards.library_recordings import BEGINS, FOLDER, Entry, entries, make, row_of, rows_written

_ELSEWHERE = {"tarnbeck", "quillmere"}
"""Boards whose recordings stand in tests/recordings, or in the demonstration."""
LISTED = entries()


@pytest.mark.parametrize("entry", LISTED, ids=lambda entry: entry.file)
def test_the_table_says_what_the_judge_says(entry: Entry) -> None:
    """Verdict, clause and moment of each row; good ones conform, and what has a fault deviates."""
    row = row_of(entry)
    assert row in rows_written()
    verdict = "conforms" if entry.fault is None else "deviates"
    assert f"| {verdict} |" in row
    assert (entry.fault is None) == ("__good." in entry.file)


@pytest.mark.parametrize("entry", LISTED, ids=lambda entry: entry.file)
def test_a_recording_is_made_by_its_scenario(entry: Entry, tmp_path: Path) -> None:
    """What stands in the folder is what the simulated board does now."""
    assert _text(make(entry, tmp_path)) == _text(FOLDER / entry.file)


def test_every_file_is_listed_and_shown() -> None:
    """No recording without an entry, no scenario without a recording, and a row for each in the order of the list."""
    files = {path.name for path in FOLDER.glob("*.vcd*")}
    assert sorted(files) == sorted(entry.file for entry in LISTED)
    assert {path.stem for path in (FOLDER / "scenarios").iterdir()} == {entry.scenario for entry in LISTED}
    assert [row.split("`")[1] for row in rows_written()] == [entry.file for entry in LISTED]
    assert (FOLDER / "README.md").read_text(encoding="utf-8").count(BEGINS) == 1


def test_every_board_has_a_good_and_a_faulty_recording() -> None:
    """At least one of each for every board, those recorded elsewhere aside."""
    for faulty in (False, True):
        shown = {entry.board for entry in LISTED if (entry.fault is not None) == faulty}
        assert shown >= set(board_names()) - _ELSEWHERE


def test_the_files_are_small() -> None:
    """A quarter of a megabyte for all of them."""
    assert sum(path.stat().st_size for path in FOLDER.rglob("*") if path.is_file()) < 250_000


def _text(path: Path) -> str:
    data = path.read_bytes()
    return (lzma.decompress(data) if path.suffix == ".xz" else data).decode("ascii")

"""``judge --record``: what is judged is kept, each board by its serial number; what cannot be meant is told."""

from __future__ import annotations

import gzip
import json
import sqlite3
from pathlib import Path

import pytest

from many_recordings import GOOD, PACKED
from records.records_typed import typed


def test_runs_of_one_command_are_one_visit(judged: Path) -> None:
    """What one command judged of a board belongs together; another command is another visit."""
    status, output = typed("records", judged, "--json")
    rows = json.loads(output)
    assert status == 0
    assert [row["serial"] for row in rows] == ["1042", "1042", "1043"]
    assert len({row["visit"] for row in rows}) == 2
    assert rows[0]["visit"] == rows[1]["visit"]
    assert (rows[2]["note"], rows[2]["lot"]) == ("warm room", None)


def test_serial_numbers_from_names(tmp_path: Path) -> None:
    """Each file is of the board that it is called by, packed or not."""
    for name in ("A-17", "A-18"):
        (tmp_path / f"{name}.csv.gz").write_bytes(PACKED.read_bytes())
    path = tmp_path / "a.db"
    status, output = typed("judge", "tarnbeck", tmp_path, "--record", path, "--serials-from-names", "--json")
    assert status == 0, output
    _, listed = typed("records", path)
    assert "A-17" in listed
    assert "2 runs of 2 boards: 2 conforms" in listed


def test_a_recording_that_cannot_be_read_is_not_kept(tmp_path: Path) -> None:
    """The others are; the status says that one could not be read."""
    (tmp_path / "bad.vcd").write_text("no recording\n")
    path = tmp_path / "a.db"
    status, _ = typed("judge", "tarnbeck", tmp_path / "bad.vcd", GOOD, "--record", path, "--serial", "7")
    assert status == 2
    assert "1 run of 1 board" in typed("records", path)[1]


def test_parts_are_kept_as_one_run(tmp_path: Path) -> None:
    """A recording in parts is one run with its parts in order, and is judged again as one."""
    path = tmp_path / "a.db"
    lines = GOOD.with_suffix(".csv.gz")
    rows = gzip.decompress(lines.read_bytes()).decode().splitlines(keepends=True)
    half = len(rows) // 2
    (tmp_path / "1.csv").write_text("".join(rows[:half]))
    (tmp_path / "2.csv").write_text(rows[0] + "".join(rows[half:]))
    parts = (tmp_path / "1.csv", tmp_path / "2.csv")
    status, output = typed("judge", "tarnbeck", *parts, "--joined", "--record", path, "--serial", "7")
    assert status == 0, output
    with sqlite3.connect(path) as connection:
        assert connection.execute("SELECT count(*) FROM run_files").fetchone() == (2,)
    connection.close()
    assert typed("records", path, "again") == (0, "run 1 (tarnbeck 7): conforms, as before\n")


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--serial", "7"), "--serial: is about the records"),
        (("--lot", "A"), "--lot: is about the records"),
        (("--record", "DB"), "expected one of --serial NO and --serials-from-names"),
        (("--record", "DB", "--serial", "7", "--serials-from-names"), "expected one of"),
        (("--record", "DB", "--serial", " "), "expected 1 to 100 letters"),
        (("--record", "DB", "--serial", "7", "--measured", "yesterday"), "--measured yesterday: expected a day"),
        (("--record", "no/such/folder.db", "--serial", "7"), "there is no folder"),
    ],
)
def test_what_does_not_go_together_is_told(tmp_path: Path, options: tuple[str, ...], words: str) -> None:
    """Nothing is judged and nothing is made where the options cannot be meant."""
    database = tmp_path / "a.db"
    status, output = typed("judge", "tarnbeck", GOOD, *(str(database) if o == "DB" else o for o in options))
    assert (status, words in output) == (2, True), output
    assert "conforms" not in output

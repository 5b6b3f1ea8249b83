"""The command line of the records: what is kept is told, exported, verified and judged again."""

from __future__ import annotations

import csv
import json
import sqlite3
import time
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pyarrow.parquet as pq
import pytest

from boardgauge.records.adding import add_run
from boardgauge.records.database import open_records
from boardgauge.records.exporting import COLUMNS
from many_recordings import SLOW_CLOCK
from records.kept_boards import small_entry
from records.records_typed import typed

# -- list, show, export --------------------------------------------------------------------------------------------


def test_lists_are_filtered(judged: Path) -> None:
    """Options of the list stand straight behind the database; a day is taken from its beginning to its end."""
    assert "1 run of 1 board: 1 deviates" in typed("records", judged, "--verdict", "deviates")[1]
    assert "2 runs of 1 board" in typed("records", judged, "list", "--serial", "104*", "--operator", "kim")[1]
    assert "2 runs of 1 board" in typed("records", judged, "--until", "2026-03-02")[1]
    assert "no runs" in typed("records", judged, "--until", "2026-03-01")[1]
    assert "1 run of 1 board" in typed("records", judged, "--since", "2026-03-03")[1]
    assert typed("records", judged, "--board", "other") == (0, "no runs\n")


@pytest.fixture
def changing_clocks(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Let this machine be where clocks go an hour back on the last Sunday of October, at 3."""
    monkeypatch.setenv("TZ", "CET-1CEST,M3.5.0,M10.5.0/3")
    time.tzset()
    yield
    monkeypatch.undo()
    time.tzset()


@pytest.mark.usefixtures("changing_clocks")
def test_a_day_is_as_long_as_it_is(tmp_path: Path) -> None:
    """What was measured late on a day of 25 hours is of that day, and so is found up to it."""
    path = tmp_path / "a.db"
    with open_records(str(path), make=True) as records:
        add_run(records, small_entry("7", measured=datetime(2026, 10, 25, 22, 59, tzinfo=UTC)))
        add_run(records, small_entry("8", measured=datetime(2026, 10, 25, 23, 0, tzinfo=UTC)))
    output = typed("records", path, "--until", "2026-10-25")[1]
    assert ("2026-10-25 23:59" in output, "1 run of 1 board" in output) == (True, True), output
    assert "1 run of 1 board" in typed("records", path, "--since", "2026-10-26")[1]


@pytest.mark.parametrize("day", ["9999-12-31", "0001-01-01", "2026-02-30", "monday"])
def test_days_that_there_are_not_are_told(judged: Path, day: str) -> None:
    """A day that no clock reaches, or that is none, has words: whichever option it is given to."""
    for option in ("--since", "--until"):
        status, output = typed("records", judged, option, day)
        assert status in (0, 2)
        assert status == 0 or f"{option} {day}: expected a day or a moment" in output


def test_a_run_is_shown(judged: Path) -> None:
    """What came of it, what it was judged by, and what nothing is proved of."""
    status, output = typed("records", judged, "show", "1")
    assert status == 0
    assert "run 1: tarnbeck 1042, lot A" in output
    assert "restart_delay   44.980 to 45.080 s  42.9 to 47.1 s" in output
    assert "nothing is proved of: lp_lockout" in output
    data = json.loads(typed("records", judged, "show", "3", "--json")[1])
    assert data["judgement"]["deviations"][0]["rule"] == "power_up_delay"
    assert data["files"][0]["size"] == SLOW_CLOCK.stat().st_size
    assert typed("records", judged, "show", "99")[0] == 2


def test_a_recording_is_given_back(judged: Path, tmp_path: Path) -> None:
    """The bytes come back under their name; another file of that name is not written over."""
    folder = tmp_path / "back"
    assert typed("records", judged, "show", "3", "--recording", folder)[0] == 0
    assert (folder / SLOW_CLOCK.name).read_bytes() == SLOW_CLOCK.read_bytes()
    assert typed("records", judged, "show", "3", "--recording", folder)[0] == 0
    (folder / SLOW_CLOCK.name).write_text("mine")
    status, output = typed("records", judged, "show", "3", "--recording", folder)
    assert (status, "is there already" in output) == (2, True)
    assert (folder / SLOW_CLOCK.name).read_text() == "mine"


def test_exports_have_the_same_in_both_forms(judged: Path, tmp_path: Path) -> None:
    """CSV and Parquet have the columns of all runs, then those of timings, and the same values."""
    for name in ("runs.csv", "runs.parquet"):
        assert typed("records", judged, "export", tmp_path / name)[0] == 0
    with (tmp_path / "runs.csv").open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    table = pq.read_table(tmp_path / "runs.parquet")
    assert list(rows[0])[: len(COLUMNS)] == list(COLUMNS)
    assert table.column_names == list(rows[0])
    for row, other in zip(rows, table.to_pylist(), strict=True):
        for name, value in other.items():
            assert row[name] == ("" if value is None else f"{value:.6f}" if isinstance(value, float) else str(value))
    assert rows[0]["restart_delay.least_s"] == "44.979991"
    status, output = typed("records", judged, "export", tmp_path / "runs.xlsx")
    assert (status, ".csv or .parquet" in output) == (2, True)


def test_commands_come_behind_the_database(judged: Path) -> None:
    """A command that there is none of is told with the nearest; help is there at every place."""
    status, output = typed("records", judged, "shwo", "1")
    assert (status, "show" in output) == (2, True)
    assert "--since" in typed("records", judged, "--help")[1]
    assert "verify" in typed("records", "--help")[1]
    assert typed("records")[0] != 1


def test_commands_may_come_before_the_database(judged: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Either order does the same; a file that is called like a command is the database."""
    assert typed("records", "show", judged, "1") == typed("records", judged, "show", "1")
    assert typed("records", "list", judged, "--verdict", "deviates") == typed(
        "records", judged, "--verdict", "deviates"
    )
    (tmp_path / "list").write_bytes(judged.read_bytes())
    monkeypatch.chdir(tmp_path)
    assert typed("records", "list", "show", "1") == typed("records", judged, "show", "1")


def test_records_that_are_not_there_are_told(tmp_path: Path) -> None:
    """No command but judging makes records."""
    for command in ((), ("verify",), ("again",), ("timings",), ("lot", "A", "--size", "9"), ("show", "1")):
        status, output = typed("records", tmp_path / "none.db", *command)
        assert (status, "no such file" in output) == (2, True), output
    assert not (tmp_path / "none.db").exists()


# -- verify, again -------------------------------------------------------------------------------------------------


def test_verify_leaves_with_what_it_found(judged: Path, tmp_path: Path) -> None:
    """0 all is well, 1 evidence is gone, 3 a spec says something else today."""
    assert typed("records", judged, "verify") == (0, "3 runs, 3 files and 1 spec looked at: all as they were kept\n")
    path = tmp_path / "a.db"
    path.write_bytes(judged.read_bytes())
    with sqlite3.connect(path) as connection:
        connection.execute("UPDATE runs SET spec_given = 'hearthgate' WHERE id = 1")
    connection.close()
    status, output = typed("records", path, "verify")
    assert (status, "hearthgate: says something else now" in output) == (3, True)
    with sqlite3.connect(path) as connection:
        connection.execute("DELETE FROM files")
    connection.close()
    status, output = typed("records", path, "verify", "--json")
    assert status == 1
    assert len(json.loads(output)["findings"]) == 4


def test_again_keeps_whole_visits(judged: Path, tmp_path: Path) -> None:
    """Judged again and kept, a run brings the others of its visit with it; nothing that was there is changed."""
    path = tmp_path / "a.db"
    path.write_bytes(judged.read_bytes())
    status, output = typed("records", path, "again", "1", "--keep")
    assert status == 0
    assert [line.rpartition(" ")[2] for line in output.splitlines()] == ["4", "5"]
    rows = json.loads(typed("records", path, "--serial", "1042", "--json")[1])
    assert [row["note"] for row in rows] == [None, None, "run 1 judged again", "run 2 judged again"]
    assert rows[2]["visit"] == rows[3]["visit"] != rows[0]["visit"]
    assert typed("records", path, "again", "9")[0] == 2
    assert typed("records", path, "again", "--lot", "Z")[0] == 2


def test_by_a_spec_that_is_gone_nothing_is_judged(judged: Path, tmp_path: Path) -> None:
    """Asked for the spec of today where there is none, the run is told and the status is 2."""
    path = tmp_path / "a.db"
    path.write_bytes(judged.read_bytes())
    with sqlite3.connect(path) as connection:
        connection.execute("UPDATE runs SET spec_given = 'gone.toml' WHERE id = 1")
    connection.close()
    status, output = typed("records", path, "again", "1", "2", "--by-spec-of-today")
    assert status == 2
    assert "gone.toml: no such file" in output
    assert "run 2 (tarnbeck 1042): conforms, as before" in output


def test_a_recording_goes_into_a_folder_and_nowhere_else(judged: Path, tmp_path: Path) -> None:
    """A file in its place is told as one, before the run is shown."""
    (tmp_path / "notes").write_text("x")
    status, output = typed("records", judged, "show", "1", "--recording", tmp_path / "notes")
    told = f"boardgauge: --recording {tmp_path / 'notes'}: is a file; expected a folder to write the recording into\n"
    assert (status, output) == (2, told)

"""One table: a row a recording, columns that hang on the board alone, and never half a file."""

from __future__ import annotations

import csv
import hashlib
import re
from pathlib import Path

import pyarrow.parquet as pq
import pytest
from click.testing import CliRunner, Result

from boardgauge.command.program import main
from boardgauge.machine.compile import compile_board
from boardgauge.many.judging_one import judge_item
from boardgauge.many.table import COLUMNS, OF_A_TIMING, Table, UnusableTable
from many_recordings import GOOD, PACKED, SLOW_CLOCK, TOO_SOON, a_job, items_of

CLONE = Path(__file__).resolve().parents[2]
TIMINGS = ["power_up_delay", "restart_delay", "bypass", "hp_trips window", "cold_run", "defrost_limit", "lp_trip for"]


def judged(table: Path, *files: object) -> Result:
    """Run the command with a table."""
    return CliRunner().invoke(main, ["judge", "tarnbeck", *map(str, files), "--table", str(table)])


def rows_of(table: Path) -> list[dict[str, str]]:
    """Read a CSV table."""
    with table.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def test_the_columns_hang_on_the_board_alone(tmp_path: Path) -> None:
    """The header is the same whatever the recordings are, even if none can be judged."""
    headers = []
    for name, files in (("a", [GOOD]), ("b", [tmp_path / "nowhere.vcd"]), ("c", [TOO_SOON, PACKED])):
        judged(tmp_path / f"{name}.csv", *files)
        headers.append((tmp_path / f"{name}.csv").read_text(encoding="utf-8").splitlines()[0].split(","))
    expected = [*COLUMNS, *(f"{timing}.{what}" for timing in TIMINGS for what in OF_A_TIMING)]
    assert headers == [expected] * 3


def test_a_row_says_what_the_report_says(tmp_path: Path) -> None:
    """The row of a deviating recording has its first deviation, and each timing as it was measured."""
    judged(tmp_path / "t.csv", SLOW_CLOCK, GOOD)
    slow, good = rows_of(tmp_path / "t.csv")
    assert slow["file"] == str(SLOW_CLOCK)
    assert slow["sha256"] == hashlib.sha256(SLOW_CLOCK.read_bytes()).hexdigest()
    assert (slow["board"], slow["wiring"], slow["start"], slow["verdict"]) == (
        "tarnbeck",
        "tarnbeck",
        "power-up",
        "deviates",
    )
    assert (slow["deviations"], slow["first_time_s"], slow["first_signal"]) == ("3", "32.500000", "cc")
    assert (slow["first_kind"], slow["first_rule"], slow["first_clause"]) == ("late", "power_up_delay", "1.1")
    assert (slow["first_allowed_from_s"], slow["first_allowed_to_s"]) == ("29.500000", "32.500000")
    assert slow["first_margin_s"] == "0.000000"
    assert (good["verdict"], good["deviations"], good["first_time_s"], good["error"]) == ("conforms", "0", "", "")
    assert good["exercised"] == "3"
    assert (good["power_up_delay.count"], good["restart_delay.count"]) == ("2", "1")
    told = CliRunner().invoke(main, ["judge", "tarnbeck", str(GOOD)]).output
    lasted = " to ".join(f"{float(good[f'restart_delay.{bound}']):.3f}" for bound in ("least_s", "greatest_s"))
    assert f"restart_delay   measured {lasted} s (once)" in told
    assert (good["bypass.count"], good["bypass.least_s"]) == ("0", "")


def test_the_margin_of_an_early_change(tmp_path: Path) -> None:
    """What came too early has the time that was missing as its margin."""
    judged(tmp_path / "t.csv", TOO_SOON)
    (row,) = rows_of(tmp_path / "t.csv")
    assert (row["first_kind"], row["first_margin_s"]) == ("early", "6.780000")


def test_an_unreadable_recording_has_a_row(tmp_path: Path) -> None:
    """A file that cannot be judged has a row with its digest and the reason, and no verdict."""
    bad = tmp_path / "bad.vcd"
    bad.write_text("no recording, and two lines\nof it\n")
    assert judged(tmp_path / "t.csv", bad, GOOD).exit_code == 2
    first, second = rows_of(tmp_path / "t.csv")
    assert (first["verdict"], second["verdict"]) == ("", "conforms")
    assert first["sha256"] == hashlib.sha256(bad.read_bytes()).hexdigest()
    assert str(bad) in first["error"]


def test_parquet_and_csv_say_the_same(tmp_path: Path) -> None:
    """A Parquet table has the columns and values of the CSV one, as numbers and texts."""
    for ending in ("csv", "parquet"):
        judged(tmp_path / f"t.{ending}", GOOD, TOO_SOON, tmp_path / "nowhere.vcd")
    table = pq.read_table(tmp_path / "t.parquet")
    rows = rows_of(tmp_path / "t.csv")
    assert table.column_names == list(rows[0])
    assert [str(table.schema.field(name).type) for name in ("file", "deviations", "first_time_s")] == [
        "string",
        "int64",
        "double",
    ]
    for typed, plain in zip(table.to_pylist(), rows, strict=True):
        for name, value in typed.items():
            text = "" if value is None else f"{value:.6f}" if isinstance(value, float) else str(value)
            assert text == plain[name], name


@pytest.mark.parametrize("ending", ["csv", "parquet"])
def test_the_table_appears_whole_or_not_at_all(tmp_path: Path, ending: str) -> None:
    """Until it is closed what was there before stands; given up, it leaves nothing."""
    path = tmp_path / f"t.{ending}"
    path.write_text("of before")
    job = a_job()
    outcome = judge_item(job.packed(), items_of([GOOD])[0])
    for _ in range(2):
        table = Table.begin(str(path), job, compile_board(job.board))
        for _ in range(2500):
            table.add(outcome)
        assert path.read_text() == "of before"
        table.abandon()
        assert [file.name for file in tmp_path.iterdir()] == [path.name]
    table = Table.begin(str(path), job, compile_board(job.board))
    for _ in range(2500):
        table.add(outcome)
    table.close()
    assert [file.name for file in tmp_path.iterdir()] == [path.name]
    assert (len(rows_of(path)) if ending == "csv" else pq.read_metadata(path).num_rows) == 2500


def test_a_table_that_cannot_be_written_is_told_first(tmp_path: Path) -> None:
    """A place where no table can be is told before anything is judged."""
    result = judged(tmp_path / "nowhere" / "t.csv", GOOD)
    assert result.exit_code == 2
    assert result.stdout == ""
    assert "there is no folder" in result.stderr
    with pytest.raises(UnusableTable, match=r"expected a file ending in \.csv or \.parquet"):
        Table.begin(str(tmp_path / "t.xls"), a_job(), compile_board(a_job().board))


def test_every_column_is_documented() -> None:
    """The page for the bench lists the columns in their order with their meanings."""
    page = (CLONE / "docs" / "bench.md").read_text(encoding="utf-8")
    told = re.findall(r"^\| `([\w.]+)` \| (.+) \|$", page, re.MULTILINE)
    expected = [(name, words) for name, (_, words) in COLUMNS.items()]
    expected += [(f"TIMING.{name}", words) for name, (_, words) in OF_A_TIMING.items()]
    assert told == expected

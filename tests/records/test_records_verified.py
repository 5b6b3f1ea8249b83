"""Evidence that was tampered with is found, and what was kept can be judged again."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest

from boardgauge.language import read_board_text, write_board
from boardgauge.records.adding import add_run
from boardgauge.records.again import CannotJudgeAgain, judge_again, keep_again
from boardgauge.records.database import Records, open_records
from boardgauge.records.finding import find_run, find_runs
from boardgauge.records.packing import DamagedFile, content_of
from boardgauge.records.verifying import verify
from many_recordings import BYPASS, GOOD, SLOW_CLOCK
from records.kept_boards import entry_of, tarnbeck


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Give records of three recordings."""
    path = tmp_path / "a.db"
    with open_records(str(path), make=True) as records:
        for number, file in enumerate((GOOD, SLOW_CLOCK, GOOD)):
            add_run(records, entry_of(file, serial=str(number)))
    return path


@pytest.fixture
def records(path: Path) -> Iterator[Records]:
    """Give these records, open."""
    with open_records(str(path)) as opened:
        yield opened


def tamper(path: Path, *statements: str) -> None:
    """Change the file behind the program's back."""
    with sqlite3.connect(path) as connection:
        for statement in statements:
            connection.execute(statement)
    connection.close()


def same_as_today(_: str) -> str:
    """Give the digest of the spec as it is."""
    return tarnbeck().digest


def test_what_was_kept_is_as_it_was(records: Records) -> None:
    """Records that nobody touched have nothing to find."""
    found = verify(records, None, same_as_today)
    assert (found.runs, found.files, found.specs, found.findings) == (3, 2, 1, ())


@pytest.mark.parametrize(
    ("statement", "words"),
    [
        ("UPDATE files SET content = zeroblob(40)", "cannot be unpacked"),
        ("UPDATE files SET packing = 'none'", "no longer"),
        ("UPDATE files SET size = length(content), packing = 'none'", "their SHA-256 is now"),
        ("UPDATE files SET size = size - 1", "no longer"),
        ("DELETE FROM files", "missing"),
    ],
)
def test_changed_bytes_are_found(path: Path, records: Records, statement: str, words: str) -> None:
    """Whatever was done to the bytes of one recording, its runs are named and no others."""
    digest = find_run(records, 1).files[0].sha256
    tamper(path, f"{statement} WHERE sha256 = '{digest}'")
    (finding,) = verify(records, None, same_as_today).findings
    assert (finding.kind, finding.runs, finding.damage) == ("recording", (1, 3), True)
    assert words in finding.what
    with pytest.raises(DamagedFile):
        content_of(records, digest)
    with pytest.raises(CannotJudgeAgain):
        judge_again(records, 1)
    assert judge_again(records, 2).same


def test_a_recording_that_is_replaced_is_found(path: Path, records: Records) -> None:
    """Another recording put under the digest of the first, packed as it should be, is still another."""
    add_run(records, entry_of(BYPASS, serial="9"))
    first, other = find_run(records, 1).files[0].sha256, find_run(records, 4).files[0].sha256
    tamper(
        path,
        f"UPDATE files SET (content, size) = (SELECT content, size FROM files WHERE sha256 = '{other}') "
        f"WHERE sha256 = '{first}'",
    )
    assert [finding.runs for finding in verify(records, None, same_as_today).findings] == [(1, 3)]


def test_runs_without_a_recording_are_found(path: Path, records: Records) -> None:
    """A run that no file belongs to any more is named."""
    tamper(path, "DELETE FROM run_files WHERE run_id = 2")
    (finding,) = verify(records, None, same_as_today).findings
    assert (finding.kind, finding.runs) == ("recording", (2,))
    with pytest.raises(CannotJudgeAgain, match="no recording is kept"):
        judge_again(records, 2)


@pytest.mark.parametrize(
    ("change", "words"),
    [("replace(text, '45 s', '50 s')", "its digest is now"), ("'nonsense'", "cannot be read any more")],
)
def test_a_changed_spec_is_found(path: Path, records: Records, change: str, words: str) -> None:
    """The text of a spec that was changed in the records is told, and nothing is judged by it."""
    tamper(path, f"UPDATE specs SET text = {change}")
    (finding,) = verify(records, None, same_as_today).findings
    assert (finding.kind, finding.runs, finding.damage) == ("spec kept", (1, 2, 3), True)
    assert words in finding.what
    with pytest.raises(CannotJudgeAgain, match="spec"):
        judge_again(records, 1)


def test_a_spec_that_says_something_else_today_is_no_damage(records: Records) -> None:
    """The spec's own file may move on: that is told, and the evidence is whole."""
    (changed,) = verify(records, None, lambda _: "f" * 64).findings
    assert (changed.kind, changed.damage, changed.runs) == ("spec of today", False, (1, 2, 3))
    (gone,) = verify(records, None, lambda _: None).findings
    assert "there is no such spec now" in gone.what


def test_every_run_comes_to_the_same_verdict_again(records: Records) -> None:
    """From its bytes, spec and wiring alone a run is judged as it was, to the last figure."""
    for row in find_runs(records):
        again = judge_again(records, row.number)
        kept = find_run(records, row.number).judgement
        assert again.same
        found = again.judgement.as_json()
        for name in ("verdict", "coverage", "clock_rate", "spec_digest", "trace_digest"):
            assert found[name] == kept[name]
        assert [d["time"] for d in found["deviations"]] == [d["time"] for d in kept["deviations"]]


def test_by_another_spec_the_verdict_may_be_another(records: Records) -> None:
    """The slow board conforms to a spec with wider limits; kept so, it is a new run beside the old."""
    text = write_board(tarnbeck())
    wide = read_board_text(text.replace("± (4 % + 300 ms)", "± (12 % + 300 ms)"), "wide.toml")
    again = judge_again(records, 2, lambda _: wide)
    assert (again.same, again.judgement.verdict) == (False, "conforms")
    number = keep_again(records, again, "another visit")
    old, new = find_run(records, 2), find_run(records, number)
    assert (old.row.verdict, new.row.verdict) == ("deviates", "conforms")
    assert new.row.spec_digest == wide.digest != old.row.spec_digest
    assert new.files == old.files
    assert new.row.note == "run 2 judged again"
    assert judge_again(records, number).same

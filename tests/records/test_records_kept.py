"""What is put into the records comes out again, whole, and each thing once."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import func, select

from boardgauge.records.adding import add_run
from boardgauge.records.database import Records, open_records
from boardgauge.records.entry import (
    LONGEST_NAME,
    Entry,
    Goal,
    KeptFile,
    LeftOut,
    PlanCoverage,
    UnusableEntry,
    together,
)
from boardgauge.records.finding import NoSuchRun, Wanted, find_run, find_runs, find_timings
from boardgauge.records.packing import content_of
from boardgauge.records.tables import boards, files, runs, specs
from many_recordings import GOOD, SLOW_CLOCK
from records.kept_boards import DAY, entry_of, judged, made_up, small_entry, tarnbeck


@pytest.fixture
def records(tmp_path: Path) -> Iterator[Records]:
    """Give empty records."""
    with open_records(str(tmp_path / "bench.db"), make=True) as opened:
        yield opened


def counted(records: Records, table: object) -> int:
    """Give how many rows a table has."""
    with records.reading() as connection:
        return int(connection.execute(select(func.count()).select_from(table)).scalar() or 0)  # type: ignore[arg-type]


def test_a_run_comes_out_as_it_went_in(records: Records) -> None:
    """Verdict, coverage, times, deviations, spec, wiring, settings, plan and bytes are those of the entry."""
    plan = PlanCoverage(
        "all of it", "d" * 64, (Goal("move", "a"),), (Goal("limit", "b"),), (LeftOut("fault", "c", "?"),)
    )
    entry = entry_of(
        SLOW_CLOCK, operator="kim", lot="A", plan=plan, settings={"interval": "5 min"}, note="warm", rig="r1"
    )
    run = find_run(records, add_run(records, entry))
    judgement = judged(SLOW_CLOCK)
    assert run.judgement == judgement.as_json()
    assert (run.row.verdict, run.row.deviations, run.row.exercised) == ("deviates", 3, 3)
    assert (run.row.serial, run.row.lot, run.row.operator, run.row.rig, run.row.note) == (
        "1042",
        "A",
        "kim",
        "r1",
        "warm",
    )
    assert (run.plan, run.settings) == (plan, {"interval": "5 min"})
    assert (run.row.plan_reached, run.row.plan_missed) == (1, 1)
    assert [t.timing for t in run.timings] == [t.name for rule in judgement.rules for t in rule.timings]
    assert [t.least for t in run.timings] == [t.least for rule in judgement.rules for t in rule.timings]
    assert run.wiring_text == entry.wiring_text
    assert content_of(records, run.files[0].sha256) == SLOW_CLOCK.read_bytes()


def test_what_varies_with_a_setting_says_so(records: Records) -> None:
    """A timing whose limits hang on a setting is marked, and no other is."""
    add_run(records, entry_of())
    ((_, timings),) = find_timings(records)
    assert {one.timing for one in timings if one.varies} == {"cold_run"}


def test_bytes_specs_and_boards_are_kept_once(records: Records) -> None:
    """The same recording, spec and board of many runs stand in the records once."""
    for _ in range(3):
        add_run(records, entry_of())
    add_run(records, entry_of(serial="1043"))
    assert [counted(records, table) for table in (runs, files, specs, boards)] == [4, 1, 1, 2]


def test_a_recording_in_parts_keeps_their_order(records: Records) -> None:
    """The files of a run come back in the order of its parts, even if two are the same."""
    parts = tuple(KeptFile(name, content) for name, content in (("b", b"2"), ("a", b"1"), ("c", b"2")))
    number = add_run(records, Entry("7", made_up(), tarnbeck(), parts, DAY, "0.1.0"))
    assert [file.name for file in find_run(records, number).files] == ["b", "a", "c"]
    assert counted(records, files) == 2


@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.binary(max_size=3000))
def test_bytes_come_back_whatever_they_are(records: Records, content: bytes) -> None:
    """Bytes that pack well, badly or not at all come back the same."""
    file = KeptFile("x", content)
    add_run(records, Entry("7", made_up(), tarnbeck(), (file,), DAY, "0.1.0"))
    assert content_of(records, file.sha256) == content


def test_moments_keep_their_zone(records: Records) -> None:
    """A moment in any zone comes back as the same moment; one without a zone is refused."""
    summer = timezone(timedelta(hours=2))
    number = add_run(records, small_entry("7", measured=datetime(2026, 7, 1, 10, 0, tzinfo=summer)))
    assert find_run(records, number).row.measured == datetime(2026, 7, 1, 8, 0, tzinfo=UTC)
    with pytest.raises(UnusableEntry, match="time zone"):
        small_entry("7", measured=datetime(2026, 7, 1, 10, 0))


@pytest.mark.parametrize("serial", ["", " ", "a\nb", "x" * (LONGEST_NAME + 1)])
def test_a_serial_number_is_one_line(serial: str) -> None:
    """What cannot be read back on one line is refused, and the longest that can be is not."""
    with pytest.raises(UnusableEntry, match="serial number"):
        small_entry(serial)
    small_entry("x" * LONGEST_NAME)


def test_a_board_is_of_one_lot(records: Records) -> None:
    """A lot may be told later; another one is refused, and nothing of that entry is kept."""
    add_run(records, small_entry("7"))
    add_run(records, small_entry("7", lot="A"))
    add_run(records, small_entry("7"))
    with pytest.raises(UnusableEntry, match="is of lot A in the records, and this says lot B"):
        add_run(records, small_entry("7", 9, lot="B"))
    assert {run.lot for run in find_runs(records)} == {"A"}
    assert counted(records, runs) == 3
    assert counted(records, files) == 1


def test_a_serial_number_is_found_to_the_letter(records: Records) -> None:
    """Capital and small letters make two serial numbers, in the records and when they are asked for."""
    for serial in ("x1", "X1"):
        add_run(records, small_entry(serial))
    for serial in ("x1", "X1"):
        assert [row.serial for row in find_runs(records, Wanted(serial=serial))] == [serial]


def test_runs_are_found_by_what_is_asked(records: Records) -> None:
    """Each of the wishes keeps what fits it; several keep what fits all."""
    for number, (serial, lot, operator) in enumerate([("10", "A", "kim"), ("100", "B", "lee"), ("20_1", "A", "lee")]):
        verdict = "deviates" if serial == "100" else "conforms"
        judgement = made_up(verdict)  # type: ignore[arg-type]
        add_run(records, small_entry(serial, number * 1440, lot=lot, operator=operator, judgement=judgement))

    def found(**wishes: object) -> list[str]:
        return [row.serial for row in find_runs(records, Wanted(**wishes))]  # type: ignore[arg-type]

    assert found() == ["10", "100", "20_1"]
    assert found(serial="10") == ["10"]
    assert found(serial="10*") == ["10", "100"]
    assert found(serial="20?1") == found(serial="%") == found(serial="20%1") == []
    assert found(serial="2*_1") == ["20_1"]
    assert found(verdict="deviates") == ["100"]
    assert found(lot="A", operator="lee") == ["20_1"]
    assert found(board="other") == []
    second = DAY + timedelta(days=1)
    assert found(since=second) == ["100", "20_1"]
    assert found(since=second + timedelta(microseconds=1)) == ["20_1"]
    assert found(until=second) == ["10"]
    assert found(until=second + timedelta(microseconds=1)) == ["10", "100"]
    assert found(runs=(1, 3)) == ["10", "20_1"]


def test_a_run_that_is_not_there_is_told(records: Records) -> None:
    """The message says which runs there are."""
    with pytest.raises(NoSuchRun, match="holds no runs yet"):
        find_run(records, 1)
    add_run(records, small_entry("7"))
    with pytest.raises(NoSuchRun, match="go up to 1"):
        find_run(records, 2)


def test_runs_of_a_plan_count_together() -> None:
    """A goal that one sitting reached is reached, one that all missed is missed; plans are told apart by digest."""
    a, b, c = (Goal("move", name) for name in "abc")
    first, second = PlanCoverage("p", "1", (a,), (b, c)), PlanCoverage("p", "1", (b,), (a, c))
    (both,) = together([first, second])
    assert (set(both.reached), both.missed, both.complete) == ({a, b}, (c,), False)
    (whole,) = together([first, second, PlanCoverage("p", "1", (c,), (a, b))])
    assert whole.complete
    assert len(together([first, PlanCoverage("q", "2", (a,))])) == 2
    assert not PlanCoverage("nothing", "3", ()).complete


def test_good_recordings_are_what_the_tests_take_them_for() -> None:
    """The recordings that these tests go by conform and deviate."""
    assert (judged(GOOD).verdict, judged(SLOW_CLOCK).verdict) == ("conforms", "deviates")

"""A run without a real board is told as such wherever it is told, counts for nothing, and qualifies nobody."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

import pytest
from attrs import evolve

from boardgauge.records.adding import add_run
from boardgauge.records.database import open_records
from boardgauge.records.entry import Goal, PlanCoverage
from boardgauge.records.finding import find_run, find_runs
from boardgauge.reports.as_html import to_html_report
from boardgauge.reports.as_json import to_data
from boardgauge.reports.certificate import fitted
from boardgauge.reports.junit import to_junit
from boardgauge.reports.report import BoardReport, JudgedRun, RecordingFile, statement
from boardgauge.sheets.as_text import to_text
from boardgauge.sheets.blocks import Sheet
from records.kept_boards import DAY, entry_of, made_up, small_entry, tarnbeck, with_time
from records.records_typed import typed

TOLD = "simulated: no real board"
NOT_KEPT = "whether a real board was there was not kept"
DRIVEN: dict[str, Any] = {"rig": "desk", "rig_kind": "simulated", "simulated": True}
PLAN = PlanCoverage("plan P", "c" * 64, (Goal("move", "a"),))


def report_of(*simulated: bool | None) -> BoardReport:
    """Give the report of a board that a plan showed whole, in so many runs."""
    runs = tuple(
        JudgedRun(made_up(times=[(45.0, 45.1)]), (RecordingFile("a.vcd", "0" * 64),), None, DAY, PLAN, one)
        for one in simulated
    )
    return BoardReport(tarnbeck(), runs, "0.1.0", "boardgauge ...", "1042", rig="desk", rig_kind="serial", made=DAY)


def texts_of(report: BoardReport) -> list[str]:
    """Give every report in words: the certificate, the page, the XML and the statement."""
    made = fitted(report)
    page = f"{made.title} {to_text(Sheet('c', made.title, made.cover), 2000)}"
    return [page, to_html_report(report, [None] * len(report.runs)), to_junit(report), statement(report)]


@pytest.mark.parametrize(
    ("simulated", "told"), [((True,), TOLD), ((False, True), TOLD), ((None,), NOT_KEPT), ((None, True), TOLD)]
)
def test_no_report_calls_a_board_qualified_that_was_not_there(simulated: tuple[bool | None, ...], told: str) -> None:
    """One run without a real board, or of which it is not known, is enough; every report says which it is."""
    report = report_of(*simulated)
    assert report.shown_whole
    assert not report.qualified
    for text in texts_of(report):
        assert "qualified" not in text.lower()
        assert told in text.lower()
    data = to_data(report)
    assert (data["qualified"], data["simulated"]) == (False, report.simulated)
    assert [run["simulated"] for run in data["runs"]] == list(simulated)
    assert (data["rig"], data["rig_kind"]) == ("desk", "serial")


def test_a_real_board_is_qualified_and_nothing_else_is_said() -> None:
    """Where a real board was there, no word is lost on it."""
    report = report_of(False, False)
    assert report.qualified
    for text in texts_of(report):
        assert "simulated" not in text
        assert NOT_KEPT not in text


def test_simulated_runs_are_listed_shown_and_exported_as_such(tmp_path: Path) -> None:
    """The list, one run, JSON and the table say it; what is judged again and kept stays simulated."""
    path = tmp_path / "a.db"
    with open_records(str(path), make=True) as records:
        add_run(records, entry_of(serial="1"))
        add_run(records, entry_of(serial="2", **DRIVEN))
    listed = typed("records", path)[1]
    assert "conforms, simulated" in listed
    assert listed.splitlines()[-1] == f"2 runs of 2 boards: 2 conforms; 1 of them {TOLD}"
    shown = typed("records", path, "show", "2")[1]
    assert f"  conforms\n  {TOLD}\n" in shown
    assert "on rig desk (kind simulated)" in shown
    assert TOLD not in typed("records", path, "show", "1")[1]
    said = json.loads(typed("records", path, "show", "2", "--json")[1])
    assert (said["rig_kind"], said["simulated"]) == ("simulated", "yes")
    assert typed("records", path, "export", tmp_path / "a.csv")[0] == 0
    rows = list(csv.DictReader((tmp_path / "a.csv").read_text().splitlines()))
    assert [(row["rig_kind"], row["simulated"]) for row in rows] == [("", "no"), ("simulated", "yes")]
    assert typed("records", path, "again", "2", "--keep")[0] == 0
    with open_records(str(path)) as records:
        assert find_run(records, 3).row.simulated is True
        assert find_run(records, 3).row.rig_kind == "simulated"


def test_simulated_boards_are_left_out_of_timings_unless_asked_for(tmp_path: Path) -> None:
    """Figures are those of real boards, and say how many runs they leave out; --simulated counts them, and says so."""
    path = tmp_path / "a.db"
    with open_records(str(path), make=True) as records:
        add_run(records, with_time("1", 45.0, 45.1))
        add_run(records, with_time("2", 46.0, 46.1, **DRIVEN))
        # The same number at the bench, and later at a rig without a board.
        add_run(records, with_time("1", 44.0, 44.1, **DRIVEN))
        add_run(records, evolve(with_time("3", 45.0, 45.1), rig="old", simulated=None))
    left = f"left out: 2 runs ({TOLD}); --simulated counts them too"
    status, output = typed("records", path, "timings")
    assert (status, left in output, "of 1 of these boards: " + NOT_KEPT in output) == (0, True, True), output
    assert "restart_delay, clause 2.4: 2 boards" in output
    output = typed("records", path, "timings", "--simulated")[1]
    assert "restart_delay, clause 2.4: 3 boards" in output
    assert f"of 2 of these boards: {TOLD}" in output
    assert "left out" not in output
    (data,) = json.loads(typed("records", path, "timings", "--simulated", "--json")[1])
    assert {time["serial"]: time["simulated"] for time in data["times"]} == {"1": True, "2": True, "3": None}


def test_simulated_boards_are_left_out_of_lots_unless_asked_for(tmp_path: Path) -> None:
    """A lot is accepted by real boards; simulated ones neither fill its sample nor spoil it."""
    path = tmp_path / "a.db"
    bad = made_up("deviates", deviations=["restart_delay"])
    with open_records(str(path), make=True) as records:
        add_run(records, small_entry("1", 0, lot="A"))
        add_run(records, small_entry("2", 1, lot="A", judgement=bad, **DRIVEN))
        add_run(records, small_entry("9", 2, lot="B", **DRIVEN))
    left = f"left out: 1 run ({TOLD}); --simulated counts them too"
    status, output = typed("records", path, "lot", "A", "--size", "2")
    assert (status, "judged     1: 0 that deviate" in output, left in output) == (3, True, True), output
    status, output = typed("records", path, "lot", "A", "--size", "2", "--simulated")
    assert (status, "judged     2: 1 that deviate" in output, "left out" in output) == (1, True, False), output
    assert f"of 1 of these boards: {TOLD}" in output
    data = json.loads(typed("records", path, "lot", "A", "--size", "2", "--simulated", "--json")[1])
    assert [row["simulated"] for row in data["boards"]] == [False, True]
    status, output = typed("records", path, "lot", "B", "--size", "2")
    assert (status, "no board of lot B was judged; " + left in output) == (2, True), output


def test_a_simulated_run_takes_nothing_from_a_boards_certificate(tmp_path: Path) -> None:
    """The last visit of the real board is certified; where there is none, the simulated one is, and says so."""
    path = tmp_path / "a.db"
    with open_records(str(path), make=True) as records:
        add_run(records, entry_of(serial="1"))
        add_run(records, entry_of(serial="1", **DRIVEN))
        add_run(records, entry_of(serial="2", **DRIVEN))
        assert [row.simulated for row in find_runs(records)] == [False, True, True]
    asked = ("certificate", "tarnbeck", "--record", path, "-o", tmp_path / "c.json", "--serial")
    assert typed(*asked, "1")[0] == 0
    data = json.loads((tmp_path / "c.json").read_text())
    assert ([run["run"] for run in data["runs"]], data["simulated"], data["rig"]) == ([1], False, None)
    assert f"1 run of this number left out ({TOLD})." in data["notes"]
    status, output = typed(*asked, "2")
    assert (status, "Simulated: no real board. The board conforms" in output) == (0, True)
    data = json.loads((tmp_path / "c.json").read_text())
    assert (data["simulated"], data["rig_kind"], data["notes"]) == (True, "simulated", [])

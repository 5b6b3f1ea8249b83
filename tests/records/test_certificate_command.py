"""``certificate``: every kind of page from one judging, of recordings or of the records; what cannot be is told."""

from __future__ import annotations

import json
import re
import sqlite3
from pathlib import Path

import jsonschema
import pytest

from boardgauge.reports.as_json import report_schema
from many_recordings import GOOD, OTHER, SLOW_CLOCK
from records.records_typed import typed


def test_one_command_writes_every_kind(tmp_path: Path) -> None:
    """PDF, HTML, XML and JSON of one judging; the status is the verdict's."""
    outputs = [tmp_path / f"c.{kind}" for kind in ("pdf", "html", "xml", "json")]
    options = [word for output in outputs for word in ("-o", output)]
    status, output = typed("certificate", "tarnbeck", SLOW_CLOCK, OTHER, "--serial", "1043", *options)
    assert status == 1, output
    assert output.splitlines()[-1].startswith("The board deviates: beyond doubt")
    assert outputs[0].read_bytes().startswith(b"%PDF")
    data = json.loads(outputs[3].read_text(encoding="utf-8"))
    assert (data["serial"], data["verdict"], len(data["runs"])) == ("1043", "deviates", 2)
    assert not list(jsonschema.Draft202012Validator(report_schema()).iter_errors(data))


def test_the_page_stands_alone(tmp_path: Path) -> None:
    """The HTML loads nothing, has the charts as drawings and as values, and each deviation in both."""
    target = tmp_path / "c.html"
    assert typed("certificate", "tarnbeck", SLOW_CLOCK, GOOD, "-o", target)[0] == 1
    page = target.read_text(encoding="utf-8")
    assert not re.search(r"(?:src|href)\s*=\s*[\"'](?!#)|url\((?!#)|@import|fetch\(|XMLHttp", page)
    charts = json.loads(re.search(r'id="charts">(.*?)</script>', page, re.DOTALL)[1])  # type: ignore[index]
    assert len(charts) == 2
    assert [round(arrow["time"] / 1e6, 3) for arrow in charts[0]["arrows"]] == [32.5, 127.209, 274.5]
    assert page.count("<figure>") == 2
    assert 'id="recording-2"' in page
    rows = {row["id"]: row for row in charts[0]["rows"]}
    assert rows["cc"]["edges"][0][2] in (True, False)
    assert any(row.get("ramps") for row in rows.values())


def test_certificates_come_out_of_the_records(tmp_path: Path) -> None:
    """The last visit of a board is judged again; a verdict that was kept otherwise is noted, a changed spec too."""
    path = tmp_path / "a.db"
    assert typed("judge", "tarnbeck", SLOW_CLOCK, "--record", path, "--serial", "7")[0] == 1
    assert typed("judge", "tarnbeck", GOOD, OTHER, "--record", path, "--serial", "7", "--lot", "A")[0] == 0
    target = tmp_path / "c.json"
    status, output = typed("certificate", "tarnbeck", "--record", path, "--serial", "7", "-o", target)
    assert status == 0, output
    data = json.loads(target.read_text(encoding="utf-8"))
    assert ([run["run"] for run in data["runs"]], data["lot"], data["notes"]) == ([2, 3], "A", [])
    with sqlite3.connect(path) as connection:
        connection.execute("UPDATE runs SET verdict = 'deviates' WHERE id = 3")
    connection.close()
    typed("certificate", "tarnbeck", "--record", path, "--serial", "7", "-o", target)
    assert "Run 3 was kept as deviates" in json.loads(target.read_text(encoding="utf-8"))["notes"][0]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((GOOD, "-o", "DIR/c.pdf"), "--serial: a certificate is about one board"),
        ((GOOD, "--serial", "7", "-o", "DIR/c.doc"), "end it in .pdf, .html, .xml, .json"),
        ((GOOD, "--serial", "7", "-o", "DIR/no/c.pdf"), "there is no folder"),
        (("--serial", "7", "-o", "DIR/c.pdf"), "expected recordings, or --record"),
        ((GOOD, "--record", "DIR/a.db", "-o", "DIR/c.xml"), "and not both"),
        (("--record", "DIR/none.db", "--serial", "7", "-o", "DIR/c.xml"), "no such file"),
        (("--record", "DIR/a.db", "-o", "DIR/c.xml"), "say with --serial which board"),
        (("--record", "DIR/a.db", "--serial", "8", "-o", "DIR/c.xml"), "no run of tarnbeck 8"),
        (("--record", "DIR/a.db", "--serial", "7", "--lot", "A", "-o", "DIR/c.xml"), "stands in the records already"),
        (("--record", "DIR/a.db", "--serial", "7", "--start", "unknown", "-o", "DIR/c.xml"), "as they were kept"),
        (("DIR/nowhere.vcd", "-o", "DIR/c.xml"), "No such file"),
    ],
)
def test_what_cannot_be_certified_is_told(tmp_path: Path, arguments: tuple[object, ...], words: str) -> None:
    """Each has its words and status 2, and nothing is written."""
    typed("judge", "tarnbeck", GOOD, "--record", tmp_path / "a.db", "--serial", "7")
    given = [str(argument).replace("DIR", str(tmp_path)) for argument in arguments]
    status, output = typed("certificate", "tarnbeck", *given)
    assert (status, words in output) == (2, True), output
    assert not list(tmp_path.glob("c.*"))


def test_a_target_that_cannot_be_written_is_told_before_anything_is_judged(tmp_path: Path) -> None:
    """It is told although the recording is not even there. No empty file is left, and what is there stays."""
    link = tmp_path / "link.xml"
    link.symlink_to(tmp_path / "no" / "folder.xml")
    status, output = typed("certificate", "tarnbeck", tmp_path / "nowhere.vcd", "-o", tmp_path / "c.json", "-o", link)
    assert (status, f"{link}: cannot be written" in output) == (2, True), output
    assert [path.name for path in tmp_path.iterdir()] == ["link.xml"]
    kept = tmp_path / "kept.json"
    kept.write_text("of last week")
    assert typed("certificate", "tarnbeck", tmp_path / "nowhere.vcd", "-o", kept)[0] == 2
    assert kept.read_text() == "of last week"

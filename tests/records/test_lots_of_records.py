"""``records lot``: a lot is accepted by its sample, and the lots before it say how strictly."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from boardgauge.records.adding import add_run
from boardgauge.records.database import open_records
from records.kept_boards import made_up, small_entry
from records.records_typed import three_lots, typed


def test_a_lot_is_accepted_by_its_sample(tmp_path: Path) -> None:
    """Twelve good boards of forty are one too few; a thirteenth accepts the lot; a bad one does not."""
    path = tmp_path / "a.db"
    three_lots(path)
    status, output = typed("records", path, "lot", "A", "--size", "40")
    assert (status, "judge 1 more, drawn at random" in output) == (3, True)
    with open_records(str(path)) as records:
        add_run(records, small_entry("x", 9999, lot="A"))
    assert typed("records", path, "lot", "A", "--size", "40")[0] == 0
    data = json.loads(typed("records", path, "lot", "A", "--size", "40", "--json")[1])
    assert (data["decision"], data["sample"], data["accept"], len(data["boards"])) == ("accept", 13, 0, 13)
    three_lots(tmp_path / "b.db", deviating=1)
    assert typed("records", tmp_path / "b.db", "lot", "A", "--size", "40")[0] == 1


def test_a_board_is_as_bad_as_its_last_visit(tmp_path: Path) -> None:
    """Of several runs of one visit the worst counts; a later visit makes good what an earlier one found."""
    path = tmp_path / "a.db"
    bad = made_up("deviates", deviations=["restart_delay"])
    with open_records(str(path), make=True) as records:
        add_run(records, small_entry("1", 0, judgement=bad, lot="A", visit="first"))
        add_run(records, small_entry("1", 1, lot="A", visit="first"))
    assert typed("records", path, "lot", "A", "--size", "2")[0] == 1
    with open_records(str(path)) as records:
        add_run(records, small_entry("1", 2, lot="A", visit="mended"))
    status, output = typed("records", path, "lot", "A", "--size", "2")
    assert (status, "made good  1 deviated at an earlier visit" in output) == (3, True)


def test_lots_before_a_lot_decide_how_strictly(tmp_path: Path) -> None:
    """Two lots that were not accepted make it tightened, five more end it, until what was wrong was put right."""
    path = tmp_path / "a.db"
    bad = made_up("deviates", deviations=["restart_delay"])
    with open_records(str(path), make=True) as records:
        for number in range(9):
            add_run(records, small_entry(f"b{number}", number, judgement=bad, lot=f"L{number}"))
        add_run(records, small_entry("g", 20, lot="L9"))
    asked = ("records", path, "lot")
    assert "normal inspection" in typed(*asked, "L1", "--size", "40")[1]
    status, output = typed(*asked, "L2", "--size", "40", "--size", "L0=90")
    assert status == 1
    assert "ISO 2859-1, single sampling, tightened inspection, level II: lot of 40, code letter D" in output
    assert "before     L0 not accepted (normal, 1 bad of 1), L1 not accepted (normal, 1 bad of 1)" in output
    assert "next lot   tightened inspection; 1 lot not accepted since it is (5 end it)" in output
    assert "next lot   none: 5 lots were not accepted" in typed(*asked, "L6", "--size", "40")[1]
    status, output = typed(*asked, "L7", "--size", "40")
    assert (status, output.splitlines()[0]) == (1, "lot L7: inspection is discontinued")
    status, output = typed(*asked, "L9", "--size", "40", "--corrected", "L8", "--json")
    data = json.loads(output)
    assert (status, data["severity"], data["next"]["discontinued"]) == (3, "tightened", False)
    assert [row["decision"] for row in data["before"]][-2:] == ["inspection is discontinued", "do not accept"]


def test_lots_that_are_not_decided_do_not_count_and_are_told(tmp_path: Path) -> None:
    """A lot of one board judged of thirteen is no reason for anything."""
    path = tmp_path / "a.db"
    with open_records(str(path), make=True) as records:
        add_run(records, small_entry("1", 0, lot="A"))
        add_run(records, small_entry("2", 1, lot="B"))
    output = typed("records", path, "lot", "B", "--size", "40")[1]
    assert "not yet    A (1 of 13 judged): not decided, so it does not count" in output
    assert "next lot   normal inspection; switching score 0 of 30" in output


def test_reduced_inspection_is_for_who_asks_for_it(tmp_path: Path) -> None:
    """After fifteen small good lots the score allows it; lots of two boards are judged whole either way."""
    path = tmp_path / "a.db"
    with open_records(str(path), make=True) as records:
        for number in range(17 * 2):
            add_run(records, small_entry(f"b{number}", number, lot=f"L{number // 2}"))
    asked = ("records", path, "lot", "L16", "--size", "2")
    assert "the switching score is 34: --reduced may be said if boards are made steadily" in typed(*asked)[1]
    status, output = typed(*asked, "--reduced")
    assert (status, "MIL-STD-105E, table II-C, single sampling, reduced inspection" in output) == (0, True)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("lot", "A", "--size", "few"), "expected how many boards a lot has"),
        (("lot", "A", "--size", "1"), "expected how many boards a lot has"),
        (("lot", "A", "--size", "AA=40"), "no board of lot AA was judged; did you mean 'A'"),
        (("lot", "A", "--size", "40", "--size", "41"), "the size of all lots was said already"),
        (("lot", "C", "--size", "C=40"), "how many boards lot A has is not said: --size A=NUMBER"),
        (("lot", "A", "--size", "40", "--corrected", "B"), "is no lot up to A; they are A"),
        (("lot", "C", "--size", "40", "--corrected", "B"), "inspection was not discontinued before lot B"),
        (("lot", "Z", "--size", "40"), "no board of lot Z"),
        (("lot", "A", "--size", "11"), "12 boards of lot A were judged already"),
        (("lot", "A", "--size", "40", "--limit", "3"), "expected one of"),
        (("lot", "A", "--size", "40", "--board", "other"), "no other of lot A"),
    ],
)
def test_lots_that_cannot_be_decided_are_told(tmp_path: Path, arguments: tuple[str, ...], words: str) -> None:
    """Each has its words, and status 2."""
    three_lots(tmp_path / "a.db")
    status, output = typed("records", tmp_path / "a.db", *arguments)
    assert (status, words in output) == (2, True), output

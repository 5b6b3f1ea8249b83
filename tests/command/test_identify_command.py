"""``boardgauge identify`` says what a board can be in, asks on a terminal, and takes "don't know" for an answer."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from boardgauge.command import main


def _run(*arguments: str, answers: str | None = None) -> tuple[int, str]:
    result = CliRunner().invoke(main, list(arguments), input=answers)
    assert result.exception is None or isinstance(result.exception, SystemExit), result.output
    return result.exit_code, result.output


def test_one_step_is_told_where_nobody_answers() -> None:
    """The states, what runs in them and the next measurement are printed."""
    status, said = _run("identify", "tarnbeck", "--lamp", "fast")
    assert status == 0
    assert "It can be in 2 states:" in said
    assert "Next (measure): Measure high-pressure switch (hps)" in said
    assert "restart delay (at most 47.1 s)" in said


def test_answers_lead_to_one_state() -> None:
    """A number chooses an answer, ? passes the question by, and another is asked."""
    status, said = _run("identify", "hearthgate", "--ask", answers="?\n9\nq\n")
    assert status == 0
    assert said.count("Answer") >= 3
    assert "Look at the status" in said.split("Answer")[0]
    assert "Measure" in said.split("Answer")[1]
    status, said = _run("identify", "tarnbeck", "--ask", answers="1\n")
    assert "It is in one state:" in said
    assert "low-pressure hard lockout" in said


def test_data_has_the_same() -> None:
    """--json has the states, what comes next and the next experiment."""
    data = json.loads(_run("identify", "tarnbeck", "--running", "compressor", "--lamp", "2", "--json")[1])
    assert [one["state"] for one in data["states"]] == ["defrost"]
    assert data["states"][0]["by_itself"][0]["within"] == pytest.approx(93.9)
    assert data["next"] is None


def test_what_never_is_so_is_said_plainly() -> None:
    """Where a board in order is never so, or never so long, that is said, with status 2."""
    assert _run("identify", "tarnbeck", "--lamp", "steady", "--on", "aux")[0] == 2
    status, said = _run("identify", "tarnbeck", "--lamp", "fast", "--closed", "hps", "--for", "5min")
    assert status == 2
    assert "does not stay so for 5 min" in said
    assert _run("identify", "tarnbeck", "-o", "x.pdf")[0] == 2


def test_the_tree_is_written(tmp_path: Path) -> None:
    """--tree writes PDF, HTML, and a file a page as SVG."""
    pdf = tmp_path / "tree.pdf"
    assert _run("identify", "tarnbeck", "--tree", "-o", str(pdf), "--paper", "a4") == (0, f"{pdf}\n")
    assert pdf.read_bytes().startswith(b"%PDF")
    status, _said = _run("identify", "tarnbeck", "--lamp", "fast", "--tree", "-o", str(tmp_path / "t.svg"))
    assert status == 0
    assert (tmp_path / "t.svg").read_text(encoding="utf-8").startswith("<svg")
    assert _run("identify", "tarnbeck", "--tree", "-o", str(tmp_path / "t.doc"))[0] == 2

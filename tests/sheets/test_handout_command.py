"""``boardgauge handout`` and ``boardgauge show`` write what was asked for, and say plainly what they cannot."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from boardgauge.command import main
from sheets.sheet_helpers import CLONE

FAN = str(CLONE / "docs" / "examples" / "fan.toml")
OVERHEATS = str(CLONE / "docs" / "examples" / "fan-overheats.toml")


def _run(*arguments: str) -> tuple[int, str]:
    result = CliRunner().invoke(main, list(arguments))
    assert result.exception is None or isinstance(result.exception, SystemExit), result.output
    return result.exit_code, result.output


def test_the_ending_says_the_form(tmp_path: Path) -> None:
    """.pdf gives a PDF, .html a page; the path is printed."""
    pdf, html = tmp_path / "a.pdf", tmp_path / "a.html"
    assert _run("handout", FAN, "-o", str(pdf), "--paper", "a4", "--with", "lamps") == (0, f"{pdf}\n")
    assert pdf.read_bytes().startswith(b"%PDF")
    assert _run("handout", FAN, "-o", str(html), "--without", "overview,rules", "--title", "My class") == (
        0,
        f"{html}\n",
    )
    page = html.read_text(encoding="utf-8")
    assert "<h1>My class</h1>" in page
    assert 'id="timings"' in page
    assert 'id="overview"' not in page


def test_a_scenario_is_added(tmp_path: Path) -> None:
    """A scenario comes with its sentences and its chart."""
    html = tmp_path / "a.html"
    assert _run("handout", FAN, "-o", str(html), "--with", "timings", "--scenario", OVERHEATS)[0] == 0
    page = html.read_text(encoding="utf-8").replace("\u00a0", " ")
    assert "The winding gets hot once" in page
    assert "The winding thermostat opens." in page
    assert 'data-row="motor"' in page


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("handout", FAN, "-o", "x.txt"), "end it in .pdf or .html"),
        (("handout", FAN, "-o", "x.pdf", "--with", "lamp"), "did you mean 'lamps'?"),
        (("handout", "no-such-board"), "no-such-board: neither a file nor a board of the library"),
        (("handout", FAN, "-o", "x.pdf", "--scenario", "nowhere.toml"), "nowhere.toml"),
        (("handout", FAN, "-o", "x.pdf", "--scenario", FAN), "cannot be used"),
        (("show", FAN, "timing"), "did you mean 'timings'?"),
        (("show", FAN, "overview"), "is drawn, not printed"),
        (
            ("show", FAN, "card"),
            "there is no sheet 'card' to print\nWhat can be printed: terminals, outputs, lamps, seq",
        ),
        (("show", FAN, "settins"), "did you mean 'settings'?"),
        (("show", FAN, "timings", "-o", "x.doc"), "end it in .txt, .md, .json"),
    ],
)
def test_what_cannot_be_done_is_said(
    arguments: tuple[str, ...], said: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The status is 2, and the message says what was wrong; nothing is written."""
    monkeypatch.chdir(tmp_path)
    status, output = _run(*arguments)
    assert status == 2
    assert said in output
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("what", ["terminals", "outputs", "lamps", "sequence", "timings", "settings"])
def test_show_prints_what_its_data_says(what: str) -> None:
    """Every cell and every sentence of the data is in the text; the data names board, digest and sheet."""
    status, output = _run("show", FAN, what, "--json")
    data = json.loads(output)
    assert status == 0
    assert (data["board"], data["sheet"]) == ("fan", what)
    text = " ".join(_run("show", FAN, what)[1].split())
    for block in data["blocks"]:
        for row in block.get("rows", []):
            for cell in row.values():
                assert all(word in text for word in cell.split())
        for item in block.get("items", []):
            assert item in text


def test_show_writes_files(tmp_path: Path) -> None:
    """The ending of the file says whether it is text, Markdown or data."""
    for ending, begins in ((".txt", "Timing table\n===="), (".md", "## Timing table"), (".json", "{")):
        target = tmp_path / f"t{ending}"
        assert _run("show", FAN, "timings", "-o", str(target)) == (0, f"{target}\n")
        assert target.read_text(encoding="utf-8").startswith(begins)

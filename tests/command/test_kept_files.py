"""No command writes over a file that it reads: a recording is evidence, and a spec somebody's work.

Law: whatever names the same file twice is refused before anything is written, with status 2.
"""

from __future__ import annotations

from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from boardgauge.boards import board_path
from boardgauge.command import main
from boardgauge.command.failing import _WRITTEN
from boardgauge.command.records_commands import records

CSV = "t_s,power,call,call_b,high\n0,0,0,0,0\n1,1,0,0,0\n"


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a spec, a recording, and other names for them."""
    (tmp_path / "spec.toml").write_bytes(Path(board_path("sump-pumps")).read_bytes())
    (tmp_path / "r.csv").write_text(CSV)
    (tmp_path / "link.csv").symlink_to(tmp_path / "r.csv")
    (tmp_path / "hard.csv").hardlink_to(tmp_path / "r.csv")
    (tmp_path / "inner").mkdir()
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.mark.parametrize(
    "arguments",
    [
        ("convert", "r.csv", "-o", "r.csv"),
        ("convert", "r.csv", "-o", "inner/../r.csv"),
        ("convert", "r.csv", "-o", "link.csv"),
        ("convert", "link.csv", "-o", "hard.csv"),
        ("look", "r.csv", "--board", "spec.toml", "-o", "spec.toml"),
        ("look", "r.csv", "--board", "spec.toml", "-o", "r.csv"),
        ("judge", "spec.toml", "r.csv", "--table", "r.csv"),
        ("judge", "spec.toml", "other.csv", "r.csv", "--table", "hard.csv"),
        ("plan", "spec.toml", "-o", "p.pdf", "-o", "spec.toml"),
        ("certificate", "spec.toml", "r.csv", "--serial", "1", "-o", "spec.toml"),
        ("simulate", "spec.toml", "r.csv", "-o", "r.csv"),
        ("export", "spec.toml", "--scxml", "-o", "spec.toml"),
        ("handout", "spec.toml", "-o", "spec.toml"),
    ],
)
def test_what_is_read_is_not_written_over(folder: Path, arguments: tuple[str, ...]) -> None:
    """By its name, by another way there, or by a link."""
    before = {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()}
    result = CliRunner().invoke(main, arguments)
    assert result.exit_code == 2
    assert "it is read here, and stays as it is" in result.stderr
    assert {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()} == before


def test_another_file_is_written_over(folder: Path) -> None:
    """A table of yesterday is no input."""
    (folder / "table.csv").write_text("old")
    assert CliRunner().invoke(main, ["convert", "r.csv", "-o", "table.csv"]).exit_code == 0
    assert (folder / "table.csv").read_text() != "old"


def test_every_parameter_that_names_a_file_to_write_is_known() -> None:
    """Whatever is given by -o, and each option whose help says that it writes or draws a file; no folders."""
    found = set()
    for command in (*main.commands.values(), *records.commands.values()):
        for param in command.params:
            told = getattr(param, "help", None) or ""
            writes = any(told.startswith(word) for word in ("Write ", "Draw ", "File to write", "Draft a wiring"))
            file = isinstance(param.type, click.Path) and param.type.file_okay
            if (writes and file) or "-o" in param.opts or param.name == "output":
                found.add(param.name)
    assert found == set(_WRITTEN)

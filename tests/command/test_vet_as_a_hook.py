"""The hooks of .pre-commit-hooks.yaml do what they say, run as pre-commit runs them: the entry with file names."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from boardgauge.boards import board_path, wiring_path
from boardgauge.command import main
from boardgauge.command.failing import CONFORMS, DEVIATES, UNUSABLE

CLONE = Path(__file__).resolve().parents[2]
HOOKS = (CLONE / ".pre-commit-hooks.yaml").read_text(encoding="utf-8")
ENTRIES = {
    id_: shlex.split(entry)
    for id_, entry in re.findall(r"^- id: (\S+)\n(?:  .*\n)*?  entry: (.+)$", HOOKS, re.MULTILINE)
}
REFUTED = '\n[requirements.never_on]\nnever = "q"\n'


def _run(hook: str, *names: str) -> Result:
    program, *arguments = ENTRIES[hook]
    assert program == "boardgauge"
    return CliRunner().invoke(main, [*arguments, *names])


@pytest.fixture(autouse=True)
def _a_repository(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "ton.toml").write_bytes(board_path("iec-ton").read_bytes())
    (tmp_path / "wiring.toml").write_bytes(wiring_path("tarnbeck").read_bytes())
    (tmp_path / "pyproject.toml").write_text('[project]\nname = "firmware"\n', encoding="utf-8")
    (tmp_path / "bad.toml").write_text('language = 1\n[board]\nid = "bad"\n', encoding="utf-8")
    (tmp_path / "torn.toml").write_text("language = 1\n[board\n", encoding="utf-8")


def test_there_are_two_hooks() -> None:
    """One is quick, one proves."""
    assert set(ENTRIES) == {"boardgauge-vet", "boardgauge-vet-and-prove"}
    assert "--no-proving" in ENTRIES["boardgauge-vet"]


@pytest.mark.parametrize("hook", ENTRIES)
def test_good_specs_pass(hook: str) -> None:
    """A good spec passes; a wiring and a file of another program beside it are passed over, and that is said."""
    result = _run(hook, "ton.toml", "wiring.toml", "pyproject.toml")
    assert result.exit_code == CONFORMS, result.output
    assert "ton.toml: can be used" in result.output
    for other in ("wiring.toml", "pyproject.toml"):
        assert f"{other}: no board spec, passed over" in result.output


@pytest.mark.parametrize("hook", ENTRIES)
def test_bad_specs_fail(hook: str) -> None:
    """A spec with a mistake fails, and so does a file that is no TOML, since it may have been to be a spec."""
    result = _run(hook, "ton.toml", "bad.toml")
    assert result.exit_code == UNUSABLE
    assert "bad.toml:2:2: board.title: the key is missing" in result.output
    assert _run(hook, "torn.toml").exit_code == UNUSABLE


def test_only_others_pass() -> None:
    """Where no file is a spec there is nothing wrong."""
    assert _run("boardgauge-vet", "wiring.toml").exit_code == CONFORMS


def test_without_the_option_every_file_is_meant() -> None:
    """Named by a person, a file that is no spec is wrong."""
    assert CliRunner().invoke(main, ["vet", "wiring.toml"]).exit_code == UNUSABLE


def test_variants_are_specs() -> None:
    """A variant is vetted, although it has no tables of its own."""
    Path("variant.toml").write_text(
        'language = 1\nbase = "ton.toml"\n[board]\nid = "v"\ntitle = "v"\n[remove]\nrules = ["none"]\n',
        encoding="utf-8",
    )
    result = _run("boardgauge-vet", "variant.toml")
    assert result.exit_code == UNUSABLE
    assert "no rules.none to remove" in result.output


def test_the_second_hook_proves() -> None:
    """A requirement that does not hold is found by the hook that proves, and not by the quick one."""
    spec = Path("ton.toml")
    spec.write_text(spec.read_text("utf-8") + REFUTED, encoding="utf-8")
    assert _run("boardgauge-vet", "ton.toml").exit_code == CONFORMS
    assert _run("boardgauge-vet-and-prove", "ton.toml").exit_code == DEVIATES

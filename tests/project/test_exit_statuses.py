"""The exit statuses that the documents give are those of the command line."""

from __future__ import annotations

import re
from pathlib import Path

from click.testing import CliRunner

from boardgauge.command import failing, main

CLONE = Path(__file__).resolve().parents[2]
WORDS = {
    "well": failing.CONFORMS,
    "deviates": failing.DEVIATES,
    "could not": failing.UNUSABLE,
    "undecided": failing.UNDECIDED,
}


def test_the_table_is_right() -> None:
    """docs/exit-status.md has each status of the code once, with its meaning."""
    page = (CLONE / "docs" / "exit-status.md").read_text(encoding="utf-8")
    rows = dict(re.findall(r"^\| (\d) \| (.+) \|$", page, re.MULTILINE))
    assert {int(status) for status in rows} == set(WORDS.values())
    for word, status in WORDS.items():
        assert word in rows[str(status)]


def test_readme_and_help_say_the_same() -> None:
    """README.md and --help give the four statuses in the same order as the code."""
    told = CliRunner().invoke(main, ["--help"]).output
    for text in ((CLONE / "README.md").read_text(encoding="utf-8"), told):
        plain = " ".join(text.split())
        given = re.search(r"[Ee]xit status:? (?:is )?0 .*?3 (?:if )?none deviates", plain)
        assert given is not None
        assert "1 " in given.group(0)
        assert "2 " in given.group(0)


def test_demo_needs_no_file() -> None:
    """demo leaves with 0 and shows a board in order and one that deviates."""
    result = CliRunner().invoke(main, ["demo"])
    assert result.exit_code == 0, result.output
    assert "conforms" in result.output
    assert "deviates" in result.output


def test_what_cannot_be_read_is_two() -> None:
    """Whatever is missing, the status is 2 and the answer no traceback."""
    for arguments in (
        ["judge", "tarnbeck", "nowhere.vcd"],
        ["judge", "no-such-board", "nowhere.vcd"],
        ["vet", "nowhere.toml"],
        ["draw", "tarnbeck", "--what", "no_such_rule"],
        ["simulate", "tarnbeck", "nowhere.toml"],
        ["boards", "no-such-board"],
        ["no-such-command"],
    ):
        result = CliRunner().invoke(main, arguments)
        assert result.exit_code == failing.UNUSABLE, (arguments, result.output)
        assert result.exception is None or isinstance(result.exception, SystemExit)

"""The page of outside checks names tests that exist, how far each source can be trusted, and leaves no module out."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs/checked-against.md").read_text(encoding="utf-8")
ROWS = [
    [cell.strip() for cell in line.strip("|").split("|")]
    for line in PAGE.splitlines()
    if line.startswith("| ") and not line.startswith("| source")
]
NAMED = re.findall(r"`(tests/[\w/.-]+\.py)(?:::(\w+))?`", PAGE)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row[0][:40])
def test_a_row_has_its_source_its_standing_and_a_test(row: list[str]) -> None:
    """Four cells; the third begins with one of the four words that the page explains."""
    assert len(row) == 4, row
    assert row[2].startswith(("read", "recomputed", "from memory", "no source")), row[2]
    assert re.match(r"`tests/", row[3]), row[3]


@pytest.mark.parametrize(("file", "name"), NAMED)
def test_what_is_named_is_there(file: str, name: str) -> None:
    """The file is there, and has a test of that name; where the page names the file alone, it has some test."""
    tree = ast.parse((ROOT / file).read_text(encoding="utf-8"))
    tests = {node.name for node in tree.body if isinstance(node, ast.FunctionDef) and node.name.startswith("test_")}
    assert name in tests if name else tests


def test_no_module_of_published_facts_is_left_out() -> None:
    """Every test module of the folder of published facts stands on the page."""
    modules = {path.relative_to(ROOT).as_posix() for path in (ROOT / "tests/published").glob("test_*.py")}
    assert modules - {file for file, _ in NAMED} == set()

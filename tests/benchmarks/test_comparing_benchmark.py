"""Law: the benchmark of comparing runs, and its table stands in the document with every pair and board in it."""

from __future__ import annotations

import importlib.util
import re
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest

PROGRAM = Path(__file__).with_name("comparing.py")


@pytest.fixture(scope="module")
def benchmark() -> ModuleType:
    spec = importlib.util.spec_from_file_location("comparing_benchmark", PROGRAM)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["comparing_benchmark"] = module
    spec.loader.exec_module(module)
    return module


def test_a_pair_and_a_board_with_itself_are_compared() -> None:
    """Boards that differ, and small ones by proof; nothing here looks at a time."""
    asked = [sys.executable, str(PROGRAM), "--only", "heat-pump-defrost", "heat-pump-defrost-sampled"]
    done = subprocess.run(asked, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert re.search(r"\| heat-pump-defrost \| heat-pump-defrost-sampled \| different \|", done.stdout)
    assert re.search(r"\| itself \| same \|", done.stdout)


def test_every_pair_is_comparable_as_it_is_asked(benchmark: ModuleType) -> None:
    """Each with what its mapping sets aside; the other way round as well."""
    for first, second, renaming in benchmark.pairs():
        one, other = (benchmark.read_board(benchmark.board_path(name)) for name in (first, second))
        assert not benchmark.not_comparable(one, renaming.in_first_words(other), renaming), (first, second)


def test_the_table_stands_between_its_marks_and_knows_its_boards(benchmark: ModuleType) -> None:
    text = benchmark.DOCUMENT.read_text(encoding="utf-8")
    shown = text.split(benchmark.BEGINS)[1].split(benchmark.ENDS)[0].strip()
    assert benchmark.put_in(text, shown) == text
    named = {
        tuple(row) for row in re.findall(r"^\| ([a-z-]+) \| ([a-z-]+) \| (?:same|different|undecided)", shown, re.M)
    }
    pairs = {(first, second) for first, second, _ in benchmark.pairs()}
    assert {("quillmere", "quillmere-split"), ("quillmere-split", "quillmere")} <= named
    assert named <= pairs | {(name, "itself") for name in benchmark.board_names()}

"""The tool that makes wrong changes makes just those, and tells what notices them.

Law: every mutant can be parsed and differs from its module in the lines it names.
"""

from __future__ import annotations

import ast
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from mutation import score
from mutation.operators import mutants
from mutation.score import AREAS, ROOT, Fate, sample, summary

SMALL = '''
"""Not this."""
from __future__ import annotations


def least(rows: list[int], most: int = 3) -> int | None:
    """Nor this: 1 < 2."""
    assert most > 0, "nor this"
    found = []
    for row in rows:
        if row < most and not row == 2:
            found.append(row - 1)
    if not found:
        raise ValueError(f"{most + 1} or more")
    return min(found)
'''
MADE = {6: ["3 -> 4"], 13: ["not found -> found"], 15: ["min(found) -> max(found)"]}
"""What is made of three of its lines."""


def test_each_operator_makes_its_change() -> None:
    """The changes of a small module, line by line; prose, assertions and annotations stay as they are."""
    found = {(m.line, m.operator) for m in mutants(SMALL)}
    assert {line for line, _ in found} == {6, 11, 12, 13, 14, 15}
    for line, changes in MADE.items():
        assert [str(m).split(": ", 1)[1] for m in mutants(SMALL) if m.line == line] == changes
    assert {operator for _, operator in found} == {
        *("off by one", "and/or", "comparison", "not left out", "left out", "plus/minus", "min/max, any/all"),
        "turned round",
    }


def test_what_only_asserts_is_left_alone() -> None:
    """That two rows are as long as each other is an assertion, wherever it stands."""
    assert list(mutants("def pairs(a, b):\n    return zip(a, b, strict=True)\n")) == []
    assert [m.operator for m in mutants("def ordered(a):\n    return sorted(a, reverse=True)\n")] == ["truth"]


def test_a_mutant_differs_in_its_own_lines_alone() -> None:
    """All other lines are what they were, and stay where they were."""
    for mutant in mutants(SMALL):
        ast.parse(mutant.text)
        old, new = SMALL.splitlines(), mutant.text.splitlines()
        assert len(old) == len(new)
        assert {number for number, pair in enumerate(zip(old, new, strict=True), 1) if pair[0] != pair[1]} == {
            mutant.line
        }


def test_every_mutant_of_the_engine_can_be_parsed() -> None:
    """A sample of them, drawn from each area."""
    for _, _, mutant in sample(list(AREAS), 60, 5):
        ast.parse(mutant.text)


def test_a_sample_is_the_same_for_the_same_seed() -> None:
    """And another for another; as many of each area."""
    one = [(file, str(mutant)) for _, file, mutant in sample(["language"], 9, 1)]
    assert one == [(file, str(mutant)) for _, file, mutant in sample(["language"], 9, 1)]
    assert one != [(file, str(mutant)) for _, file, mutant in sample(["language"], 9, 2)]
    assert len(one) == 9
    assert all((ROOT / file).is_file() for files in AREAS.values() for file in files)


def test_the_score_counts_what_was_noticed() -> None:
    """By the suite, by the tests, or by nothing; the survivor is named with its line."""
    mutant = next(mutants(SMALL))
    fates = [
        Fate("judge", "conformance/boardgauge/judging/x.py", mutant, by) for by in ("delay/runs-on", "tests: t", "")
    ]
    told = summary(fates)
    assert told.splitlines()[-2].split() == ["all", "3", "1", "1", "1", "33%", "67%"]
    assert told.splitlines()[-1] == f"survived: judging/x.py {mutant}"


@pytest.mark.parametrize("asked", [["--only", "language/quantities.py:14", "--no-tests"]])
def test_a_wrong_unit_of_time_is_noticed(asked: list[str]) -> None:
    """A millisecond of 1001 µs in a scratch copy: a case tells, and the tree itself stays as it was."""
    before = (ROOT / "spec/boardgauge/language/quantities.py").read_bytes()
    program = Path(__file__).with_name("score.py")
    done = subprocess.run([sys.executable, str(program), *asked], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert re.search(r"1/1 suite +language/quantities.py line 14: 1_000 -> 1001  [a-z]+/", done.stdout), done.stdout
    assert (ROOT / "spec/boardgauge/language/quantities.py").read_bytes() == before


def test_what_is_not_there_is_told() -> None:
    """A line without anything to change is no score of 100 %."""
    program = Path(__file__).with_name("score.py")
    asked = [sys.executable, str(program), "--only", "language/quantities.py:1"]
    done = subprocess.run(asked, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr.strip()) == (2, "there is no such mutant")


@pytest.mark.skipif(os.name != "posix", reason="there is no limit to the seconds of a core elsewhere")
def test_an_endless_mutant_is_ended_and_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """By the seconds of a core that it has had: one that waits for its turn is not taken for endless."""
    monkeypatch.setattr(score, "LONGEST", 1)
    assert score._run([sys.executable, "-c", "while True: pass"], ROOT) == (1, "no end after 1 s")
    waits = "import time; time.sleep(1.5); print('done')"
    assert score._run([sys.executable, "-c", waits], ROOT) == (0, "done")

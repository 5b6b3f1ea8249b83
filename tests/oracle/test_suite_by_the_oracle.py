"""A second implementation, the exhaustive oracle, stands under the suite: the cases test the language, not our engine.

Law: what the oracle can decide it decides as the case says; what it cannot it says, and that counts as no pass.
"""

from __future__ import annotations

import sys
from collections import Counter
from pathlib import Path

import pytest
from hypothesis import settings

from boardgauge.cases import External, all_cases, run_case
from oracle.subject import Oracle

THOROUGH = settings().max_examples >= 1000
SLOW = frozenset(
    {
        "sampled/delay-that-runs-on-ends-a-sample-too-late",
        "tarnbeck/fan-too-far-from-its-contactor",
        "tarnbeck/long-opening-a-tick-early",
        "tarnbeck/long-opening-a-tick-late",
        "tarnbeck/short-opening-trips",
    }
)
"""Each takes as long as a hundred others; they are tried with ``--hypothesis-profile=thorough``."""
LEAST_PASSED, LEAST_IN_PART, LEAST_CLAUSES = 405, 131 if THOROUGH else 128, 132
"""What it has come to: these may only grow."""


def test_no_case_is_decided_otherwise() -> None:
    """Of every case that it covers it gives the verdict, the time and the signal; it names neither rule nor window."""
    counts: Counter[str] = Counter()
    clauses: set[str] = set()
    for case in all_cases():
        if case.name in SLOW and not THOROUGH:
            continue
        result = run_case(case, Oracle(), excuse=False)
        assert result.mark != "failed", str(result)
        counts[result.mark] += 1
        if result.mark != "skipped":
            clauses |= set(case.clauses)
        if result.mark == "passed in part":
            assert not any(line.startswith(("verdict", "time", "signal on")) for line in result.differences), result
    assert counts["passed"] >= LEAST_PASSED
    assert counts["passed in part"] >= LEAST_IN_PART
    assert len(clauses) >= LEAST_CLAUSES, len(clauses)


@pytest.mark.parametrize(
    ("name", "mark"),
    [
        ("toggle/once-an-instant", "passed"),
        ("delay/restart-at-the-earliest", "passed"),
        ("delay/restart-a-tick-early", "passed in part"),
        ("instant/changes-and-changes-back", "passed"),
        ("lamp/two-flashes", "passed"),
        ("file/not-toml", "skipped"),
    ],
)
def test_it_keeps_to_the_contract_as_a_command(name: str, mark: str) -> None:
    """Started as a command, it reads a case on stdin and answers on stdout like any other implementation."""
    command = External([sys.executable, str(Path(__file__).with_name("subject.py"))])
    (case,) = [case for case in all_cases() if case.name == name]
    result = run_case(case, command, excuse=False)
    assert result.mark == mark, str(result)

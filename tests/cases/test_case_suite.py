"""The suite of cases is sound as data, and the implementation beside it passes.

Law: every case states one fact in few words and cites clauses that exist; every clause is cited; a boundary has both
its sides.
"""

from __future__ import annotations

import tomllib
from collections import Counter
from importlib.resources import files
from pathlib import Path

import jsonschema  # type: ignore[import-untyped]
import pytest

from boardgauge.cases import Case, Ours, all_cases, case_schema, run_case
from boardgauge.language import slugs

CASES = all_cases()
VALIDATOR = jsonschema.Draft202012Validator(case_schema())
NOT_YET_CITED: frozenset[str] = frozenset()
"""Clauses without a case. It may only shrink."""
OTHER_SIDES = {
    "-a-tick-early": ("-at-the-earliest",),
    "-a-tick-late": ("-at-the-latest", "-at-the-earliest"),
    "-at-the-earliest": ("-a-tick-early",),
    "-at-the-latest": ("-a-tick-late",),
}


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_the_implementation_beside_the_suite_passes(case: Case) -> None:
    """What a case states holds of ours, unless it is known to fail; then it does fail."""
    result = run_case(case, Ours())
    assert result.good, "\n".join(result.differences)
    if result.mark == "known failure":
        pytest.xfail(case.known_failure or "")


def test_the_schema_is_a_schema() -> None:
    """The schema of cases obeys the meta-schema of its draft."""
    jsonschema.Draft202012Validator.check_schema(case_schema())


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_every_file_validates(case: Case) -> None:
    """A case file is valid against the schema of cases, as written."""
    VALIDATOR.validate(
        tomllib.loads(Path(str(files("boardgauge.cases"))).joinpath(f"{case.name}.toml").read_text("utf-8"))
    )


def test_there_are_many_small_cases() -> None:
    """The suite is large and its files are not."""
    assert len(CASES) > 400
    sizes = {case.name: len(case.board.splitlines()) for case in CASES}
    assert max(sizes.values()) < 80


def test_descriptions_are_unique_short_facts() -> None:
    """A description is said once, in at most 100 letters, without "should" and without a full stop."""
    counted = Counter(case.description for case in CASES)
    assert [text for text, number in counted.items() if number > 1] == []
    assert [c.name for c in CASES if len(c.description) > 100 or "should" in c.description] == []
    assert [c.name for c in CASES if c.description.endswith(".") or not c.description[0].isupper()] == []


def test_every_citation_exists() -> None:
    """No case cites a clause that is not there."""
    assert {slug for case in CASES for slug in case.clauses} - set(slugs()) == set()


def test_every_clause_is_cited() -> None:
    """Each clause of the language is cited by a case, but for a list that may only shrink."""
    cited = {slug for case in CASES for slug in case.clauses}
    assert set(slugs()) - cited == NOT_YET_CITED


def test_boundaries_have_both_sides() -> None:
    """A case at one side of a limit has a case at the other."""
    names = {case.name for case in CASES}
    for name in names:
        for ending, others in OTHER_SIDES.items():
            if name.endswith(ending):
                stem = name.removesuffix(ending)
                assert any(stem + other in names for other in others), name


def test_verdicts_at_a_limit_differ() -> None:
    """On the limit a board conforms, a tick outside it deviates."""
    for case in CASES:
        if case.asks == "judge" and case.name.endswith(("-a-tick-early", "-a-tick-late")):
            assert case.verdicts == ("deviates",), case.name
        if case.asks == "judge" and case.name.endswith(("-at-the-earliest", "-at-the-latest")):
            assert case.verdicts == ("conforms",), case.name


def test_a_known_failure_says_why() -> None:
    """A case that is known to fail says why in a sentence."""
    assert [case.name for case in CASES if case.known_failure is not None and len(case.known_failure) < 20] == []

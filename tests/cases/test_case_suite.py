"""The suite of cases is sound as data, and the implementation beside it passes.

Law: every case states one fact in few words and cites clauses that exist; every clause is cited; a boundary has both
its sides.
"""

from __future__ import annotations

import re
import tomllib
from collections import Counter
from importlib.resources import files
from pathlib import Path

import jsonschema  # type: ignore[import-untyped]
import pytest
from attrs import evolve

from boardgauge.cases import Case, Ours, all_cases, case_schema, cases_by_clause, run_case
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


def test_every_clause_has_cases_on_both_sides() -> None:
    """Of each clause a case shows what it allows, and another what it does not."""
    assert {row.clause: row.missing for row in cases_by_clause(CASES, slugs()) if row.missing} == {}


def test_a_side_that_is_missing_is_told() -> None:
    """A clause with cases on one side only, and one with none, are told with the side; an open case is on neither."""
    told = [case for case in CASES if case.name == "toggle/once-an-instant"]
    (row, none) = cases_by_clause(told, (*told[0].clauses, "no.such-clause"))
    assert row.missing == ("not allowed",)
    assert none.missing == ("allowed", "not allowed")
    open_case = evolve(told[0], asks="judge", verdicts=("conforms", "deviates"))
    assert cases_by_clause([open_case], told[0].clauses)[0].missing == ("allowed", "not allowed")


def test_prose_is_about_the_board() -> None:
    """A description is one sentence of at least three words that speaks of the board, never of a program's insides."""
    inside = re.compile(
        r"(?i)\b(hypothes\w*|tracker|engine|code|python|function|class|parser|regex|implementation|test|bug|null)\b"
    )
    assert [case.name for case in CASES if inside.search(case.description)] == []
    assert [case.name for case in CASES if len(case.description.split()) < 3] == []
    assert [case.name for case in CASES if re.search(r"[!?:]|[.](?!\d)|  |^\s|\s$", case.description)] == []


def test_names_are_words_joined_by_dashes() -> None:
    """A case is named after its fact in small letters: folder, then words and dashes."""
    assert [case.name for case in CASES if not re.fullmatch(r"[a-z-]+/[a-z][a-z0-9-]*[a-z0-9]", case.name)] == []


def test_a_case_has_one_fault() -> None:
    """A case that deviates says where first; one that is refused names at most three places of one fault."""
    assert [case.name for case in CASES if case.verdicts == ("deviates",) and case.first is None] == []
    assert [case.name for case in CASES if len(case.refused) > 3] == []

"""The language is written down in clauses with slugs, and every example in them is what it says it is."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable

import pytest

from boardgauge.language.clauses import clause, slugs
from boardgauge.language.expression_reader import read_condition, read_condition_or_event, read_event, read_trigger
from boardgauge.language.keys import (
    BOARD_KEYS,
    FILE_KEYS,
    NOT_JUDGED_KEYS,
    NOTE_KEYS,
    RULE_KEYS,
    RULE_KIND,
    SECTION_KEYS,
    SECTIONS,
    VARIANT_TABLES,
    Key,
)
from boardgauge.language.problems import Unreadable
from boardgauge.language.quantity_reader import read_time

READERS: dict[str, Callable[[str], object]] = {
    "condition": read_condition,
    "event": read_event,
    "trigger": read_trigger,
    "requirement": read_condition_or_event,
    "time": read_time,
}
FENCE = re.compile(r"```(\w+)\n(.*?)\n```", re.DOTALL)
EXAMPLES = [
    pytest.param(sort, text, id=f"{slug}-{index}")
    for slug in slugs()
    for index, (sort, text) in enumerate(FENCE.findall(clause(slug)))
]


def test_slugs_are_unique_and_named_after_their_subject() -> None:
    """A slug is a subject and a point; none stands twice."""
    assert len(slugs()) == len(set(slugs()))
    assert all("." in slug for slug in slugs())


def test_every_clause_says_something() -> None:
    """No clause is a heading alone."""
    assert [slug for slug in slugs() if len(clause(slug)) < 30] == []


def test_an_unknown_slug_names_the_nearest() -> None:
    """A misspelt slug is told with the one that was probably meant."""
    with pytest.raises(KeyError, match=r"delay\.begun-again"):
        clause("delay.begun-agian")


@pytest.mark.parametrize("kind", RULE_KEYS)
def test_every_kind_of_rule_has_clauses(kind: str) -> None:
    """The seven kinds are all written down."""
    assert any(slug.startswith(f"{kind}.") for slug in slugs())


@pytest.mark.parametrize(("sort", "text"), EXAMPLES)
def test_examples_are_what_they_say(sort: str, text: str) -> None:
    """An expression is read as its sort, a refused one is refused, a part of a spec has known keys only."""
    if sort == "toml":
        check_keys(tomllib.loads(text))
    elif sort == "refused":
        with pytest.raises(Unreadable):
            read_trigger(text, in_requirement=True)
    else:
        READERS[sort](text)


def check_keys(spec: dict[str, object]) -> None:
    """Assert that a part of a spec has no key the table of keys does not know."""
    known = [*(key.name for key in FILE_KEYS), "board", "not_judged", *SECTIONS, *VARIANT_TABLES]
    assert set(spec) <= set(known)
    assert_known(spec.get("board", {}), BOARD_KEYS)
    for row in spec.get("not_judged", []):  # type: ignore[attr-defined]
        assert_known(row, NOT_JUDGED_KEYS)
    for section in SECTIONS:
        for table in spec.get(section, {}).values():  # type: ignore[attr-defined]
            of_kind = (RULE_KIND, *RULE_KEYS.get(table.get("kind"), ())) if section == "rules" else ()
            loose = () if of_kind[1:] or section != "rules" else RULE_KEYS["delay"]
            assert_known(table, (*SECTION_KEYS.get(section, ()), *of_kind, *loose, *NOTE_KEYS))


def assert_known(table: object, keys: tuple[Key, ...]) -> None:
    """Assert that a table has known keys only."""
    assert isinstance(table, dict)
    assert set(table) <= {key.name for key in keys}

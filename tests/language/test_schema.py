"""The JSON Schema ships with the package, is made of the reader's table of keys, and takes what the reader takes."""

from __future__ import annotations

import json
import tomllib

import jsonschema  # type: ignore[import-untyped]
import pytest
from hypothesis import HealthCheck, given, settings

from board_strategies import boards
from boardgauge.language import write_board
from boardgauge.language.model import Board
from boardgauge.language.schema import board_schema, schema_text, shipped_schema_text
from language_examples import EXAMPLES, VARIANT

VALIDATOR = jsonschema.Draft202012Validator(board_schema())


def test_shipped_schema_is_current() -> None:
    """The file in the package is what the generator makes."""
    assert shipped_schema_text() == schema_text()


def test_schema_is_a_schema() -> None:
    """The schema obeys the meta-schema of its draft."""
    jsonschema.Draft202012Validator.check_schema(json.loads(shipped_schema_text()))


@pytest.mark.parametrize("name", EXAMPLES)
def test_examples_validate(name: str) -> None:
    """Whole example boards are valid against the schema."""
    VALIDATOR.validate(tomllib.loads(EXAMPLES[name]))


def test_variants_validate() -> None:
    """A variant has another shape than a whole spec, and is valid too."""
    VALIDATOR.validate(tomllib.loads(VARIANT))


@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
@given(boards())
def test_drawn_boards_validate(board: Board) -> None:
    """Whatever the writer writes, the schema accepts."""
    VALIDATOR.validate(tomllib.loads(write_board(board)))


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("language = 1", "language = 2"),
        ('kind = "count"', 'kind = "counter"'),
        ("limit = 3", "limit = 0"),
        ("limit = 3", "limits = 3"),
        ('lasts = "90 s ± 10 %"', "lasts = 90"),
        ("[outputs.fan]", "[output.fan]"),
        ('shows = "2 flashes"', 'shows = "two flashes"'),
    ],
)
def test_wrong_forms_are_refused(old: str, new: str) -> None:
    """A wrong key, kind, word or type does not validate."""
    text = EXAMPLES["cellar-fan"]
    assert old in text
    assert not VALIDATOR.is_valid(tomllib.loads(text.replace(old, new, 1)))

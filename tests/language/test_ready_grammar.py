"""The ready-made table of the grammar says what the grammar says, and is used only where it is sure to."""

from __future__ import annotations

from importlib.resources import files

import lark
import pytest
from hypothesis import given
from hypothesis import strategies as st

from boardgauge.language import expression_table, grammar
from boardgauge.language.expression_errors import EXPLANATIONS

GRAMMAR = files("boardgauge.language").joinpath("expressions.lark").read_text(encoding="utf-8")
WORDS = (
    *("a", "begins", "ends", "opens", "expires", "open", "closed", "fitted", "reached", "power_up", "not", "and", "or"),
    *("for", "while", "until", "less", "than", "after", "(", ")", "<", ">=", "3", "2", "s", "5", "min", "±", "10", "%"),
    *("exactly", "!", "70", "°C"),
)


def made_of(parser: lark.Lark, text: str) -> object:
    """Give the tree of a text with its places, or where and how it fails."""
    try:
        tree = parser.parse(text)
    except lark.exceptions.UnexpectedToken as error:
        return "token", error.token.type, str(error.token), error.pos_in_stream, sorted(error.accepts or error.expected)
    except lark.exceptions.UnexpectedInput as error:
        return type(error).__name__, error.pos_in_stream
    return [
        (str(part.data), part.meta.start_pos, part.meta.end_pos, [_shown(child) for child in part.children])
        for part in tree.iter_subtrees_topdown()
    ]


def _shown(child: object) -> str:
    # A tree is listed by itself; its name is a token in one parser and a text in the other.
    return f"({child.data})" if isinstance(child, lark.Tree) else str(child)


@pytest.fixture
def fresh(monkeypatch: pytest.MonkeyPatch) -> pytest.MonkeyPatch:
    """The parser is made anew in the test, and once more after it."""
    grammar.expression_parser.cache_clear()
    monkeypatch.setattr(grammar, "expression_parser", grammar.expression_parser)
    return monkeypatch


def test_the_table_is_of_this_grammar() -> None:
    """The table was made of the grammar as it is; PYTHONHASHSEED=0 python -m boardgauge.language.grammar makes it."""
    assert grammar._digest(GRAMMAR) == expression_table.GRAMMAR


def test_explained_texts_fail_alike() -> None:
    """Every malformed example fails at the same place, with the same tokens expected, with and without the table."""
    ready, made = lark.Lark.load(expression_table.TABLE), grammar.parser_of(GRAMMAR)
    for text in (text for texts in EXPLANATIONS.values() for text in texts):
        assert made_of(ready, text) == made_of(made, text)


@given(st.lists(st.sampled_from(WORDS), min_size=1, max_size=14).map(" ".join))
def test_any_words_are_read_alike(text: str) -> None:
    """Words of the language in any order give the same tree, or the same failure, with and without the table."""
    assert made_of(lark.Lark.load(expression_table.TABLE), text) == made_of(_made(), text)


def test_the_table_serves(fresh: pytest.MonkeyPatch) -> None:
    """With this version of the library the grammar is not worked out again."""
    fresh.setattr(expression_table, "LARK", lark.__version__)
    fresh.setattr(grammar, "parser_of", lambda text: pytest.fail("worked out"))
    assert made_of(grammar.expression_parser(), "a and not b")
    grammar.expression_parser.cache_clear()


@pytest.mark.parametrize("stale", ["GRAMMAR", "LARK"])
def test_a_table_of_another_is_not_used(fresh: pytest.MonkeyPatch, stale: str) -> None:
    """A table of another grammar, or of another version of the library, is passed over."""
    fresh.setattr(expression_table, stale, "another")
    fresh.setattr(expression_table, "TABLE", {})
    assert made_of(grammar.expression_parser(), "a and not b") == made_of(_made(), "a and not b")
    grammar.expression_parser.cache_clear()


_PARSERS: list[lark.Lark] = []


def _made() -> lark.Lark:
    if not _PARSERS:
        _PARSERS.append(grammar.parser_of(GRAMMAR))
    return _PARSERS[0]

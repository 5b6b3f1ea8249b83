"""A text has one reading or it is refused, with words that say why; what was read is written back the same."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boardgauge.language.expression_errors import CHARACTERS, EXPLANATIONS
from boardgauge.language.expression_reader import (
    DEEPEST_BRACKETS,
    LONGEST_TEXT,
    read_condition,
    read_condition_or_event,
    read_event,
    read_trigger,
)
from boardgauge.language.expression_writer import write_expression
from boardgauge.language.expressions import (
    And,
    Comparison,
    Edge,
    EventOr,
    EventWhile,
    For,
    InState,
    LessThanAfter,
    Name,
    Not,
    Or,
    PowerUp,
    Reached,
    Trigger,
    TriggerOr,
    walk,
)
from boardgauge.language.problems import Unreadable
from boardgauge.language.quantities import EXACTLY, Duration, Quantity, S
from expression_strategies import Vocabulary, a_condition, an_event, triggers

WORDS = Vocabulary(
    on_off=["a", "b", "step_1"],
    states=[InState("lps", "open"), InState("j", "fitted")],
    reached=["n"],
    sensors=[("coil", "°C"), ("damp", "%")],
    opening=["lps"],
    pressed=["reset"],
    expiring=["d"],
    usual=EXACTLY,
)
a, b, c = Name("a"), Name("b"), Name("c")

READINGS: dict[str, Trigger] = {
    "a": a,
    "not a": Not(a),
    "not lps open": Not(InState("lps", "open")),
    "n reached": Reached("n"),
    "a and b and c": And((a, b, c)),
    "a or b": Or((a, b)),
    "(a or b) and c": And((Or((a, b)), c)),
    "a and (b and c)": And((a, And((b, c)))),
    "((a))": a,
    "a for 2 s": For(a, Duration(2 * S)),
    "coil < -2 °C": Comparison("coil", "<", Quantity(-2, "°C")),  # type: ignore[arg-type]
    "coil<-2°C until>=0 °C": Comparison("coil", "<", Quantity(-2, "°C"), ">=", Quantity(0, "°C")),  # type: ignore[arg-type]
    "a begins": Edge(a, "begins"),
    "(a and b) ends": Edge(And((a, b)), "ends"),
    "(a) begins": Edge(a, "begins"),
    "(n reached) changes": Edge(Reached("n"), "changes"),
    "lps opens": Edge(Name("lps"), "opens"),
    "power_up": PowerUp(),
    "power_up or a ends": EventOr((PowerUp(), Edge(a, "ends"))),
    "a begins while b": EventWhile(Edge(a, "begins"), b),
    "a begins while (b or c)": EventWhile(Edge(a, "begins"), Or((b, c))),
    "(a begins or b begins) while c": EventWhile(EventOr((Edge(a, "begins"), Edge(b, "begins"))), c),
    "a or b begins": TriggerOr((a, Edge(b, "begins"))),
    "(a for 2 s) or b begins or c": TriggerOr((For(a, Duration(2 * S)), Edge(b, "begins"), c)),
    "s open": InState("s", "open"),
    "min for 2 min": For(Name("min"), Duration(120 * S)),
    "a\n  and\tb": And((a, b)),
    "ended or began": Or((Name("ended"), Name("began"))),
}


@pytest.mark.parametrize("text", READINGS)
def test_texts_have_their_reading(text: str) -> None:
    """Each text means the one expression beside it, and writing that is read the same."""
    assert read_trigger(text) == READINGS[text]
    assert read_trigger(write_expression(READINGS[text])) == READINGS[text]


def test_less_than_after_is_for_requirements() -> None:
    """The one expression that only a requirement may use; its time is exact."""
    text = "a begins less than 80 s after b ends"
    read = read_condition_or_event(text)
    assert read == LessThanAfter(Edge(a, "begins"), Duration(80 * S, EXACTLY), Edge(b, "ends"))
    assert write_expression(read) == text
    with pytest.raises(Unreadable, match="requirements only"):
        read_event(text)


ROWS = [(message, text) for message, texts in EXPLANATIONS.items() for text in texts]


@pytest.mark.parametrize(("message", "text"), ROWS, ids=[text for _, text in ROWS])
def test_every_malformed_example_earns_its_message(message: str, text: str) -> None:
    """Each row of the table of explanations is refused in its own words."""
    with pytest.raises(Unreadable) as caught:
        read_trigger(text, in_requirement=True)
    assert caught.value.message == message
    assert 0 <= caught.value.at <= len(text)


@pytest.mark.parametrize("character", CHARACTERS)
def test_every_stray_character_earns_its_message(character: str) -> None:
    """A character that the language does not have is answered by what to write instead."""
    with pytest.raises(Unreadable) as caught:
        read_trigger(f"a {character} b")
    assert (caught.value.message, caught.value.at) == (CHARACTERS[character], 2)


REFUSED = {
    "a begins and b": (0, "this is an event"),
    "a and b begins": (6, "this is an event"),
    "not (a begins)": (5, '"not" needs a condition'),
    "(a begins) for 2 s": (1, '"for" needs a condition'),
    "(a begins) begins": (1, '"begins" needs a condition'),
    "a while b": (0, '"while" needs an event'),
    "a begins while b begins": (15, '"while" needs a condition'),
    "(a or b begins) begins": (1, "inside brackets"),
    "c or (a or b begins)": (6, "inside brackets"),
    "(a) expires": (4, "follows a name, not brackets"),
    "(a and b) opens": (10, '"opens" follows a name'),
    "a for 2 parsecs": (8, "'parsecs' is no unit of time"),
    "a for 2 s ± 4 % ± 1 s": (16, "add them"),
    "a for 0.0000001 s": (6, "whole number of microseconds"),
    "a > 2 V until > 1 V": (14, 'lets go at "<"'),
    "a > 2 V ± 1 V": (8, "left over"),
    "  ": (0, "empty"),
    "a begins or power up": (12, "did you mean 'power_up'?"),
    "a begins while (b or powr-up)": (21, "did you mean 'power_up'?"),
    "power los": (0, "a loss of power is no event"),
    "a power b": (2, "a word is missing between two names"),
    "a for 2.2.2 s": (9, ""),
}


@pytest.mark.parametrize("text", REFUSED)
def test_mixed_up_sorts_are_refused_at_their_place(text: str) -> None:
    """An event where a condition is needed, and the other way about, is told at its offset."""
    at, words = REFUSED[text]
    with pytest.raises(Unreadable) as caught:
        read_trigger(text)
    assert words in str(caught.value)
    assert caught.value.at == at


def test_each_key_takes_its_sort() -> None:
    """A condition is no event, an event is no condition, a mixture is neither."""
    for text in ("a begins", "a or b begins"):
        with pytest.raises(Unreadable, match="an event stands where a condition"):
            read_condition(text)
    with pytest.raises(Unreadable, match="a condition stands where an event"):
        read_event("a")
    with pytest.raises(Unreadable) as caught:
        read_event("b begins or a")
    assert caught.value.at == len("b begins or ")
    with pytest.raises(Unreadable, match="are mixed"):
        read_condition_or_event("a or b begins")


@pytest.mark.parametrize(
    "text",
    [
        "(" * (DEEPEST_BRACKETS + 1) + "a" + ")" * (DEEPEST_BRACKETS + 1),
        "a and " * LONGEST_TEXT + "a",
        "(" * LONGEST_TEXT,
        "not " * 900 + "a",
        "a " * 1900,
        "a for " + "9" * 3000 + " s",
        "a > " + "9" * 3000 + " V",
        "a for 2 s " + "± 4 % " * 500,
        "1" * 3900,
        "\ud800",
        "a\x00b",
        "ä and ö",
        "٣ for ٣ s",
    ],
)
def test_hostile_text_is_refused(text: str) -> None:
    """Deep, long and odd text is refused in words."""
    with pytest.raises(Unreadable):
        read_trigger(text, in_requirement=True)


def test_the_deepest_brackets_are_read() -> None:
    """The bound itself is still inside."""
    assert read_trigger("(" * DEEPEST_BRACKETS + "a" + ")" * DEEPEST_BRACKETS) == a


@settings(max_examples=150, deadline=None)
@given(triggers(WORDS))
def test_reading_what_was_written_gives_the_same(expression: Trigger) -> None:
    """Every expression survives, with the times that have the usual tolerance written without it."""
    plain = write_expression(expression)
    assert read_trigger(plain, in_requirement=True) == expression
    assert write_expression(read_trigger(plain)) == plain


TOKENS = [
    "a",
    "b",
    "and",
    "or",
    "not",
    "for",
    "while",
    "2 s",
    "(",
    ")",
    "open",
    "begins",
    "reached",
    "<",
    "3 V",
    "until",
    "±",
]


def assert_read_or_refused(text: str) -> None:
    """Assert that a text gives an expression that is written back the same, or a refusal at a place in the text."""
    expression = refusal = None
    try:
        expression = read_trigger(text, in_requirement=True)
    except Unreadable as error:
        refusal = error
    if refusal is not None:
        assert 0 <= refusal.at <= len(text)
    if expression is not None:
        assert read_trigger(write_expression(expression), in_requirement=True) == expression


@settings(max_examples=200, deadline=None)
@given(st.lists(st.sampled_from([*TOKENS, "less", "than", "after"]), max_size=12))
def test_any_row_of_words_is_read_or_refused(words: list[str]) -> None:
    """Whatever words stand in a row, the answer is an expression or a refusal."""
    assert_read_or_refused(" ".join(words))


@settings(max_examples=200, deadline=None)
@given(st.text(max_size=40))
def test_any_text_is_read_or_refused(text: str) -> None:
    """Not one text gives any other exception."""
    assert_read_or_refused(text)


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_offsets_point_at_what_they_name(data: st.DataObject) -> None:
    """The offset of a node that names something is the offset of the name."""
    made = data.draw(st.composite(lambda draw: (a_condition(draw, WORDS), an_event(draw, WORDS)))())
    for expression in made:
        text = write_expression(expression)
        for node in walk(read_trigger(text)):
            if isinstance(node, (Name, InState, Reached, Comparison)):
                assert text.startswith(node.name, node.at)

"""Constants fold away without changing what an expression means."""

from __future__ import annotations

from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boardgauge.faults.folding import ALWAYS, NEVER, NO_EVENT, folded
from boardgauge.language.expressions import (
    And,
    Condition,
    Edge,
    EventOr,
    EventWhile,
    Expression,
    For,
    Name,
    Not,
    Or,
    PowerUp,
    TriggerOr,
)
from boardgauge.language.quantities import Duration, S

A, B = Name("a"), Name("b")

conditions: st.SearchStrategy[Condition] = st.recursive(
    st.sampled_from((A, B, NEVER, ALWAYS)),
    lambda inner: st.one_of(
        inner.map(Not),
        st.lists(inner, min_size=2, max_size=3).map(lambda items: And(tuple(items))),
        st.lists(inner, min_size=2, max_size=3).map(lambda items: Or(tuple(items))),
    ),
    max_leaves=8,
)


def _holds(condition: Expression, values: dict[str, bool]) -> bool:
    match condition:
        case Name(name=name):
            return values.get(name, False)
        case Not(item=item):
            return not _holds(item, values)
        case And(items=items):
            return all(_holds(item, values) for item in items)
        case Or(items=items):
            return any(_holds(item, values) for item in items)
    raise AssertionError(condition)


@given(conditions)
def test_a_folded_condition_holds_when_the_condition_does(condition: Condition) -> None:
    """In every combination of its names the folded condition has the same truth, and no constant is left inside."""
    new = folded(condition)
    for a, b in product((False, True), repeat=2):
        assert _holds(new, {"a": a, "b": b}) == _holds(condition, {"a": a, "b": b})
    assert new in (NEVER, ALWAYS) or NEVER not in _nodes(new)


def _nodes(expression: Expression) -> list[Expression]:
    from boardgauge.language.expressions import walk

    return list(walk(expression))


@pytest.mark.parametrize(
    ("expression", "expected"),
    [
        (Edge(ALWAYS, "ends"), NO_EVENT),
        (For(NEVER, Duration(S)), NEVER),
        (For(ALWAYS, Duration(S)), For(ALWAYS, Duration(S))),
        (EventOr((Edge(A, "begins"), NO_EVENT)), Edge(A, "begins")),
        (EventOr((NO_EVENT, Edge(NEVER, "ends"))), NO_EVENT),
        (EventWhile(PowerUp(), ALWAYS), PowerUp()),
        (EventWhile(PowerUp(), NEVER), NO_EVENT),
        (TriggerOr((A, NO_EVENT)), A),
        (TriggerOr((A, PowerUp(), NEVER)), TriggerOr((A, PowerUp()))),
        (TriggerOr((PowerUp(), ALWAYS)), ALWAYS),
    ],
)
def test_events_and_times_fold(expression: Expression, expected: Expression) -> None:
    """What never holds never begins nor lasts; what always holds lasts, and is waited for all the same."""
    assert folded(expression) == expected

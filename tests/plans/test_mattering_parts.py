"""Parts of a condition that matter on their own.

Law: a part counts as shown only by two moments that differ in it and in the outcome, and in each of which it alone
could have turned the outcome over.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from itertools import combinations, product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boardgauge.plans.mcdc import Decision, Vector, shown

CONDITIONS: dict[str, tuple[int, Callable[[Vector], bool]]] = {
    "A and B": (2, lambda v: v[0] and v[1]),
    "A xor B": (2, lambda v: v[0] != v[1]),
    "(A and B) or C": (3, lambda v: (v[0] and v[1]) or v[2]),
    "(A or B) and (C or D)": (4, lambda v: (v[0] or v[1]) and (v[2] or v[3])),
}


def alone(decision: Decision, vectors: Collection[Vector]) -> set[int]:
    """Give the parts shown with all others held still: the unique-cause form."""
    return {
        part
        for vector in vectors
        for part in decision.mattering(vector)
        if (*vector[:part], not vector[part], *vector[part + 1 :]) in vectors
    }


def masking(decision: Decision, vectors: Collection[Vector]) -> frozenset[int]:
    """Give the parts shown as plans count them."""
    return shown(sight for vector in vectors for sight in decision.sights(vector))


def least_set(decision: Decision, form: Callable[[Decision, Collection[Vector]], Collection[int]]) -> int:
    """Give how many moments it takes at least to show every part."""
    vectors = list(product((False, True), repeat=decision.parts))
    for size in range(1, len(vectors) + 1):
        for chosen in combinations(vectors, size):
            if len(form(decision, chosen)) == decision.parts:
                return size
    return 0


@pytest.mark.parametrize(("name", "least"), list(zip(CONDITIONS, (3, 3, 4, 5), strict=True)))
def test_least_sets_are_those_published(name: str, least: int) -> None:
    """With all other parts held still, the least sets have 3, 3, 4 and 5 moments (NASA/TM-2001-210876)."""
    assert least_set(Decision(*CONDITIONS[name]), alone) == least


@pytest.mark.parametrize(("name", "least"), list(zip(CONDITIONS, (3, 3, 4, 4), strict=True)))
def test_masking_takes_no_more_moments(name: str, least: int) -> None:
    """The masking form, which plans use, takes as many or fewer: the last of the four needs 4 of them in place of 5."""
    assert least_set(Decision(*CONDITIONS[name]), masking) == least


@given(st.lists(st.booleans(), min_size=8, max_size=8), st.sets(st.integers(0, 7)))
def test_what_is_shown_alone_is_shown(table: list[bool], chosen: set[int]) -> None:
    """For any condition of three parts and any moments, the masking form shows what the unique-cause form shows."""
    decision = Decision(3, lambda v: table[4 * v[0] + 2 * v[1] + v[2]])
    vectors = [v for n, v in enumerate(product((False, True), repeat=3)) if n in chosen]
    assert alone(decision, vectors) <= masking(decision, vectors)


@given(st.lists(st.booleans(), min_size=8, max_size=8), st.sets(st.integers(0, 7)))
def test_what_counts_as_shown_has_its_two_moments(table: list[bool], chosen: set[int]) -> None:
    """For any condition of three parts and any moments: shown is what two of them show, and nothing else."""
    decision = Decision(3, lambda v: table[4 * v[0] + 2 * v[1] + v[2]])
    vectors = [v for n, v in enumerate(product((False, True), repeat=3)) if n in chosen]
    told = shown(s for v in vectors for s in decision.sights(v))
    for part in range(3):
        pairs = [
            (one, other)
            for one in vectors
            for other in vectors
            if one[part] != other[part]
            and decision.outcome(one) != decision.outcome(other)
            and part in decision.mattering(one)
            and part in decision.mattering(other)
        ]
        assert (part in told) == bool(pairs)

"""A published machine with known tests: tours, the W-method, and the faults that they find.

Source: A. P. Mathur, Foundations of Software Testing, figure 3.13: a transition tour of 13 inputs; P W of 29 sequences
(12 that are no beginning of another, 82 inputs). That these find every single fault is what the W-method promises for
faulty machines with no more states than the good one.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from functools import cache
from itertools import product
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchmarks.walking import Way, walk
from boardgauge.faults import Fault
from boardgauge.plans.killing import LENGTHS, Killing
from plans.mealy import (
    INPUTS,
    MACHINE,
    START,
    STATES,
    Transitions,
    as_fault,
    board_of_machine,
    outputs,
    sitting_of_word,
    w_method,
    wrong_ones,
)

TOUR = "abaaabbaabbab"


def tour_of(machine: Transitions, orders: dict[str, str]) -> str:
    """Give the tour of a machine by the code of the benchmark; ``orders`` is in what order each state's ways stand."""

    def ways(state: str) -> Iterator[Way[str, str]]:
        for letter in orders[state]:
            yield Way(1, letter, machine[state, letter][1], {(state, letter)})

    return "".join(way.act for way in walk(START, ways, set(machine)))


def least_tour(machine: Transitions) -> int | None:
    """Give the length of the shortest tour, by trying all; None where no walk shows every transition."""
    bits = {key: 1 << number for number, key in enumerate(machine)}
    every = (1 << len(machine)) - 1
    queue, seen = deque([(START, 0, 0)]), {(START, 0)}
    while queue:
        state, done, length = queue.popleft()
        if done == every:
            return length
        for letter in INPUTS:
            after = (machine[state, letter][1], done | bits[state, letter])
            if after not in seen:
                seen.add(after)
                queue.append((*after, length + 1))
    return None


def covered(machine: Transitions, word: str) -> set[tuple[str, str]]:
    """Give the transitions that a word takes."""
    state, found = START, set()
    for letter in word:
        found.add((state, letter))
        state = machine[state, letter][1]
    return found


@cache
def bench() -> tuple[Killing, tuple[Fault, ...]]:
    """Give the bench with the good board, and all faulty ones, made once."""
    return Killing(board_of_machine(MACHINE), ("power", "a", "b", "y")), tuple(as_fault(row) for row in wrong_ones())


def test_the_tour_has_13_inputs() -> None:
    """The least tour has the 13 inputs published; a nearest-first tour has as many or 16, as equal ways are ordered."""
    assert least_tour(MACHINE) == 13
    lengths = []
    for chosen in product(("ab", "ba"), repeat=len(STATES)):
        word = tour_of(MACHINE, dict(zip(STATES, chosen, strict=True)))
        assert covered(MACHINE, word) == set(MACHINE)
        lengths.append(len(word))
    assert set(lengths) == {13, 16}
    assert tour_of(MACHINE, dict(zip(STATES, ("ab", "ba", "ab", "ab", "ab"), strict=True))) == TOUR


@settings(max_examples=60)
@given(seed=st.integers(0, 2**32))
def test_a_tour_shows_all_and_is_no_shorter_than_the_least(seed: int) -> None:
    """On any machine it goes on until nothing that is left can be reached, and is never shorter than the least."""
    random = Random(seed)
    machine = {key: (False, random.choice(STATES)) for key in MACHINE}
    word = tour_of(machine, dict.fromkeys(STATES, "ab"))
    if covered(machine, word) == set(machine):
        least = least_tour(machine)
        assert least is not None
        assert len(word) >= least
    here = START
    for letter in word:
        here = machine[here, letter][1]
    reached, queue = {here}, [here]
    for state in queue:
        for letter in INPUTS:
            to = machine[state, letter][1]
            if to not in reached:
                reached.add(to)
                queue.append(to)
    assert {key for key in machine if key[0] in reached} <= covered(machine, word)


def test_the_w_method_has_its_published_numbers() -> None:
    """29 sequences, 12 of them needed, 82 inputs; all 50 single faults differ on one of them."""
    every, needed = w_method()
    assert (len(every), len(needed), sum(map(len, needed))) == (29, 12, 82)
    wrong = list(wrong_ones())
    assert len(wrong) == 50
    assert all(any(outputs(row.machine, word) != outputs(MACHINE, word) for word in needed) for row in wrong)


@pytest.mark.parametrize("word", [*w_method()[1], TOUR])
def test_a_sitting_finds_just_the_faults_that_the_machine_says(word: str) -> None:
    """The machine as a board: carried out and judged, each sequence finds the faults on which outputs differ, no other.

    So all sequences of the W-method find all 50, and the tour, which shows every transition, finds 33.
    """
    killing, faults = bench()
    sitting = sitting_of_word(word)
    assert killing.good(sitting, LENGTHS[0])[1].verdict == "conforms"
    expected = {row.id for row in wrong_ones() if outputs(row.machine, word) != outputs(MACHINE, word)}
    found = {fault.id for fault in faults if killing.finds(sitting, fault, LENGTHS[0])}
    assert found == expected
    assert word != TOUR or len(found) == 33

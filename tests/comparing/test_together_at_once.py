"""Law: what happens together on two boards is the same whether it is asked pair by pair or of all ways at once."""

from __future__ import annotations

import random

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from boardgauge.boards import board_path
from boardgauge.faults import faults_of
from boardgauge.language import read_board, read_board_text
from boardgauge.language.model import Board
from boardgauge.machine.picture import CannotSettle
from boardgauge.pairing.jointly import Jointly
from boardgauge.pairing.lockstep import without_lengths
from boardgauge.pairing.pair import Pair, engine_of
from comparing.test_held_is_sound import ALL_AT_ONCE, two_boards


def both_ways(first: Board, second: Board, held: dict[str, bool] | None = None) -> tuple[Jointly, Jointly]:
    pair = Pair(engine_of(first), engine_of(second), held or {})
    partners = pair.partners(True)
    return Jointly(pair, partners, at_once=True), Jointly(pair, partners, at_once=False)


def walk(quick: Jointly, plain: Jointly, seed: int, steps: int) -> int:
    """Go some way at random; at each pair of states the same has to happen."""
    rng, joint, met = random.Random(seed), quick.start(), 0
    for _ in range(steps):
        try:
            found = quick.occurrences(joint)
        except CannotSettle:
            return met
        one_by_one = set(plain.occurrences(joint))
        assert one_by_one <= set(found)
        # Asked one by one there may be too much to ask.
        assert not plain.whole or one_by_one == set(found)
        assert not plain.whole or dict(plain.moments(joint)) == dict(quick.moments(joint))
        met += sum(1 for occurs in found if len(occurs.levels) + len(occurs.first) + len(occurs.second) > 1)
        for _ in range(5):
            occurs = rng.choice(found)
            if occurs.power is False and rng.random() < 0.9:
                continue
            try:
                joint, _ = quick.after(joint, occurs)
                break
            except CannotSettle:
                continue
    return met


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.filter_too_much, HealthCheck.too_slow])
@given(two_boards(), st.integers(0, 1 << 30))
def test_asked_at_once_the_same_happens(boards: tuple[Board, Board], seed: int) -> None:
    assume(set(boards[0].inputs) == set(boards[1].inputs))
    walk(*both_ways(*boards), seed, 12)


@pytest.mark.parametrize(
    ("names", "held"),
    [
        (("quillmere", "quillmere-split"), {"overflow": True}),
        (("cold-room", "cold-room-adaptive"), {}),
        (("sump-pumps", "sump-pumps"), {}),
    ],
)
def test_on_boards_of_the_library_the_same_happens(names: tuple[str, str], held: dict[str, bool]) -> None:
    """Sensors with several limits, counts, sequences, and an input that stands where it is held."""
    first, second = (read_board(board_path(name)) for name in names)
    assert walk(*both_ways(first, second, held), 1, 6) > 20


def test_what_is_explored_is_the_same() -> None:
    """Two things at one moment and three: to the same verdict over as many pairs of states."""
    board = read_board_text(ALL_AT_ONCE, "lit.toml")
    quick, plain = (without_lengths(row, 60_000, None) for row in both_ways(board, board))
    assert (quick.verdict, quick.explored) == (plain.verdict, plain.explored) == ("held", quick.explored)


@pytest.mark.parametrize("name", ["iec-ctu", "iec-rs"])
def test_on_boards_of_which_one_reads_less_the_same_happens(name: str) -> None:
    """A fault may leave an input unread, which the other board reads."""
    first = read_board(board_path(name))
    for fault in faults_of(first):
        if set(fault.board.inputs) == set(first.inputs):
            walk(*both_ways(first, fault.board), 1, 12)

"""Reading what was written gives the same board, and the digest goes by content alone."""

from __future__ import annotations

import random

import attrs
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from board_strategies import boards
from boardgauge.language import check, read_board_text, write_board
from boardgauge.language.model import Board
from boardgauge.language.writer import digest_of

relaxed = settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))


@relaxed
@given(boards())
def test_reading_what_was_written_gives_an_equal_board(board: Board) -> None:
    """Every value of a board survives being written and read, defaults included."""
    text = write_board(board)
    read = read_board_text(text, "drawn.toml")
    assert read == board
    assert write_board(read) == text


@relaxed
@given(boards())
def test_drawn_boards_pass_every_check(board: Board) -> None:
    """The strategy gives valid boards, and the checks need no file to say so."""
    assert check(board) == ()


@relaxed
@given(boards(), st.randoms(use_true_random=False))
def test_digest_does_not_hang_on_order(board: Board, chance: random.Random) -> None:
    """The order of tables means nothing, so it leaves the digest as it is."""
    rules = list(board.rules.items())
    chance.shuffle(rules)
    outputs = list(board.outputs.items())
    chance.shuffle(outputs)
    assert digest_of(attrs.evolve(board, rules=dict(rules), outputs=dict(outputs))) == digest_of(board)


@relaxed
@given(boards())
def test_digest_changes_with_content(board: Board) -> None:
    """A board that does something else has another digest."""
    assert digest_of(attrs.evolve(board, same_moment=board.same_moment + 1)) != digest_of(board)


@relaxed
@given(boards(feedback=False))
def test_read_boards_carry_their_digest(board: Board) -> None:
    """The reader puts the digest of the content into the board."""
    assert read_board_text(write_board(board), "drawn.toml").digest == digest_of(board)

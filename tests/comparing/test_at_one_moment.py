"""Law: boards that only what happens at one moment parts, however much of it, are never said to be the same."""

from __future__ import annotations

import pytest

from boardgauge.language import read_board_text
from boardgauge.language.model import Board
from boardgauge.pairing import joint_instants
from boardgauge.pairing.lockstep import lockstep
from boardgauge.pairing.pair import Pair, engine_of
from boardgauge.proving import together
from proving.test_instants import detector, switches


def both(text: str) -> tuple[Board, Board]:
    """Give a board, and one on which the output of the same rules never comes on."""
    dark = text.replace('[outputs.out]\non = "', '[outputs.out]\non = "s and not s and ').replace(
        "s and not s", "m and not m"
    )
    dark = dark.replace("m and not m", f"{_rule(text)} and not {_rule(text)}")
    return read_board_text(text, "one.toml"), read_board_text(dark, "dark.toml")


def _rule(text: str) -> str:
    return text.rsplit("[rules.", 1)[1].split("]", 1)[0]


@pytest.mark.parametrize("things", [2, 3, 4])
def test_delays_over_in_one_instant_part_boards(things: int) -> None:
    """The output comes on where all are over at once, and they always are."""
    first, second = both(detector(things))
    assert lockstep(Pair(engine_of(first), engine_of(second)), True).verdict == "open"


@pytest.mark.parametrize("number", [2, 3, 4])
def test_switches_that_close_in_one_instant_part_boards(number: int) -> None:
    first, second = both(switches(number))
    assert lockstep(Pair(engine_of(first), engine_of(second)), True).verdict == "open"


def test_delays_that_are_never_over_together_part_nothing() -> None:
    """One of four is a second later."""
    first, second = both(detector(4).replace('lasts = "10 s"', 'lasts = "11 s"', 1))
    assert lockstep(Pair(engine_of(first), engine_of(second)), True).verdict == "held"


def test_where_not_all_of_a_moment_is_looked_at_nothing_is_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(joint_instants, "MOST_TOGETHER", 2)
    monkeypatch.setattr(together, "MOST_TOGETHER", 11)
    first, second = both(detector(4))
    found = lockstep(Pair(engine_of(first), engine_of(second)), True)
    assert found.verdict == "open"
    assert "at one moment" in found.why

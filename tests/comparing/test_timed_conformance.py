"""Timed conformance, as published: all that an implementation may show after a trace, the specification may show after
that trace, and silence counts as something shown (Krichen and Tripakis, Conformance testing for real-time
systems, 2009; from memory). "May replace" is this relation, and the examples are made by its definition.
"""

from __future__ import annotations

import pytest

from boardgauge.comparing.comparison import Comparer
from boardgauge.language import read_board_text
from boardgauge.language.model import Board

TEXT = """
language = 1
[board]
id = "answer"
title = "Answers a call after a while (invented)"
tolerance = "exactly"
[inputs.a]
kind = "call"
[rules.wait]
kind = "delay"
begins = "a begins"
lasts = "{lasts}"
if_begun_again = "runs on"
[rules.answered]
kind = "lockout"
trips = "{trips}"
clears = "only by power loss"
[outputs.b]
on = "answered"
[outputs.c]
on = "{c}"
"""


def board(lasts: str = "4 s to 8 s", trips: str = "wait expires", c: str = "a and not a") -> Board:
    return read_board_text(TEXT.format(lasts=lasts, trips=trips, c=c), "answer.toml")


@pytest.mark.parametrize(
    ("implementation", "conforms"),
    [
        ({"lasts": "4 s to 8 s"}, True),
        ({"lasts": "5 s exactly"}, True),
        ({"lasts": "4 s exactly"}, True),
        ({"lasts": "8 s exactly"}, True),
        ({"lasts": "3.999 s exactly"}, False),
        ({"lasts": "8.001 s exactly"}, False),
        ({"lasts": "3 s to 5 s"}, False),
        # It stays silent where it has to answer.
        ({"trips": "wait expires while (a and not a)"}, False),
        # It shows what it may never show.
        ({"c": "answered"}, False),
    ],
)
def test_all_that_it_shows_may_be_shown_and_silence_counts(implementation: dict[str, str], conforms: bool) -> None:
    found = Comparer(board(), board(**implementation), one_way=True).compare()
    assert found.verdict == ("same" if conforms else "different")

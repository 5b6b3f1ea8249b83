"""A requirement is watched on every trace: what breaks it deviates by its name, whatever the rules allow."""

from __future__ import annotations

import numpy as np
import pytest

from boardgauge.judging.judge import Judge
from boardgauge.judging.judgement import Judgement
from boardgauge.language import read_board_text
from boardgauge.traces import Channel, Recording, condition, default_wiring

S = 1_000_000
SPEC = """
language = 1
[board]
id = "pair"
title = "Two outputs that follow their calls, invented"
tolerance = "exactly"
responds_within = "0.1 s"
[inputs]
a = {{ kind = "call" }}
b = {{ kind = "call" }}
[outputs]
p = {{ on = "a" }}
q = {{ on = "b" }}
[requirements.law]
clause = "9"
{law}
"""


def judged(law: str, **edges: list[tuple[float, int]]) -> Judgement:
    board = read_board_text(SPEC.format(law=law), "pair.toml")
    rows = {"power": [(0, 0), (1, 1)], "a": [(0, 0)], "b": [(0, 0)], **edges}
    rows |= {"p": rows["a"], "q": rows["b"]}
    channels = {
        name: Channel(name, np.array([round(t * S) for t, _ in row], np.int64), np.array([v for _, v in row], float))
        for name, row in rows.items()
    }
    recording = Recording("made.vcd", "VCD", 0, 30 * S, channels)
    return Judge.of(board).judge(condition(recording, default_wiring(board), board))


BOTH = {"a": [(0, 0), (5, 1), (15, 0)], "b": [(0, 0), (10, 1), (20, 0)]}
APART = {"a": [(0, 0), (5, 1), (8, 0)], "b": [(0, 0), (10, 1), (20, 0)]}


@pytest.mark.parametrize(
    ("law", "time"),
    [
        ('never = "p and q"', 10),
        ('always = "not (p and q)"', 10),
        ('never = "q begins less than 6 s after p begins"', 10),
        ('after = "p begins"\nthen = "p ends"\nwithin = "8 s"', 13),
        ('never = "(p and q) for 2 s"', 12),
    ],
)
def test_what_breaks_a_requirement_deviates_by_its_name(law: str, time: float) -> None:
    judgement = judged(law, **BOTH)
    assert judgement.verdict == "deviates"
    first = judgement.deviations[0]
    assert (first.kind, first.rule, first.clause) == ("requirement", "law", "9")
    assert first.time == pytest.approx(time * S, abs=S // 10)


@pytest.mark.parametrize(
    ("law", "edges"),
    [
        ('never = "p and q"', APART),
        ('never = "q begins less than 5 s after p begins"', BOTH),
        ('after = "p begins"\nthen = "p ends"\nwithin = "10 s"', BOTH),
        ('never = "(p and q) for 6 s"', BOTH),
        ('never = "p and q"\nexcept_while = "a and b"', BOTH),
    ],
)
def test_what_keeps_a_requirement_conforms(law: str, edges: dict[str, list[tuple[float, int]]]) -> None:
    assert judged(law, **edges).verdict == "conforms"


@pytest.mark.parametrize(
    ("law", "time", "signal", "expected"),
    [
        ('never = "p and q"', 10, "q", "never p and q"),
        ('never = "a and q"', 10, "q", "never a and q"),
        ('always = "not a or q"', 5, "q", "always not a or q"),
        ('after = "a begins"\nthen = "q"\nwithin = "3 s"', 8, "q", "q within 3 s after a begins"),
        ('never = "a and b"', 10, "q", "never a and b"),
        ('title = "one at a time"\nnever = "p and q"', 10, "q", "one at a time"),
    ],
)
def test_it_is_told_of_an_output_that_it_names(law: str, time: float, signal: str, expected: str) -> None:
    """Whichever output the board lists first, and whichever moved; in the words of the spec."""
    (found,) = judged(law, **BOTH).deviations
    assert (found.time, found.signal, found.expected) == (time * S, signal, expected)

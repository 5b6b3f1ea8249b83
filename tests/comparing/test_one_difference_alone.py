"""Law: a board with one difference alone is whole: it compiles, and has that entry as the second board has it."""

from __future__ import annotations

from itertools import permutations

import pytest
from attrs import evolve

from boardgauge.boards import board_path
from boardgauge.language import read_board, read_board_text
from boardgauge.machine.compile import compile_board
from boardgauge.pairing.aligning import aligned
from boardgauge.pairing.differences import differences, with_only

FAMILIES = (
    ("cold-room", "cold-room-adaptive", "cold-room-timed"),
    ("heat-pump-defrost", "heat-pump-defrost-demand", "heat-pump-defrost-sampled"),
    ("hearthgate", "hearthgate-spark"),
    ("quillmere", "quillmere-split"),
    ("tarnbeck", "tarnbeck-renewed", "tarnbeck-thermistor"),
)


@pytest.mark.parametrize("names", [pair for family in FAMILIES for pair in permutations(family, 2)], ids="-".join)
def test_every_difference_of_boards_of_the_library_can_be_taken_alone(names: tuple[str, str]) -> None:
    """Settings that steps take their times from, steps that outputs speak of, and sensors that one board alone has."""
    first, second = (read_board(board_path(name)) for name in names)
    second = aligned(first, second)
    for row in differences(first, second):
        hybrid, along = with_only(first, second, row)
        compile_board(hybrid)
        assert row.name not in along
        if row.section not in {"board", "not_judged"}:
            wanted = getattr(second, row.section).get(row.name)
            assert getattr(hybrid, row.section).get(row.name) == wanted, row.name


TEXT = """
language = 1
[board]
id = "hood"
title = "Hood (invented)"
tolerance = "exactly"
[inputs.call]
kind = "call"
[rules.secret]
kind = "mode"
begins = "call begins"
ends = "call ends"
[outputs.fan]
on = "call or secret"
[[not_judged]]
signals = "all outputs"
after = "secret begins"
lasts = "1 s exactly"
"""


def test_a_stretch_that_begins_with_what_is_gone_goes_with_it() -> None:
    first = read_board_text(TEXT, "hood.toml")
    second = evolve(
        first,
        rules={},
        not_judged=(),
        outputs=read_board_text(TEXT.replace("call or secret", "call"), "plain.toml").outputs,
    )
    (row,) = [row for row in differences(first, second) if row.name == "secret"]
    hybrid, along = with_only(first, second, row)
    assert (hybrid.not_judged, along) == ((), ("fan",))
    compile_board(hybrid)

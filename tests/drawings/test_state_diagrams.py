"""Law: a diagram is drawn from the machine's table; every move of a region is in one arrow, and only those."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

import pytest

from boardgauge.drawings import NothingToDraw, draw
from boardgauge.drawings.dot import wrapped
from boardgauge.drawings.state_diagram import arrows, drawable, state_diagram
from boardgauge.language import read_board, read_board_text
from boardgauge.machine.compile import compile_board
from boardgauge.machine.table import Machine

EVERY_KIND = """
language = 1
[board]
id = "kinds"
title = "One of each kind (invented)"
tolerance = "± 10 %"
[inputs]
a = { kind = "call" }
b = { kind = "button" }
[rules.pulse]
kind = "delay"
begins = "a begins"
lasts = "5 s"
if_begun_again = "runs on"
[rules.fault]
kind = "lockout"
clause = "4.1"
trips = "a for 2 s"
clears = "b pressed"
lasts = "10 min"
[rules.hard]
kind = "lockout"
trips = "faults reached"
clears = "only by power loss"
[rules.faults]
kind = "count"
counts = "fault begins"
limit = 4
within = "1 h"
forgets = "b pressed"
[rules.run_time]
kind = "accumulator"
adds_while = "a"
target = "1 h"
resets = "b pressed"
[rules.mode]
kind = "mode"
begins = "a"
ends = "b pressed"
at_least = "10 s"
at_most = "1 min"
[rules.turn]
kind = "toggle"
flips = "a ends"
kept_without_power = true
[rules.burner]
kind = "sequence"
begins = "a begins"
ends = "not a"
steps = [
  { name = "purge", lasts = "30 s" },
  { name = "trial", until = "b pressed", lasts = "4 s", if_not = "purge" },
  { name = "firing", until = "b released", then = "end" },
]
[outputs.motor]
starts = "a and not fault"
stops = "not a or fault"
[outputs.lamp]
on = "fault or hard or mode or pulse or turn or burner or run_time reached"
"""


@pytest.fixture(scope="module")
def kinds() -> Machine:
    return compile_board(read_board_text(EVERY_KIND, "kinds.toml"))


@pytest.fixture(scope="module")
def tarnbeck() -> Machine:
    return compile_board(read_board(Path(str(files("boardgauge.boards") / "tarnbeck.toml"))))


def test_every_move_is_in_exactly_one_arrow(kinds: Machine, tarnbeck: Machine) -> None:
    """The arrows of a region hold its moves, each once."""
    for machine in (kinds, tarnbeck):
        for region in machine.regions:
            drawn = [
                (move, source)
                for arrow in arrows(machine, region)
                for move, source in zip(arrow.moves, arrow.sources, strict=True)
            ]
            assert sorted(map(repr, drawn)) == sorted(repr((move, move.source)) for move in region.moves)
            assert all(move.target == arrow.target for arrow in arrows(machine, region) for move in arrow.moves)


def test_every_rule_and_output_has_a_diagram(kinds: Machine) -> None:
    """All seven kinds, latching outputs and followed ones."""
    assert set(drawable(kinds)) == {*kinds.board.rules, "motor"}
    for name in (*drawable(kinds), "lamp"):
        picture = state_diagram(kinds, name)
        assert picture.dot.startswith("digraph statemachine {")
        assert "kinds.toml line" in picture.caption[0]


def test_a_time_event_says_its_range(tarnbeck: Machine) -> None:
    """UML time event, the range as a constraint in braces."""
    assert "after (45 s) {42.9 to 47.1 s}" in state_diagram(tarnbeck, "restart_delay").dot.replace("\u00a0", " ")


def test_a_hard_lockout_is_left_by_power_loss_only(kinds: Machine) -> None:
    """The one way out is dashed and says so."""
    region = kinds.region_of("hard")
    assert region is not None
    back = [arrow for arrow in arrows(kinds, region) if arrow.target == "clear"]
    assert [arrow.lines for arrow in back] == [("power lost",)]


def test_leaving_every_step_alike_is_one_arrow(kinds: Machine) -> None:
    """`ends` of a sequence leaves the composite state round all its steps."""
    region = kinds.region_of("burner")
    assert region is not None
    leaving = [arrow for arrow in arrows(kinds, region) if len(arrow.sources) > 1]
    assert [arrow.sources for arrow in leaving] == [("purge", "trial", "firing")]
    assert "ltail=" in state_diagram(kinds, "burner").dot or "lhead=" in state_diagram(kinds, "burner").dot


def test_a_clause_stands_in_the_caption(kinds: Machine, tarnbeck: Machine) -> None:
    """With the document it is a clause of, where the board names one."""
    assert "clause 4.1" in state_diagram(kinds, "fault").caption[0]
    assert "clause 2.4 of Tarnbeck service sheet" in state_diagram(tarnbeck, "restart_delay").caption[0]


def test_named_conditions_are_explained_once(tarnbeck: Machine) -> None:
    """Each name in a diagram, and each in its explanation, has one line below."""
    caption = state_diagram(tarnbeck, "cc").caption
    assert sum(line.startswith("“may start”") for line in caption) == 1
    assert sum(line.startswith("“hard lockout”") for line in caption) == 1


def test_what_is_kept_without_power_has_a_history(kinds: Machine) -> None:
    """An H for what is kept, a filled circle for what is not."""
    assert 'label="H"' in state_diagram(kinds, "turn").dot
    assert 'label="H"' not in state_diagram(kinds, "mode").dot


def test_an_unknown_rule_is_refused_with_the_nearest(tarnbeck: Machine) -> None:
    """No traceback for a slip of the pen."""
    with pytest.raises(NothingToDraw, match='did you mean "restart_delay"'):
        draw(tarnbeck, "restart_dealy")


@pytest.mark.parametrize("width", [12, 20, 34])
def test_wrapping_keeps_a_number_with_its_unit(width: int) -> None:
    """No line begins with a unit, and no line is longer than asked (words that are longer apart)."""
    lines = wrapped("restart delay over, 42.9 to 47.1 s while high-pressure switch closed for 2 s", width).split("\\n")
    assert not any(line.startswith(("s ", "min ")) or line == "s" for line in lines)
    assert all(len(line) <= max(width, len("high-pressure")) for line in lines)

"""Law: words say what the spec says, in the trade's words, and say nothing more."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

import pytest

from boardgauge.drawings import words
from boardgauge.language import Board, read_board
from boardgauge.language import expressions as ex
from boardgauge.language.model import Delay, Lockout
from boardgauge.machine.compile import compile_board
from boardgauge.machine.explore import Step


@pytest.fixture(scope="module")
def tarnbeck() -> Board:
    return read_board(Path(str(files("boardgauge.boards") / "tarnbeck.toml")))


def test_a_thing_goes_by_title_then_text_then_id(tarnbeck: Board) -> None:
    """The title of a rule, the first part of an input's text, else the id with blanks."""
    assert words.thing(tarnbeck, "lp_lockout") == "low-pressure hard lockout"
    assert words.thing(tarnbeck, "lps") == "low-pressure switch"
    assert words.thing(tarnbeck, "o") == "cooling"
    assert words.thing(tarnbeck, "restart_delay") == "restart delay"
    assert words.thing(tarnbeck, "led") == "status LED"


def test_a_duration_is_said_with_its_range(tarnbeck: Board) -> None:
    """45 s ± (4 % + 0.3 s) lasts 42.9 s to 47.1 s."""
    rule = tarnbeck.rules["restart_delay"]
    assert isinstance(rule, Delay)
    assert words.lasting(tarnbeck, rule.lasts) == "45 s (42.9 to 47.1 s)"


def test_a_time_by_setting_names_every_position(tarnbeck: Board) -> None:
    """The unit is said once where all positions share it."""
    timing = next(t for t in compile_board(tarnbeck).timings if t.setting is not None)
    assert words.timing(tarnbeck, timing) == "3, 5, 8 or 12 min by interval"


def test_conditions_and_events(tarnbeck: Board) -> None:
    """Switches are open or closed, delays running or over, lockouts tripped."""
    trips = tarnbeck.rules["hp_wait"]
    assert isinstance(trips, Lockout)
    assert words.expression(tarnbeck, trips.trips) == (
        "compressor contactor on and compressor call on and high-pressure switch open and not lp trip"
    )
    assert words.expression(tarnbeck, ex.Edge(ex.Name("restart_delay"), "expires")) == "restart delay over"
    assert words.expression(tarnbeck, ex.Edge(ex.Name("lps"), "opens")) == "low-pressure switch opens"
    assert words.expression(tarnbeck, ex.PowerUp()) == "power comes on"


def test_not_of_a_long_condition_is_said_part_by_part(tarnbeck: Board) -> None:
    """De Morgan: not (a and b) is not a, or not b."""
    both = ex.And((ex.Name("y"), ex.InState("lps", "open")))
    assert words.holds(tarnbeck, both, False) == "compressor call off or low-pressure switch closed"
    assert words.holds(tarnbeck, ex.Not(both), True) == words.holds(tarnbeck, both, False)


def test_mixed_and_and_or_are_told_apart_by_brackets(tarnbeck: Board) -> None:
    """No text has two readings."""
    mixed = ex.And((ex.Name("y"), ex.Or((ex.Name("o"), ex.Name("defrost")))))
    assert words.expression(tarnbeck, mixed) == "compressor call on and (cooling on or defrost on)"
    assert words.holds(tarnbeck, mixed, False) == "compressor call off or (cooling off and defrost off)"


def test_the_end_of_a_timing_is_said_with_its_window(tarnbeck: Board) -> None:
    """A `for` says its condition; all others say the range."""
    machine = compile_board(tarnbeck)
    said = {t.name: words.timing_end(tarnbeck, t) for t in machine.timings}
    assert said["restart_delay"] == "restart delay over, 42.9 to 47.1 s"
    assert said["lp_trip for"] == "(low-pressure switch open and lp watched) for 2 s"
    assert said["cold_run"] == "cold run full, 3, 5, 8 or 12 min by interval"


def test_patterns_and_lines(tarnbeck: Board) -> None:
    """A lamp's line is said by what it means, its pattern as it looks."""
    lines = tarnbeck.lamps["led"].lines
    assert words.pattern(lines[0].shows) == "5 flashes"
    assert words.pattern(lines[4].shows) == "1 s lit, 1 s dark"
    assert words.pattern(lines[-1].shows) == "steady"
    assert words.lamp_line(tarnbeck, "led", 3) == "defrost"


def test_a_scenario_is_said_step_by_step(tarnbeck: Board) -> None:
    """At power-up only what is not at rest is said."""
    machine = compile_board(tarnbeck)
    level = {row.input: row.index for row in machine.levels}
    steps = (
        Step(levels=((level["y"], True), (level["lps"], True)), power=True),
        Step(levels=((level["y"], False),)),
        Step(power=False),
    )
    assert words.scenario(machine, steps) == (
        "power comes on with compressor call on",
        "compressor call ends",
        "power lost",
    )

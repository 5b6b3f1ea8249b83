"""The smallest examples on which judge and oracle have parted, each with the clause that decides it."""

from __future__ import annotations

import pytest

from boardgauge.judging.judge import Judge
from boardgauge.language import read_board_text
from boardgauge.language.model import Board
from boardgauge.machine.run import Timeline
from oracle.chains import shown
from oracle.comparing import verdict
from oracle.grid import Grid
from oracle.trace import Trace

S = 1_000_000
HEAD = 'language = 1\n[board]\nid = "small"\ntitle = "small, invented"\ntolerance = "exactly"\n'
UP = ((0, False), (1, True))


def board_of(tables: str) -> Board:
    return read_board_text(HEAD + tables, "small.toml")


def ask(board: Board, end: int, **signals: tuple[tuple[int, bool], ...]) -> tuple[bool, str]:
    """Give whether a trace is possible, and the judge's verdict."""
    trace = Trace({"power": UP, **signals}, end)
    return Grid.of(board).dies_at(trace) is None, verdict(board, trace).verdict


LASTS = """
[inputs.a]
kind = "call"
[inputs.b]
kind = "button"
[rules.fault]
kind = "lockout"
trips = "a changes"
clears = "b begins"
lasts = "2 s exactly"
[outputs.alarm]
on = "fault"
"""


def test_a_lockout_whose_time_is_over_clears_as_soon_as_trips_lets_go() -> None:
    """The call changes at 2 and at 4, where lasts runs out: the lockout is over at 4, or tripped anew until 6."""
    board, a, b = board_of(LASTS), ((0, False), (2, True), (4, False)), ((0, False),)
    timeline = Timeline(
        {"power": ((0, False), (S, True)), "a": ((0, False), (2 * S, True), (4 * S, False)), "b": b}, 12 * S
    )
    assert shown(Judge.of(board).engine, timeline, 0).signals["alarm"][-1][1] is False
    assert ask(board, 12, a=a, b=b, alarm=((0, False), (2, True))) == (False, "deviates")


@pytest.mark.parametrize("off", [4, 6])
def test_a_lockout_ends_on_either_reading_of_its_last_moment(off: int) -> None:
    board, a, b = board_of(LASTS), ((0, False), (2, True), (4, False)), ((0, False),)
    assert ask(board, 12, a=a, b=b, alarm=((0, False), (2, True), (off, False))) == (True, "conforms")


SUPPLY = """
[rules.rest]
kind = "delay"
begins = "power_up"
lasts = "5 s exactly"
[outputs.fan]
on = "rest"
lag = "1 s"
"""


def test_what_the_supply_brings_may_show_as_late_as_the_lag() -> None:
    """The lag is longer than responds_within, which speaks of changes of an input."""
    board = board_of(SUPPLY)
    assert ask(board, 12, fan=((0, False), (2, True), (6, False))) == (True, "conforms")


NO_TIME = """
[inputs.a]
kind = "call"
[rules.short]
kind = "delay"
begins = "a begins"
lasts = "1 s exactly"
[rules.stuck]
kind = "lockout"
trips = "(short and a) for 2 s exactly"
clears = "a"
[outputs.alarm]
on = "stuck"
"""


def test_timings_that_can_never_end_together_do_no_harm() -> None:
    """Ending together they would trip and clear the lockout in no time, but one is over before the other can be."""
    board = board_of(NO_TIME.replace('exactly"\n[rules.stuck]', 'exactly"\nif_begun_again = "runs on"\n[rules.stuck]'))
    assert ask(board, 9, a=((0, False), (2, True)), alarm=((0, False),)) == (True, "conforms")


PULSE = """
[rules.wait]
kind = "delay"
begins = "power_up"
lasts = "4 s to 8 s"
[rules.short]
kind = "delay"
begins = "wait expires"
lasts = "3 s exactly"
if_begun_again = "runs on"
[outputs.out]
on = "short"
lag = "1 s"
"""


def test_a_pulse_anywhere_in_its_window_conforms() -> None:
    assert ask(board_of(PULSE), 30, out=((0, False), (6, True), (9, False))) == (True, "conforms")


def test_a_pulse_longer_than_the_lag_shows() -> None:
    """It is commanded for 3 s and has to show within 1 s of being commanded, whenever in 4 to 8 s that is."""
    assert ask(board_of(PULSE), 30, out=((0, False),)) == (False, "deviates")

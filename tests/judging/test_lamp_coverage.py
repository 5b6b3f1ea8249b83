"""What counts as a line of a lamp's table that was shown.

Law: a line counts if the board had to show it for long enough, or if it was read off the lamp and nothing else can have
looked so. What a lamp shows in the wrong place proves nothing of the line it belongs to.
"""

from __future__ import annotations

from pathlib import Path

import boardgauge.boards
from boardgauge.cases.case import read_case_text
from boardgauge.cases.ours import board_of, trace_of
from boardgauge.judging.judge import Judge
from boardgauge.judging.judgement import Judgement
from boardgauge.language import read_board
from boardgauge.traces import condition, read_recording, read_wiring

RECORDINGS = Path(__file__).parents[1] / "recordings"
BOARDS = Path(boardgauge.boards.__file__).parent

CASE = """
description = "A lamp"
clauses = ["lamp.lines"]
board = '''
language = 1
[board]
id = "lit"
title = "A lamp (invented)"
tolerance = "± 10 %"
[inputs.a]
kind = "call"
[inputs.bad]
kind = "call"
[rules.locked]
kind = "lockout"
trips = "bad"
clears = "only by power loss"
[rules.wait]
kind = "delay"
begins = "a begins"
lasts = "30 s"
if_begun_again = "runs on"
[outputs.q]
on = "locked"
[lamps.led]
flash = "0.25 s lit, 0.25 s dark"
between_groups = "1.5 s dark"
changes_within = "0.5 s"
lines = [
  { when = "locked", shows = "2 flashes" },
  { when = "wait", shows = "1 s lit, 1 s dark" },
  { when = "otherwise", shows = "steady" },
]
'''
verdict = "conforms"
[recording]
end = 80
rows = [[0, "led", "lit"], [10, "a", "on"]]
[[recording.repeats]]
signal = "led"
"""
BLINKS = 'from = 10\nto = 40\nevery = 2\nrows = [[0, "lit"], [1, "dark"]]\n'
AND_STEADY = '[[recording.repeats]]\nsignal = "led"\nfrom = 40\nto = 41\nevery = 2\nrows = [[0, "lit"]]\n'
GROUPS = 'from = 2\nto = 9\nevery = 2.25\nrows = [[0, "lit"], [0.25, "dark"], [0.5, "lit"], [0.75, "dark"]]\n'


def judged(shows: str) -> Judgement:
    case = read_case_text(CASE + shows, "lit")
    board = board_of(case)
    return Judge.of(board).judge(trace_of(case, board))


def test_a_line_that_comes_and_goes_between_events_is_read_off_the_lamp() -> None:
    """A wait that nothing else shows begins at one event and is long over at the next; its line was shown."""
    found = judged(BLINKS + AND_STEADY)
    assert found.verdict == "conforms"
    assert found.lamps[0].lines == (False, True, True)


def test_a_line_shown_in_the_wrong_place_does_not_count() -> None:
    """A lamp that tells of a lockout that is none deviates, and of the lockout's line nothing is proved."""
    found = judged(GROUPS + '[[recording.repeats]]\nsignal = "led"\n' + BLINKS + AND_STEADY)
    assert [deviation.signal for deviation in found.deviations[:1]] == ["led"]
    assert not found.lamps[0].lines[0]


def test_a_wrong_number_of_flashes_does_not_count_for_the_line_it_is_of() -> None:
    """Five flashes for a high-pressure lockout say nothing of the line for the low-pressure one."""
    board = read_board(BOARDS / "tarnbeck.toml")
    wiring = read_wiring(BOARDS / "wirings" / "tarnbeck.toml")
    recording = read_recording(RECORDINGS / "s06_hp_three_trips__f12_led_hard_code.vcd")
    found = Judge.of(board).judge(condition(recording, wiring, board))
    assert found.deviations[0].signal == "led"
    assert not found.lamps[0].lines[0]

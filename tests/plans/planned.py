"""Plans of small boards, made once for all tests."""

from __future__ import annotations

from functools import cache

from attrs import evolve

from boardgauge.boards import board_path
from boardgauge.language import Board, read_board, read_board_text
from boardgauge.plans.making import Made, make_plan
from boardgauge.plans.plan import Plan
from boardgauge.plans.wish import wish_for

HEATER = """
language = 1
[board]
id = "heater"
title = "A heater with a rest and a limit switch (invented)"
tolerance = "± 5 %"
responds_within = "0.2 s"
filter = "30 ms to 100 ms"

[inputs.call]
kind = "call"

[inputs.limit]
kind = "switch"
contact = "normally closed"

[inputs.quick]
kind = "link"

[rules.rest]
kind = "delay"
begins = "power_up or heat ends"
lasts = "20 s"
if_begun_again = "starts over"

[rules.tripped]
kind = "lockout"
trips = "limit open"
clears = "only by power loss"

[outputs.heat]
on = "call and not rest and not tripped"
lag = "0.1 s"

[outputs.alarm]
on = "tripped"
lag = "0.1 s"

[speed_ups.pins]
while = "quick fitted"
times_faster = 10
what = ["rest"]
"""

LED = """
[lamps.led]
tolerance = "± 20 %"
changes_within = "2 s"
flash = "0.3 s lit, 0.3 s dark"
between_groups = "1.5 s dark"
lines = [
  { when = "tripped", shows = "2 flashes" },
  { when = "heat", shows = "1 s lit, 1 s dark" },
  { when = "otherwise", shows = "steady" },
]
"""


@cache
def heater() -> Board:
    """Give a small board with a speed-up link."""
    return read_board_text(HEATER, "heater.toml")


@cache
def with_lamp() -> Board:
    """Give the same board with a lamp."""
    return read_board_text(HEATER + LED, "heater.toml")


@cache
def library(name: str) -> Board:
    """Give a board of the library."""
    return read_board(board_path(name))


@cache
def plan_of(name: str) -> Made:
    """Give the plan of a board; where it has a lamp, for the faults of the lamp alone."""
    groups = {"lamp"} if name == "with-lamp" else None
    return make_plan(wish_for(board_of(name), groups))


def goals(plan: Plan, kind: str) -> set[str]:
    """Give the goals of a kind that a plan covers."""
    return {goal for row in plan.covers if row.kind == kind for goal in row.goals}


def board_of(name: str) -> Board:
    """Give the heater, with or without a lamp, or a small board of the library."""
    return {"heater": heater, "with-lamp": with_lamp}.get(name, lambda: library(name))()


@cache
def part_of(at_most: int) -> Made:
    """Give the plan of the heater for so much bench time."""
    return make_plan(evolve(wish_for(heater()), at_most=at_most))

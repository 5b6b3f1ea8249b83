"""Law: what is said never to come about does not, and what can has a way there; each is told with its rule."""

from __future__ import annotations

from boardgauge.language import read_board_text
from boardgauge.proving.reach import Reachable, reachable_parts
from proving.drawn import ONE_MODE

PUMP = """
language = 1
[board]
id = "pump"
title = "A pump that never runs long (invented)"
tolerance = "± 10 %"
[inputs.wet]
kind = "call"
[inputs.hot]
kind = "switch"
contact = "normally closed"
[rules.run]
kind = "mode"
begins = "wet begins"
ends = "not wet"
at_most = "10 s"
[rules.long]
kind = "delay"
begins = "run begins"
lasts = "{long}"
if_begun_again = "starts over"
cut_by = "not run"
[rules.stuck]
kind = "lockout"
trips = "{trips}"
clears = "{clears}"
[rules.twice]
kind = "count"
counts = "stuck begins"
limit = 2
[outputs.pump]
on = "run and not stuck and not twice reached"
[outputs.horn]
on = "long"
[lamps.status]
flash = "0.2 s lit, 0.2 s dark"
between_groups = "1 s dark"
lines = [
  {{ when = "run", shows = "steady" }},
  {{ when = "run and stuck", shows = "2 flashes" }},
  {{ when = "otherwise", shows = "dark" }},
]
"""


def parts(long: str = "5 s", trips: str = "hot open and run", clears: str = "not wet") -> Reachable:
    return reachable_parts(read_board_text(PUMP.format(long=long, trips=trips, clears=clears), "pump.toml"))


def never(found: Reachable) -> dict[tuple[str, str], str]:
    return {(row.item.owner, row.item.what): row.why for row in found.items if row.verdict == "never"}


def test_a_line_behind_one_that_always_holds_first_never_shows() -> None:
    """The second line of the lamp holds only where the first does; all else can come about."""
    found = parts()
    assert found.complete
    assert never(found) == {("status", "shows line 2"): ""}
    assert {row.verdict for row in found.items} == {"can", "never"}


def test_a_delay_that_is_always_cut_before_it_is_over() -> None:
    """Ten seconds of running at the most, and a delay of thirty that ends with it: its time never runs out."""
    told = never(parts(long="30 s"))
    assert "rule it out" in told["long", "its time runs out"]
    assert ("long", "its time runs out and something changes") in told
    assert ("run", "its time runs out") not in told


def test_a_lockout_that_cannot_trip() -> None:
    """Nothing trips it, so nothing is counted either."""
    told = never(parts(trips="wet and not wet"))
    assert ("stuck", "stands tripped") in told
    assert ("twice", "counts") in told


def test_a_lockout_that_only_a_loss_of_power_clears() -> None:
    """It is told, and it is no fault: a loss of power leads out."""
    found = parts(clears="only by power loss")
    assert "stuck" in found.locked
    assert found.stuck == ()


def test_a_lockout_that_nothing_clears() -> None:
    """Kept without power, and cleared by nothing: nothing leads out of it."""
    text = PUMP.format(long="5 s", trips="hot open and run", clears="only by power loss")
    text = text.replace('clears = "only by power loss"', 'clears = "only by power loss"\nkept_without_power = true')
    assert reachable_parts(read_board_text(text, "pump.toml")).stuck == ("stuck",)


def test_looking_goes_on_until_every_rule_was_left_that_can_be() -> None:
    """All of it comes about with the first call; that the call can end is found all the same."""
    found = reachable_parts(read_board_text(ONE_MODE, "one.toml"))
    assert {row.verdict for row in found.items} == {"can"}
    assert found.locked == found.stuck == ()

"""Where it takes lengths to see that boards do the same, they are followed; boards that they part are never *same*."""

from __future__ import annotations

import pytest
from attrs import evolve

from boardgauge.boards import board_path
from boardgauge.comparing.comparison import Comparer
from boardgauge.faults import faults_of
from boardgauge.language import read_board, read_board_text
from boardgauge.language.model import Board
from boardgauge.pairing.aligning import aligned
from boardgauge.pairing.lockstep import lockstep
from boardgauge.pairing.outcome import Lockstep
from boardgauge.pairing.pair import Pair, engine_of
from boardgauge.pairing.renaming import ALL_SECTIONS, renamed

HEAD = """
language = 1
[board]
id = "stair-lamp"
title = "Stair lamp (invented)"
tolerance = "± 5 %"
responds_within = "0.2 s"
[inputs.push]
kind = "button"
[inputs.hold]
kind = "switch"
contact = "normally open"
"""
ONE = """
[rules.lit]
kind = "delay"
begins = "(push pressed) begins"
lasts = "60 s"
if_begun_again = "starts over"
[rules.warned]
kind = "delay"
begins = "lit expires"
lasts = "10 s"
if_begun_again = "starts over"
[outputs.lamp]
on = "lit or hold closed"
[outputs.buzzer]
on = "warned"
"""
TWO = """
[rules.first_part]
kind = "delay"
begins = "(push pressed) begins"
lasts = "40 s exactly"
if_begun_again = "starts over"
[rules.second_part]
kind = "delay"
begins = "first_part expires"
lasts = "{} exactly"
if_begun_again = "starts over"
cut_by = "first_part"
[rules.warned]
kind = "delay"
begins = "second_part expires"
lasts = "10 s"
if_begun_again = "starts over"
[outputs.lamp]
on = "first_part or second_part or hold closed"
[outputs.buzzer]
on = "warned"
"""
STUCK = """
[rules.stuck]
kind = "lockout"
trips = "warned for {} exactly"
clears = "only by power loss"
"""


def board(rules: str = ONE, **changes: str) -> Board:
    text = HEAD + rules
    for old, new in (pair.split(" => ") for pair in changes.values()):
        assert old in text
        text = text.replace(old, new)
    return read_board_text(text, "stair-lamp.toml")


def replaces(second: Board, first: Board) -> Lockstep:
    """Ask of the proof alone whether the second may replace the first."""
    return lockstep(Pair(engine_of(first), engine_of(aligned(first, second))), True)


def stuck_after(time: str) -> Board:
    return board(ONE + STUCK.format(time), on='"lit or hold closed" => "lit or hold closed or stuck"')


def test_a_rule_that_takes_longer_than_what_it_waits_for_makes_no_difference() -> None:
    # warned lasts 10.5 s at most.
    found = Comparer(board(), stuck_after("10.501 s")).compare()
    assert found.verdict == "same"
    assert "by the times of lit, stuck for and warned" in found.how


@pytest.mark.parametrize("time", ["10 s", "10.4 s"])
def test_a_rule_that_can_come_to_act_is_told(time: str) -> None:
    found = Comparer(board(), stuck_after(time)).compare()
    assert found.verdict == "different"
    assert found.telling is not None
    assert found.telling.does == "second"


def test_on_the_very_end_it_is_not_said_to_be_the_same() -> None:
    assert replaces(stuck_after("10.5 s"), board()).verdict == "open"


FROM_A_RELAY = """
[rules.lit]
kind = "delay"
begins = "{}"
lasts = "60 s exactly"
if_begun_again = "starts over"
[outputs.relay]
on = "push pressed"
lag = "0.5 s"
[outputs.lamp]
on = "lit or hold closed"
"""


@pytest.mark.parametrize(("begins", "verdict"), [("(push pressed) begins", "held"), ("relay begins", "open")])
def test_what_counts_from_another_terminal_is_not_over_at_the_same_moment(begins: str, verdict: str) -> None:
    """One is counted from the button, the other from a relay that shows up to half a second later."""
    first, second = board(FROM_A_RELAY.format("(push pressed) begins")), board(FROM_A_RELAY.format(begins))
    assert replaces(second, first).verdict == verdict


STAY = """
[settings.stay]
read = "at power-up"
positions = [{ name = "short", is = "10 s" }, { name = "long", is = "30 s" }]
factory = "short"
"""


@pytest.mark.parametrize(("time", "verdict"), [("9 s", "open"), ("31 s", "open"), ("32 s", "held")])
def test_every_position_of_a_setting_counts(time: str, verdict: str) -> None:
    """Up to 31.5 s in the longer one; and a way that only that allows is no way that lengths rule out."""
    rules = STAY + ONE.replace('"10 s"', '"stay"')
    first = board(rules)
    found = replaces(
        board(rules + STUCK.format(time), on='"lit or hold closed" => "lit or hold closed or stuck"'), first
    )
    assert (found.verdict, found.why) == (verdict, "")
    assert (found.way is None) == (verdict == "held")


@pytest.mark.parametrize(
    ("time", "verdict"), [("17 s", "held"), ("16.999 s", "open"), ("23 s", "held"), ("23.001 s", "open")]
)
def test_two_times_in_a_row_may_replace_one_whose_range_holds_their_sum(time: str, verdict: str) -> None:
    # 60 s ± 5 %: 57 to 63 s, after 40 s.
    assert replaces(board(TWO.format(time)), board()).verdict == verdict


def test_one_time_may_not_replace_two_that_are_exact() -> None:
    first, second = board(TWO.format("20 s")), board()
    assert replaces(second, first).verdict == "open"
    assert Comparer(first, second, one_way=True).compare().verdict == "different"


RACE = """
[rules.short]
kind = "delay"
begins = "power_up"
lasts = "5 s exactly"
[rules.long]
kind = "delay"
begins = "power_up"
lasts = "{} exactly"
[rules.over]
kind = "lockout"
trips = "short expires"
clears = "only by power loss"
[rules.upset]
kind = "toggle"
flips = "long expires while not over"
[outputs.lamp]
on = "hold closed or upset"
"""
FAST = """
[inputs.fast]
kind = "link"
[speed_ups.quick]
while = "fast fitted"
times_faster = 60
what = ["long"]
"""


@pytest.mark.parametrize(
    ("rules", "verdict"),
    [
        (RACE.format("6 s"), "held"),
        (RACE.format("5.001 s"), "held"),
        (RACE.format("4 s"), "open"),
        (RACE.format("6 s") + FAST, "open"),
    ],
)
def test_times_from_one_moment_on_are_over_in_the_order_of_their_lengths(rules: str, verdict: str) -> None:
    assert replaces(board(rules), board(rules.replace(' or upset"', '"'))).verdict == verdict


@pytest.mark.parametrize(("closed", "verdict"), [(True, "held"), (False, "open")])
def test_an_input_that_is_held_stands_where_it_is_held_in_the_proof(closed: bool, verdict: str) -> None:
    pan = '[inputs.pan]\nkind = "switch"\ncontact = "normally {}"\n'
    for rest in ("closed", "open"):
        second = board(pan.format(rest) + ONE, on='"lit or hold closed" => "lit or hold closed or pan open"')
        pair = Pair(engine_of(board()), engine_of(second), {"pan": closed})
        assert lockstep(pair, True).verdict == verdict


def test_terminals_and_rules_in_another_order_are_the_same() -> None:
    first = read_board(board_path("iec-tp"))
    turned = evolve(first, **{s: dict(reversed(getattr(first, s).items())) for s in ALL_SECTIONS if s != "lamps"})
    assert replaces(turned, first).verdict == replaces(first, turned).verdict == "held"


def test_rules_under_other_names_are_the_same() -> None:
    first = read_board(board_path("extract-fan"))
    assert Comparer(first, renamed(first, {name: f"{name}_x" for name in first.rules})).compare().verdict == "same"


@pytest.mark.parametrize("name", ["iec-tp", "iec-tof", "iec-ctu", "iec-rs"])
def test_no_fault_that_the_bench_tells_is_proved_to_be_the_same(name: str) -> None:
    first = read_board(board_path(name))
    told = 0
    for fault in faults_of(first):
        comparer = Comparer(first, fault.board)
        found = comparer.compare()
        told += found.verdict == "different"
        if found.verdict == "different" and set(fault.board.inputs) == set(first.inputs):
            one, other = engine_of(first), engine_of(comparer.second)
            both = [lockstep(Pair(one, other), True), lockstep(Pair(other, one), True)]
            assert not all(row.verdict == "held" for row in both) or comparer._more(comparer.second), fault.id
    assert told > 10

"""Comparing never says *same* of boards that the judge tells apart, nor *different* without a deviation."""

from __future__ import annotations

import pytest

from boardgauge.boards import board_path
from boardgauge.comparing.comparison import Comparer, Comparison
from boardgauge.comparing.terminals import not_comparable
from boardgauge.comparing.trial import Bench
from boardgauge.language import UnusableSpec, read_board, read_board_text
from boardgauge.language.model import Board
from boardgauge.machine.scenario_reader import read_scenario_text
from boardgauge.machine.scenario_writer import write_scenario
from boardgauge.pairing.lockstep import lockstep
from boardgauge.pairing.mapping_file import read_renaming_text
from boardgauge.pairing.pair import Pair, engine_of
from boardgauge.pairing.renaming import Renaming, renamed

LAMP = """
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
cut_by = "lit"
[outputs.lamp]
on = "lit or hold closed"
[outputs.buzzer]
on = "warned"
"""


def board(**changes: str) -> Board:
    text = LAMP
    for old, new in (pair.split(" => ") for pair in changes.values()):
        assert old in text
        text = text.replace(old, new)
    return read_board_text(text, "stair-lamp.toml")


def compared(change: str, one_way: bool = False) -> Comparison:
    return Comparer(board(), board(change=change), one_way).compare()


def test_a_board_is_the_same_as_itself_and_as_itself_with_other_prose() -> None:
    assert Comparer(board(), board()).compare().verdict == "same"
    assert compared('title = "Stair lamp (invented)" => title = "Other words (invented)"').verdict == "same"


def test_the_same_condition_written_otherwise_is_proved_to_be_the_same() -> None:
    found = compared('"lit or hold closed" => "not (not lit and hold open)"')
    assert found.verdict == "same"
    assert "pairs of states" in found.how


def test_a_time_apart_is_told_with_a_scenario() -> None:
    found = compared('"60 s" => "90 s"')
    assert found.verdict == "different"
    assert found.telling is not None
    assert found.telling.deviation.signal == "lamp"
    (row,) = found.rows
    assert row.difference.times[0].lies == "apart"


def test_a_time_that_overlaps_is_told_at_its_limit() -> None:
    found = compared('"60 s" => "62 s"')
    assert found.verdict == "different"
    assert found.telling is not None
    assert not found.telling.always


def test_a_range_inside_may_replace_and_is_not_the_same() -> None:
    change = '"60 s" => "60 s ± 2 %"'
    assert compared(change, one_way=True).verdict == "same"
    found = compared(change)
    assert found.verdict == "different"
    assert found.telling is not None
    assert found.telling.does == "first"


def test_a_wider_range_may_not_replace() -> None:
    found = compared('"60 s" => "60 s ± 8 %"', one_way=True)
    assert found.verdict == "different"


def test_a_slower_response_is_told() -> None:
    found = compared('responds_within = "0.2 s" => responds_within = "0.9 s"', one_way=True)
    assert found.verdict == "different"
    faster = compared('responds_within = "0.2 s" => responds_within = "0.1 s"', one_way=True)
    assert faster.verdict == "same"


COIL = """
[inputs.coil]
kind = "sensor"
unit = "°C"
accuracy = "{}"
[outputs.frost]
on = "{}"
"""


def coil(accuracy: str, on: str) -> Board:
    return read_board_text(LAMP + COIL.format(accuracy, on), "coil.toml")


@pytest.mark.parametrize(
    ("first", "second", "verdict"),
    [("± 1.5 °F", "± 1 K", "undecided"), ("± 1 K", "± 1.5 °F", "same"), ("± 1 K", "± 1.8 °F", "same")],
)
def test_accuracies_are_compared_whichever_unit_they_are_in(first: str, second: str, verdict: str) -> None:
    """1.5 °F are 0.83 K: a sensor that may be off by 1 K is no replacement, whatever the numbers look like."""
    boards = coil(first, "coil < 10 °C"), coil(second, "coil < 10 °C")
    assert Comparer(*boards, one_way=True).compare().verdict == verdict


def test_a_limit_written_in_another_unit_is_the_same_limit() -> None:
    assert Comparer(coil("± 1 K", "coil < 10 °C"), coil("± 1 K", "coil < 50 °F")).compare().verdict == "same"


def test_a_limit_that_stands_in_a_spec_in_two_units_is_two_limits() -> None:
    """Each is off in a way of its own: at 10 °C the first board may find one of them and not the other."""
    both = coil("± 1 K", "coil < 10 °C and not coil < 50 °F")
    never = coil("± 1 K", "coil < 10 °C and not coil < 10 °C")
    assert Comparer(both, never).compare().verdict != "same"
    assert Comparer(both, both).compare().verdict == "same"


def test_limits_closer_than_the_sensor_may_be_off_may_both_be_met() -> None:
    """At 10.5 °C, off by 1 K at either limit."""
    near, far = coil("± 1 K", "coil < 10 °C and coil > 11 °C"), coil("± 1 K", "coil < 10 °C and coil > 13 °C")
    assert Comparer(near, far).compare().verdict != "same"
    assert Comparer(far, near, one_way=True).compare().verdict != "same"


SHARED = 'tolerance = "± 5 %" => tolerance = "± 5 %"\nclock = "shared"'
RANGES = ('"60 s" => "57 s to 63 s"', '"10 s" => "9.5 s to 10.5 s"')


def test_ranges_as_wide_are_not_the_same_where_one_clock_drives_all_times() -> None:
    """A lamp that burns long and a buzzer that sounds short: no one clock is slow and fast at once."""
    first, second = board(clock=SHARED), board(clock=SHARED, lit=RANGES[0], warned=RANGES[1])
    assert Comparer(first, second, one_way=True).compare().verdict == "different"
    assert lockstep(Pair(engine_of(first), engine_of(second)), True).verdict == "open"
    alone = Pair(engine_of(board(lit=RANGES[0], warned=RANGES[1])), engine_of(second))
    assert lockstep(alone, True).verdict == "held"
    assert Comparer(first, first).compare().verdict == "same"
    assert lockstep(Pair(engine_of(first), engine_of(first)), False).verdict == "held"


def test_two_times_in_a_row_may_not_replace_two_of_one_clock_by_waiting() -> None:
    """How long the first part lasts says how long the second does: the first board cannot choose either as it likes."""
    first = board(clock=SHARED)
    second = board(clock=SHARED, lit='"60 s" => "62 s exactly"', warned='"10 s" => "9.6 s exactly"')
    assert lockstep(Pair(engine_of(first), engine_of(second)), True).verdict == "open"


FAST = """
[inputs.fast]
kind = "link"
[speed_ups.quick]
while = "fast fitted"
times_faster = 60
what = ["lit"]
"""


@pytest.mark.parametrize(
    ("clock", "lit"),
    [("", '"60 s ± 2 s"'), ('\nclock = "shared"', '"60 s ± 2 s"'), ('\nclock = "shared"', '"60 s ± 2 %"')],
)
def test_a_range_inside_is_not_allowed_for_that_alone(clock: str, lit: str) -> None:
    """Sped up, ± 2 s stays 2 s and ± 5 % does not; and one clock for all goes by its percentage."""
    text = LAMP.replace('"± 5 %"', f'"± 5 %"{clock}') + FAST
    other = text.replace('"60 s"', lit).replace('"lit or hold closed"', '"lit or (hold closed and hold closed)"')
    found = Comparer(read_board_text(text, "a.toml"), read_board_text(other, "b.toml"), one_way=True).compare()
    said = {row.difference.name: row.said for row in found.rows}
    assert said["lit"] != "allowed"
    assert found.verdict != "same"


HIDDEN = """
[rules.secret]
kind = "mode"
begins = "{}"
ends = "hold closes"
[[not_judged]]
signals = "all outputs"
after = "{}"
lasts = "{} exactly"
"""


def masked(begins: str = "push begins", after: str = "secret begins", lasts: str = "5 s") -> Board:
    return read_board_text(LAMP + HIDDEN.format(begins, after, lasts), "masked.toml")


@pytest.mark.parametrize(
    ("first", "second", "verdict"),
    [
        (masked(), masked(), "same"),
        (masked(), masked("push ends"), "undecided"),
        (masked(after="lamp begins"), masked("push ends", "lamp begins"), "same"),
        (masked(), board(), "same"),
        (masked(), masked(lasts="6 s"), "undecided"),
    ],
)
def test_what_begins_a_stretch_that_is_not_judged_has_to_be_the_same(first: Board, second: Board, verdict: str) -> None:
    assert Comparer(first, second, one_way=True).compare().verdict == verdict


def test_each_difference_has_a_scenario_of_its_own() -> None:
    other = board(one='"lit or hold closed" => "lit"', two='lasts = "10 s" => lasts = "20 s"')
    found = Comparer(board(), other).compare()
    tellings = {row.difference.name: row.telling for row in found.rows}
    assert set(tellings) == {"lamp", "warned"}
    assert all(telling is not None for telling in tellings.values())
    signals = {name: telling.deviation.signal for name, telling in tellings.items() if telling is not None}
    assert signals == {"lamp": "lamp", "warned": "buzzer"}


def test_what_is_claimed_holds_when_the_scenario_is_written_read_and_tried_again() -> None:
    first, second = board(), board(change='"60 s" => "90 s"')
    telling = Comparer(first, second).compare().telling
    assert telling is not None
    again = read_scenario_text(write_scenario(telling.scenario, first), "again.toml", first)
    bench = Bench(first, second, False)
    number = ("first", "second").index(telling.does)
    assert bench._try(again, number, telling.timings) is not None


def test_renamed_terminals_are_the_same_board() -> None:
    names = {"push": "knob", "lamp": "light", "buzzer": "lit"}
    other = renamed(board(), names)
    mapping = '[inputs]\npush = "knob"\n[outputs]\nlamp = "light"\nbuzzer = "lit"\n'
    renaming = read_renaming_text(mapping, "names.toml", board(), other)
    called = renaming.in_first_words(other)
    assert not not_comparable(board(), called, renaming)
    assert Comparer(board(), called).compare().verdict == "same"
    assert not_comparable(board(), other, Renaming())


def test_a_terminal_of_one_board_alone_is_not_comparable_until_it_is_set_aside() -> None:
    first, second = read_board(board_path("quillmere")), read_board(board_path("quillmere-split"))
    reasons = not_comparable(first, second, Renaming())
    assert len(reasons) == 1
    assert "overflow" in reasons[0]
    text = '[second_only.inputs]\noverflow = "closed"\n'
    assert not not_comparable(first, second, read_renaming_text(text, "names.toml", first, second))


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ('[inputs]\npsh = "push"\n', "names.toml:2:1: inputs.psh: stair-lamp has no such input; did you mean 'push'?"),
        (
            '[inputs]\npush = "pusj"\n',
            "names.toml:2:8: inputs.push: stair-lamp has no input 'pusj'; did you mean 'push'?",
        ),
        ('[input]\npush = "push"\n', "names.toml:1:2: input: there is no such table; did you mean 'inputs'?"),
        ('[outputs]\nlamp = "lamp"\nbuzzer = "lamp"\n', "'lamp' is given twice"),
        ('[second_only.inputs]\nhold = "shut"\n', "this is no state of a switch"),
    ],
)
def test_what_is_wrong_with_a_mapping_is_told_with_its_place(text: str, told: str) -> None:
    with pytest.raises(UnusableSpec) as caught:
        read_renaming_text(text, "names.toml", board(), board())
    assert told in str(caught.value)

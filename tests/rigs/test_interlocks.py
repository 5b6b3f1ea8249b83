"""Interlocks: what is never driven, by the spec or by the rig file."""

from __future__ import annotations

from fractions import Fraction
from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boardgauge.language import read_board_text
from boardgauge.rigs.interlocks import Interlocks
from boardgauge.rigs.rig import Value
from boardgauge.rigs.rig_file import rig_file_from

SPEC = """
language = 1
[board]
id = "locks"
title = "interlocks (invented)"
tolerance = "± 5 %"
responds_within = "0.1 s"

[inputs.heat]
kind = "call"
[inputs.cool]
kind = "call"
[inputs.door]
kind = "switch"
contact = "normally closed"
[inputs.coil]
kind = "sensor"
unit = "°C"

[conditions.both]
is = "heat and cool"

[outputs.fan]
on = "heat or cool"

[requirements.not_both]
never = "both"
[requirements.door_shut]
always = "door closed or not heat"
[requirements.not_hot]
never = "heat and coil > 90 °C"
[requirements.about_the_board]
never = "fan and not heat and not cool"
"""
BOARD = read_board_text(SPEC, "locks.toml")
LOCKS = Interlocks(BOARD)
CLEAR: dict[str, Value] = {"heat": False, "cool": False, "door": True, "coil": Fraction(20)}


def test_only_what_inputs_alone_decide_is_an_interlock() -> None:
    """Three requirements are about inputs; one is about what the board does."""
    assert [row.text for row in LOCKS.forbidden] == [
        "requirement not_both of locks",
        "requirement door_shut of locks",
        "requirement not_hot of locks",
    ]


@pytest.mark.parametrize(
    ("change", "by"),
    [
        ({}, None),
        ({"heat": True}, None),
        ({"heat": True, "cool": True}, "not_both"),
        ({"heat": True, "door": False}, "door_shut"),
        ({"door": False}, None),
        ({"heat": True, "coil": Fraction(90)}, None),
        ({"heat": True, "coil": Fraction(901, 10)}, "not_hot"),
    ],
)
def test_a_forbidden_combination_is_found_with_its_place(change: dict[str, Value], by: str | None) -> None:
    """Both sides of each limit; the place is that of the requirement in the spec."""
    found = LOCKS.broken(CLEAR | change)
    assert (None if found is None else found.text) == (None if by is None else f"requirement {by} of locks")
    assert found is None or (found.at.file, found.at.line > 20) == ("locks.toml", True)


@pytest.mark.parametrize(("coil", "warm"), [(29, True), (30, None), (35, None), (36, False)])
def test_between_the_two_limits_of_a_comparison_nothing_is_known(coil: int, warm: bool | None) -> None:
    """Which it is there hangs on what was before, and is held against nobody, neither by never nor by always."""
    for demand, forbidden in (("never", True), ("always", False)):
        text = SPEC + f'[requirements.cold]\n{demand} = "coil < 30 °C until > 35 °C"\n'
        locks = Interlocks(read_board_text(text, "locks.toml"))
        found = locks.broken(CLEAR | {"coil": Fraction(coil)})
        assert (found is not None) is (warm is forbidden)


def test_what_is_not_known_is_not_held_against_anybody() -> None:
    """An input that the rig does not drive and that has no rest leaves the condition open."""
    assert LOCKS.broken({"heat": True}) is None
    assert LOCKS.broken({"heat": True, "cool": True}) is not None


def test_a_rig_file_adds_interlocks_of_its_own() -> None:
    """What the bench cannot take is said in the rig file, and told with its place there."""
    text = 'language = 1\n[rig]\nkind = "process"\nname = "x"\nnever = ["cool and door open"]\n'
    locks = Interlocks(BOARD, rig_file_from(text, "rig.toml", BOARD).never)
    found = locks.broken(CLEAR | {"cool": True, "door": False})
    assert found is not None
    assert str(found.at) == "rig.toml:5:10"
    assert "never 'cool and door open' of the rig" in found.text


def test_a_change_from_one_to_the_other_goes_through_neither() -> None:
    """Heat off and cool on in one step: heat goes off first."""
    assert LOCKS.stages(CLEAR | {"heat": True}, {"cool": True, "heat": False}) == [{"heat": False}, {"cool": True}]


def test_a_change_that_needs_something_to_go_on_first_goes_so() -> None:
    """The door is closed before heat is called for, and heat stopped before it is opened."""
    assert LOCKS.stages(CLEAR | {"door": False}, {"heat": True, "door": True}) == [{"door": True}, {"heat": True}]
    assert LOCKS.stages(CLEAR | {"heat": True}, {"door": False, "heat": False}) == [{"heat": False}, {"door": False}]


def test_where_every_order_is_forbidden_the_interlock_is_told() -> None:
    """From heat alone to cool alone there is no way, where one of them has to be on."""
    text = SPEC + '[requirements.one_on]\nalways = "heat or cool"\n'
    locks = Interlocks(read_board_text(text, "locks.toml"))
    with pytest.raises(ValueError, match=r"what requirement \w+ of locks \(locks\.toml:\d+:\d+\) forbids"):
        locks.stages(CLEAR | {"heat": True}, {"heat": False, "cool": True})


def test_inputs_whose_order_does_not_matter_change_at_one_moment() -> None:
    """What no interlock joins, and what none forbids on the way, is driven at once."""
    assert LOCKS.stages(CLEAR, {"heat": True, "coil": Fraction(30)}) == [{"heat": True, "coil": Fraction(30)}]
    assert LOCKS.stages(CLEAR, {"heat": True}) == [{"heat": True}]
    hot = {"coil": Fraction(95), "heat": False}
    assert LOCKS.stages(CLEAR | {"heat": True}, hot) == [{"heat": False}, {"coil": Fraction(95)}]


levels = st.fixed_dictionaries(
    {
        "heat": st.booleans(),
        "cool": st.booleans(),
        "door": st.booleans(),
        "coil": st.sampled_from((Fraction(20), Fraction(90), Fraction(95))),
    }
)


@given(levels, levels)
def test_no_stage_of_any_change_is_forbidden_in_whatever_order_its_relays_move(
    now: dict[str, Value], after: dict[str, Value]
) -> None:
    """From an allowed combination to an allowed one, nothing on the way is forbidden; all of it is driven once."""
    if LOCKS.broken(now) or LOCKS.broken(after):
        return
    try:
        stages = LOCKS.stages(now, after)
    except ValueError:
        # Only between heat and cool with the door or the coil in the way could there be no order at all.
        assert now["heat"] != after["heat"]
        return
    at = dict(now)
    for stage in stages:
        moved = [name for name in stage if at[name] != stage[name]]
        for size in range(len(moved) + 1):
            for some in combinations(moved, size):
                assert LOCKS.broken(at | {name: stage[name] for name in some}) is None
        at |= stage
    assert at == after
    assert sorted(name for stage in stages for name in stage) == sorted(after)

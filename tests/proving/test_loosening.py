"""Law: whatever a board can do, it can do with some of its rules left open; so a proof by some rules is a proof."""

from __future__ import annotations

from attrs import evolve
from hypothesis import assume, given, reject, settings
from hypothesis import strategies as st

from boardgauge.language import UnusableSpec, read_board_text
from boardgauge.language.expressions import And, Name, Not
from boardgauge.language.model import Board, Never, Requirement
from boardgauge.machine.compile import compile_board
from boardgauge.machine.settle import Engine
from boardgauge.proving.clockwork import FREE, Node
from boardgauge.proving.loosening import inputs_kept, kept_in_rounds, loosened
from boardgauge.proving.slicing import slice_of
from boardgauge.proving.timed import explore_timed
from oracle.chains import chain_texts, mixed_texts
from proving import drawn


@st.composite
def asked(draw: st.DrawFn) -> Board:
    """Draw a small board with a requirement about two of its outputs and rules."""
    try:
        board = read_board_text(draw(st.one_of(chain_texts(), mixed_texts())), "drawn.toml")
    except UnusableSpec:
        reject()
    names = [*board.outputs, *(name for name, rule in board.rules.items() if type(rule).__name__ in ("Delay", "Mode"))]
    one, other = draw(st.sampled_from(names)), draw(st.sampled_from(names))
    never = Never(And((Name(one), Not(Name(other))))) if draw(st.booleans()) else Never(And((Name(one), Name(other))))
    return evolve(board, requirements={"asked": Requirement("asked", never)}, not_judged=())


def broken(board: Board, limit: int = 3000, sped_up: bool = False) -> tuple[bool, bool]:
    """Tell whether some way breaks the requirement, and whether all was explored."""
    engine = Engine(compile_board(board))
    found = lambda node, outcome: bool(outcome.broken)  # noqa: E731 - a name for what is asked
    space = explore_timed(engine, found, None, limit, None, 1, sped_up, None)
    return space.stop is not None, space.complete


def check(part: Board, name: str, data: st.DataObject, sped_up: bool) -> None:
    """With any rules kept, and any inputs: where the looser board keeps the requirement, so does the board."""
    every = sorted(kept_in_rounds(part, name)[-1])
    kept = frozenset(data.draw(st.lists(st.sampled_from(every), unique=True))) if every else frozenset()
    assume(part.inputs)
    some = st.lists(st.sampled_from(sorted(part.inputs)), unique=True).map(frozenset)
    inputs = data.draw(st.one_of(st.sampled_from(inputs_kept(part, kept)), some))
    loose = loosened(part, kept, inputs)
    assume(len(loose.inputs) <= 6)
    loosely, complete = broken(loose, sped_up=sped_up)
    assume(complete or loosely)
    if not loosely:
        assert broken(part, 20_000, sped_up)[0] is False


@settings(max_examples=20, deadline=None)
@given(asked(), st.data())
def test_what_no_looser_board_breaks_the_board_does_not(board: Board, data: st.DataObject) -> None:
    """On small boards of all kinds of rules."""
    check(slice_of(board, "asked"), "asked", data, False)


@settings(max_examples=20, deadline=None)
@given(drawn.asked(), st.sampled_from(("apart", "held")), st.data())
def test_sped_up_it_does_not_either(board: Board, name: str, data: st.DataObject) -> None:
    """The speed-up may hang on an output that is left open."""
    check(slice_of(board, name), name, data, True)


def test_the_rounds_begin_with_what_is_named_and_end_with_all() -> None:
    """Each round holds the one before."""
    text = """
language = 1
[board]
id = "b"
title = "invented"
tolerance = "± 10 %"
[inputs.a]
kind = "call"
[conditions.lasting]
is = "a for 2 s"
[rules.first]
kind = "delay"
begins = "lasting begins"
lasts = "5 s"
if_begun_again = "runs on"
[rules.second]
kind = "delay"
begins = "first ends"
lasts = "5 s"
if_begun_again = "runs on"
[outputs.out]
on = "second"
[requirements.asked]
never = "out and a"
"""
    part = slice_of(read_board_text(text, "b.toml"), "asked")
    rounds = kept_in_rounds(part, "asked")
    assert rounds == [frozenset({"out"}), frozenset({"out", "second"}), frozenset({"out", "second", "first"})]
    assert inputs_kept(part, rounds[0]) == [frozenset(), frozenset({"a"})], "only what is asked reads it"
    loose = loosened(part, rounds[0], frozenset())
    assert set(loose.rules) == set()
    assert "a" in loosened(part, rounds[0], frozenset({"a"})).inputs
    assert set(loose.conditions) == set(), "what only rules use that are left open is left out with them"
    assert all(name.startswith(FREE) for name in loose.inputs)
    assert Node(Engine(compile_board(loose)).off()).clocks == ()


def test_inputs_that_two_rules_read_may_be_kept_alone() -> None:
    """Or one rule and what is asked; what a condition names counts for whoever names the condition."""
    text = """
language = 1
[board]
id = "b"
title = "invented"
tolerance = "± 10 %"
[inputs]
a = { kind = "call" }
b = { kind = "call" }
c = { kind = "call" }
[conditions.both]
is = "a and b"
[outputs.one]
on = "both"
[outputs.other]
on = "a and c"
[requirements.asked]
never = "one and other and not c"
"""
    part = slice_of(read_board_text(text, "b.toml"), "asked")
    assert inputs_kept(part, frozenset({"one", "other"})) == [frozenset(), frozenset("ac"), frozenset("abc")]
    assert inputs_kept(part, frozenset({"one"})) == [frozenset(), frozenset("abc")], "nothing is shared"


def test_a_speed_up_that_hangs_on_what_is_left_open_hangs_on_a_free_signal() -> None:
    """Its rule is kept, the condition it names is not: that says nothing but what an input does that is left open."""
    text = """
language = 1
[board]
id = "b"
title = "invented"
tolerance = "± 10 %"
[inputs.a]
kind = "call"
[inputs.quick]
kind = "link"
[rules.wait]
kind = "delay"
begins = "a begins"
lasts = "5 s"
if_begun_again = "runs on"
[conditions.hurried]
is = "quick fitted"
[outputs.one]
on = "a"
[speed_ups.quickly]
while = "hurried"
times_faster = 2
what = ["wait"]
[requirements.asked]
never = "wait and not a"
"""
    part = slice_of(read_board_text(text, "b.toml"), "asked")
    loose = loosened(part, frozenset({"wait"}), frozenset({"a"}))
    (speed_up,) = loose.speed_ups.values()
    assert isinstance(speed_up.while_, Name)
    assert speed_up.while_.name.startswith(FREE)
    assert set(loose.inputs) == {"a", speed_up.while_.name}
    compile_board(loose)

"""Propositions never say "never" of what holds in some state of the board."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from board_strategies import boards
from boardgauge.language import read_board_text
from boardgauge.language.expression_reader import read_condition, read_trigger
from boardgauge.language.expressions import (
    And,
    Comparison,
    Condition,
    For,
    InState,
    Name,
    Not,
    Or,
    Reached,
)
from boardgauge.language.happenings import can_happen
from boardgauge.language.model import Board, InputKind, Sequence
from boardgauge.language.propositions import Propositions
from boardgauge.language.scope import STATES
from expression_strategies import Vocabulary, a_condition, a_trigger
from language_examples import BURNER


class Picture:
    """One state of a board, drawn at random, and the plain truth of conditions in it."""

    def __init__(self, draw: st.DrawFn, board: Board) -> None:
        self.draw = draw
        self.board = board
        self.known: dict[object, object] = {}
        for sequence in (rule for rule in board.rules.values() if isinstance(rule, Sequence)):
            place = self.choose([None, *(step.name for step in sequence.steps)])
            self.known[sequence.id] = place is not None
            self.known.update((step.name, step.name == place) for step in sequence.steps)

    def choose(self, choices: list[object]) -> object:
        return choices[self.draw(st.integers(0, len(choices) - 1))]

    def of(self, key: object, choices: list[object]) -> object:
        if key not in self.known:
            self.known[key] = self.choose(choices)
        return self.known[key]

    def truth(self, condition: Condition) -> bool:
        match condition:
            case Not(item=item):
                return not self.truth(item)
            case And(items=items):
                return all(self.truth(item) for item in items)
            case Or(items=items):
                return any(self.truth(item) for item in items)
            case For(condition=inner):
                return self.truth(inner) and bool(self.of(condition, [False, True]))
            case InState(name=name, state=state):
                return self.of(name, list(STATES[self.board.inputs[name].kind.value])) == state
            case Reached():
                return bool(self.of(condition, [False, True]))
            case Comparison():
                return self.compares(condition)
            case Name(name=name):
                return self.on(name)

    def on(self, name: str) -> bool:
        if name in self.board.conditions:
            return self.truth(self.board.conditions[name].is_)
        output = self.board.outputs.get(name)
        if output is not None and output.on is not None:
            return self.truth(output.on)
        if name in self.board.inputs:
            return self.of(name, ["on", "off"]) == "on"
        return bool(self.of(name, [False, True]))

    def compares(self, condition: Comparison) -> bool:
        number = Fraction(str(self.of(condition.name, [f"{tenths / 10}" for tenths in range(-600, 600, 7)])))
        limit = condition.limit.number
        beyond = {"<": number < limit, "<=": number <= limit, ">": number > limit, ">=": number >= limit}
        if beyond[condition.op]:
            return True
        if condition.until is None or condition.until_op is None:
            return False
        back = condition.until.number
        gone = {"<": number < back, "<=": number <= back, ">": number > back, ">=": number >= back}
        return not gone[condition.until_op] and bool(self.of(condition, [False, True]))


def words_of(board: Board) -> Vocabulary:
    """Give a vocabulary of all that a board has."""
    words = Vocabulary(usual=board.tolerance)
    for item in board.inputs.values():
        words.add_input(item)
    for rule in board.rules.values():
        words.add_rule(rule)
    words.on_off += [*board.conditions, *board.outputs]
    return words


@settings(max_examples=80, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.data())
def test_what_holds_in_some_state_can_hold(data: st.DataObject) -> None:
    """A condition that is true in a state drawn at random is never said to be impossible, nor its contrary certain."""
    board = data.draw(boards())
    words = words_of(board)
    condition, held = data.draw(
        st.composite(lambda draw: (made := a_condition(draw, words), Picture(draw, board).truth(made)))()
    )
    propositions = Propositions(board)
    if held:
        assert propositions.can_hold(condition) is not False
    else:
        assert propositions.must_hold(condition) is not True


@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.data())
def test_any_trigger_can_be_asked_about(data: st.DataObject) -> None:
    """Whether a trigger can happen is answered yes, no or not known."""
    board = data.draw(boards())
    trigger = data.draw(st.composite(lambda draw: a_trigger(draw, words_of(board)))())
    assert can_happen(trigger, Propositions(board)) in (True, False, None)


BOARD = read_board_text(BURNER, "burner.toml")

ANSWERS = {
    "heat": True,
    "heat and not heat": False,
    "hot open and hot closed": False,
    "j0 open and j0 fitted": False,
    "reset pressed and reset released": False,
    "purge and trial": False,
    "purge and not burner": False,
    "burner and not (purge or trial or firing)": False,
    "gas and purge": False,
    "gas and not firing": True,
    "safe and hot open": False,
    "safe and locked": False,
    "(heat for 2 s) and not heat": False,
    "(heat for 2 s) and not (heat for 3 s)": True,
    "misses reached and not (misses reached)": False,
    "pump and not firing": True,
}


@pytest.mark.parametrize("text", ANSWERS)
def test_what_excludes_itself_is_found(text: str) -> None:
    """States of one input, steps of one sequence, and names looked through, exclude each other."""
    assert Propositions(BOARD).can_hold(read_condition(text)) is ANSWERS[text]


EVENTS = {
    "heat begins": True,
    "(heat or not heat) changes": False,
    "(heat and not heat) begins": False,
    "(heat or not heat) ends": False,
    "hot opens while safe": False,
    "hot closes while safe": True,
    "j0 closes while j0 fitted": True,
    "j0 closes while j0 open": False,
    "purge begins while trial": False,
    "purge ends while purge": False,
    "trial expires while (heat and not heat)": False,
    "power_up while (heat and not heat)": False,
    "power_up": True,
    "(purge begins while trial) or heat begins": True,
    "(purge begins while trial) or (heat and not heat) begins": False,
    "(heat and not heat) or hot opens": True,
}


@pytest.mark.parametrize("text", EVENTS)
def test_events_that_cannot_happen_are_found(text: str) -> None:
    """An edge needs its condition on one side and not on the other, together with what stands beside it."""
    assert can_happen(read_trigger(text), Propositions(BOARD)) is EVENTS[text]


def test_there_is_an_end_to_trying() -> None:
    """Too many combinations, and too many questions, are answered by not knowing."""
    propositions = Propositions(BOARD)
    many = And(tuple(Reached(f"n{index}") for index in range(13)))
    assert propositions.can_hold(many) is None
    propositions.cases_left = 3
    assert propositions.can_hold(Name("heat")) is True
    assert propositions.can_hold(Name("heat")) is None


def test_inputs_of_all_kinds_have_states() -> None:
    """Every kind of input but the sensor has two states."""
    assert set(STATES) == {kind.value for kind in InputKind} - {"sensor"}

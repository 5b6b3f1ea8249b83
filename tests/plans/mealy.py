"""A Mealy machine of the literature, its tests as published, and the same machine as a board.

Source: A. P. Mathur, Foundations of Software Testing, figure 3.13, and the W-method's worked example on it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import cache

from attrs import frozen

from boardgauge.faults import Fault
from boardgauge.language import Board, read_board_text
from boardgauge.language.quantities import S
from boardgauge.plans import Set, Sitting, Wait

Transitions = dict[tuple[str, str], tuple[bool, str]]
"""(state, input) -> (output, next state)."""

STATES, INPUTS, START = ("q1", "q2", "q3", "q4", "q5"), ("a", "b"), "q1"
MACHINE: Transitions = {
    ("q1", "a"): (False, "q1"),
    ("q1", "b"): (True, "q4"),
    ("q2", "a"): (False, "q1"),
    ("q2", "b"): (True, "q5"),
    ("q3", "a"): (False, "q5"),
    ("q3", "b"): (True, "q1"),
    ("q4", "a"): (True, "q3"),
    ("q4", "b"): (True, "q4"),
    ("q5", "a"): (True, "q2"),
    ("q5", "b"): (True, "q5"),
}
TELLING = ("a", "aa", "aaa", "baaa")
"""W, the sequences that tell every two states apart."""


@frozen
class Wrong:
    """One transition that gives the other output or leads elsewhere."""

    id: str
    machine: Transitions


def outputs(machine: Transitions, word: str) -> list[bool]:
    """Give what a machine puts out for a word of inputs, from its start."""
    state, found = START, []
    for letter in word:
        output, state = machine[state, letter]
        found.append(output)
    return found


def wrong_ones() -> Iterator[Wrong]:
    """Give every single fault: an output turned over, a transition to another state."""
    for (state, letter), (output, to) in MACHINE.items():
        yield Wrong(f"{state}-{letter}-output", {**MACHINE, (state, letter): (not output, to)})
        for other in STATES:
            if other != to:
                yield Wrong(f"{state}-{letter}-to-{other}", {**MACHINE, (state, letter): (output, other)})


def w_method() -> tuple[set[str], list[str]]:
    """Give P W, and of it what is no beginning of another (in order)."""
    reached, queue = {START: ""}, [START]
    for state in queue:
        for letter in INPUTS:
            to = MACHINE[state, letter][1]
            if to not in reached:
                reached[to] = reached[state] + letter
                queue.append(to)
    cover = {""} | {word + letter for word in reached.values() for letter in INPUTS}
    every = {word + telling for word in cover for telling in TELLING}
    return every, sorted(word for word in every if not any(o != word and o.startswith(word) for o in every))


# -- as a board --------------------------------------------------------------------------------------------------------


def _while(states: Iterable[str], letter: str) -> str:
    names = " or ".join(states)
    return f"({letter} begins while ({names}))" if names else ""


@cache
def _text(rows: tuple[tuple[tuple[str, str], tuple[bool, str]], ...]) -> str:
    machine = dict(rows)
    # A call that begins chooses the next state, one that ends goes there: so each is looked at while it stands still.
    parts = [_HEAD.replace("ELSE", " and ".join(f"not {state}" for state in STATES[1:]))]
    for state in STATES[1:]:
        to = {x: [s for s in STATES if machine[s, x][1] == state] for x in INPUTS}
        away = {x: [s for s in STATES if machine[s, x][1] != state] for x in INPUTS}
        begins = " or ".join(filter(None, (_while(to[x], x) for x in INPUTS))) or _NEVER
        ends = " or ".join(filter(None, (_while(away[x], x) for x in INPUTS)))
        parts.append(f'[rules.next_{state}]\nkind = "mode"\nbegins = "{begins}"\nends = "{ends}"\n')
        parts.append(
            f'[rules.{state}]\nkind = "mode"\nbegins = "(a ends or b ends) while next_{state}"\n'
            f'ends = "(a ends or b ends) while not next_{state}"\n'
        )
    puts = " or ".join(filter(None, (_while([s for s in STATES if machine[s, x][0]], x) for x in INPUTS)))
    parts.append(_TAIL.replace("PUTS", puts))
    return "\n".join(parts)


_NEVER = "a begins while (q1 and not q1)"
_HEAD = """
language = 1
[board]
id = "mealy"
title = "A Mealy machine as a board (invented from a published one)"
tolerance = "exactly"

[inputs.a]
kind = "call"

[inputs.b]
kind = "call"

[conditions.q1]
is = "ELSE"
"""
_TAIL = """
[rules.puts]
kind = "delay"
begins = "PUTS"
lasts = "300 ms"
if_begun_again = "starts over"

[outputs.y]
on = "puts"
"""


def board_of_machine(machine: Transitions) -> Board:
    """Give a machine as a board: a call is an input, a pulse of y that comes with it is the output 1."""
    return read_board_text(_text(tuple(machine.items())), "mealy.toml")


def as_fault(wrong: Wrong) -> Fault:
    """Give a wrong machine as a fault of the board."""
    return Fault(wrong.id, wrong.id, "part inverted", "puts", None, board_of_machine(wrong.machine))


def sitting_of_word(word: str) -> Sitting:
    """Give the sitting in which a word is put in, letter after letter, after the supply came on."""
    steps = [Wait(S), Set(power=True), Wait(S)]
    for letter in word:
        steps += [Set({letter: True}), Wait(S), Set({letter: False}), Wait(S)]
    return Sitting(word, (*steps, Set(power=False), Wait(S)), {}, {"a": False, "b": False})

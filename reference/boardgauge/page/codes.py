"""Expressions as small codes: what the page's engine reads in place of the spec's text.

Law of this module: one code for each node that the reference logic knows, with the same slot numbers, so both read the
same pictures. A code is a slot number, or a list with a word in front:

| code | holds |
|---|---|
| ``7`` | slot 7 of the picture holds |
| ``["not", c]``, ``["and", c, ...]``, ``["or", c, ...]`` | as in the language; ``or`` joins events too |
| ``["power up"]`` | the supply came on in this instant |
| ``["over", t]`` | timing ``t`` ran out in this instant |
| ``["begins", c]``, ``["ends", c]``, ``["changes", c]`` | the picture against the one before |
| ``["while", e, c]`` | the event, and the condition in the same picture |
| ``["recent", slot, t, e]`` | the event while a timing of a requirement runs (``less than ... after``) |
"""

from __future__ import annotations

from typing import Any

from boardgauge.language import expressions as ex
from boardgauge.machine.logic import Logic

Code = Any
"""A code as it goes into JSON: an int, or a list of a word and codes."""


def code(logic: Logic, node: ex.Trigger) -> Code:
    """Give the code of a condition, an event or a mixture."""
    match node:
        case ex.PowerUp():
            return ["power up"]
        case ex.Edge(of=of, word="expires"):
            assert isinstance(of, ex.Name)
            return ["over", logic.timing_of_name(of.name)]
        case ex.Edge(of=of, word=word):
            return [{"closes": "begins", "opens": "ends"}.get(word, word), code(logic, of)]
        case ex.EventOr(items=events):
            return ["or", *(code(logic, item) for item in events)]
        case ex.TriggerOr(items=items):
            return ["or", *(code(logic, item) for item in items)]
        case ex.EventWhile(event=event, condition=condition):
            return ["while", code(logic, event), code(logic, condition)]
        case ex.LessThanAfter(event=event, after=after):
            delay = next(d for d in logic.machine.delays if d.hidden and d.begins is after)
            return ["recent", logic.delay_slot(delay.index), delay.timing, code(logic, event)]
        case ex.Name(name=name) | ex.Reached(name=name):
            return logic.slots[name]
        case ex.InState(name=name, state=state):
            slot = logic.slots[name]
            return ["not", slot] if logic.is_false_word(name, state) else slot
        case ex.Comparison():
            return logic.comparison_slots[node]
        case ex.For():
            return logic.for_slots[logic.timing_of_for(node)]
        case ex.Not(item=item):
            return ["not", code(logic, item)]
        case ex.And(items=parts):
            return ["and", *(code(logic, item) for item in parts)]
        case ex.Or(items=parts):
            return ["or", *(code(logic, item) for item in parts)]


def trigger_code(logic: Logic, node: ex.Trigger | None) -> Code:
    """Give a trigger with its events apart from its conditions; None where there is none.

    ``happens`` is the whole; ``events`` the events in it, ``conditions`` the conditions beside them: a move made by an
    event alone has to be borne out by the settled picture.
    """
    if node is None:
        return None
    items = node.items if isinstance(node, ex.TriggerOr) else (node,)
    return {
        "happens": code(logic, node),
        "events": [code(logic, item) for item in items if ex.is_event(item)],
        "conditions": [code(logic, item) for item in items if not ex.is_event(item)],
    }

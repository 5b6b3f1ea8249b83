"""The rules of a machine over words of truths: their expressions, and how each region moves in one look.

Law of this module: the expressions are those that the engine's own functions are made of; a region moves as its
``Mover`` does, in each of very many instants.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from typing import cast

from attrs import frozen

from boardgauge.language import expressions as ex
from boardgauge.language import model
from boardgauge.machine.logic import Logic, expired_bit
from boardgauge.machine.moves import Mover, mover, triggers_of
from boardgauge.machine.table import Machine
from boardgauge.proving.words import NO, Bits, any_of

Drawn = list[Bits]
"""Pictures: for each slot where it holds."""
Facts = Mapping[int, Bits]
"""For each bit of the facts of an instant (``machine.logic``) where it is set."""
Happens = Callable[[Drawn, Drawn, Facts], Bits]
Check = Callable[[Drawn], Bits]
Place = Sequence[Bits]
"""For each place of a region where it is in it."""

_SIGNS = ((" and ", " & "), (" or ", " | "), ("not ", "~"), (" != ", " ^ "))


def _over_words(source: str) -> str:
    """Give the source of an expression over truths as one over words of them."""
    source = re.sub(r"\(f & (\d+)\) != 0", r"f[\1]", source)
    source = re.sub(r"\(f & (\d+)\) == 0", r"~f[\1]", source)
    for word, sign in _SIGNS:
        source = source.replace(word, sign)
    return source


def check_of(logic: Logic, node: ex.Condition) -> Check:
    """Compile a condition."""
    return cast(Check, eval(f"lambda n: {_over_words(logic.source(node))}", {"__builtins__": {}}))


def happens_of(logic: Logic, node: ex.Trigger) -> Happens:
    """Compile a trigger."""
    return cast(Happens, eval(f"lambda n, b, f: {_over_words(logic.trigger_source(node))}", {"__builtins__": {}}))


def _event_of(logic: Logic, node: ex.Trigger | None) -> Happens | None:
    """Compile the events of a trigger alone: see ``Trigger.of``."""
    if node is None:
        return None
    if ex.is_event(node):
        return happens_of(logic, node)
    if not isinstance(node, ex.TriggerOr):
        return None
    events = [happens_of(logic, item) for item in node.items if ex.is_event(item)]
    conditions = [happens_of(logic, item) for item in node.items if not ex.is_event(item)]
    if not events:
        return None

    def by_event(now: Drawn, before: Drawn, facts: Facts) -> Bits:
        return any_of(e(now, before, facts) for e in events) & ~any_of(c(now, before, facts) for c in conditions)

    return by_event


@frozen
class ManyMoves:
    """One region: what takes it in and out, the events among that, and its conditions."""

    made: Mover
    into: Happens | None
    out: Happens | None
    into_event: Happens | None
    out_event: Happens | None
    adds: Check | None
    untils: tuple[Check | None, ...]

    @classmethod
    def of(cls, machine: Machine, logic: Logic, index: int) -> ManyMoves:
        """Compile a region."""
        region, board = machine.regions[index], machine.board
        into: ex.Trigger | None
        out: ex.Trigger | None
        adds: Check | None = None
        untils: tuple[Check | None, ...] = ()
        if region.kind == "output":
            into, out = board.outputs[region.rule].starts, board.outputs[region.rule].stops
        else:
            rule = board.rules[region.rule]
            into, out = triggers_of(rule)
            if isinstance(rule, model.Accumulator):
                adds = check_of(logic, rule.adds_while)
            if isinstance(rule, model.Sequence):
                untils = (None, *(None if s.until is None else check_of(logic, s.until) for s in rule.steps))
        return cls(
            mover(machine, logic, region),
            None if into is None else happens_of(logic, into),
            None if out is None else happens_of(logic, out),
            _event_of(logic, into),
            _event_of(logic, out),
            adds,
            untils,
        )

    def sees_into(self, now: Drawn, before: Drawn, facts: Facts) -> Bits:
        """Tell where what takes it in holds."""
        return NO if self.into is None else self.into(now, before, facts)

    def sees_out(self, now: Drawn, before: Drawn, facts: Facts) -> Bits:
        """Tell where what takes it out holds."""
        return NO if self.out is None else self.out(now, before, facts)

    def move(
        self, place: Place, start: Place, moved: Bits, now: Drawn, before: Drawn, facts: Facts, running: Sequence[Bits]
    ) -> tuple[Bits, ...]:
        """Give the places after a look, as ``Mover.move`` does; ``moved`` tells where it has moved already."""
        made = self.made
        into, out = self.sees_into(now, before, facts), self.sees_out(now, before, facts)
        lasts = NO if made.lasts is None else facts[expired_bit(made.lasts)]
        match made.region.kind:
            case "lockout":
                over = NO if made.lasts is None else lasts | ~running[made.lasts]
                on = into | (place[1] & ~(start[1] & (over | out)))
            case "mode" | "output":
                held: Bits = NO
                if made.at_least is not None:
                    least = made.at_least
                    held = place[1] & (~start[1] | (running[least] & ~facts[expired_bit(least)]))
                on = ~(lasts | (~held & out)) & (place[1] | into)
            case "sequence":
                return self._sequence(place, moved, into, out, now, facts)
            case "count":
                bump = ~moved & into & ~out
                stays = [here & ~out & ~bump for here in place]
                stays[0] = stays[0] | out
                for number, here in enumerate(place):
                    above = min(number + 1, len(place) - 1)
                    stays[above] = stays[above] | (here & bump)
                return tuple(stays)
            case "accumulator":
                on = ~out & (lasts | place[1])
            case "toggle":
                flips = ~moved & into
                on = (flips & ~start[1]) | (~flips & place[1])
        return ~on, on

    def _sequence(self, place: Place, moved: Bits, into: Bits, out: Bits, now: Drawn, facts: Facts) -> tuple[Bits, ...]:
        made = self.made
        new: list[Bits] = [NO] * len(place)
        begins = place[0] & ~out & ~moved & into
        new[1] = begins
        new[0] = out | (place[0] & ~begins)
        for number in range(1, len(place)):
            here = place[number] & ~out
            until = self.untils[number]
            if until is not None:
                goes = here & until(now)
                new[made.thens[number]] = new[made.thens[number]] | goes
                here = here & ~goes
            timing = made.step_timings[number]
            over = NO if timing < 0 else facts[expired_bit(timing)]
            new[made.if_nots[number]] = new[made.if_nots[number]] | (here & over)
            new[number] = new[number] | (here & ~over)
        return tuple(new)

    def moved_by_event(
        self, changed: Bits, old: Place, new: Place, now: Drawn, before: Drawn, facts: Facts
    ) -> tuple[Bits, Bits]:
        """Tell where an event took it in, and where one took it out, as ``Mover.moved_by_event`` does."""
        kind = self.made.region.kind
        entering = changed if kind == "toggle" else changed & ~new[0]
        if kind not in {"toggle", "count"}:
            entering = entering & old[0]
        leaving = changed & ~entering
        if self.made.lasts is not None:
            leaving = leaving & ~facts[expired_bit(self.made.lasts)]
        if kind == "sequence":
            leaving = leaving & new[0]
        into = NO if self.into_event is None else entering & self.into_event(now, before, facts)
        return into, NO if self.out_event is None else leaving & self.out_event(now, before, facts)

    def adding(self, now: Drawn, no_facts: Facts) -> Bits:
        """Tell where an accumulator adds up; where a reset stands it does not."""
        assert self.adds is not None
        adds = self.adds(now)
        return adds if self.out is None else adds & ~self.out(now, now, no_facts)

"""Turn the expressions of a spec into functions over pictures.

Expressions are put together as Python source once, which steps a machine some five times faster than walking them.

Law of this module: a *picture* is a list of booleans, one slot a named thing; a condition reads one picture, an
event compares the picture with *before* (and with the facts of the instant), never with an earlier look.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import cast

from attrs import define, field

from boardgauge.language import expressions as ex
from boardgauge.language.model import InputKind
from boardgauge.machine.table import Level, Machine

Picture = list[bool]
Check = Callable[[Picture], bool]
Happens = Callable[[Picture, Picture, int], bool]

POWER_UP = 1
"""The bit of the facts of an instant that says the supply came on; timing ``i`` has the bit ``2 << i``."""


def expired_bit(timing: int) -> int:
    """Give the bit that says, among the facts of an instant, that a timing ran out in it."""
    return 2 << timing


def facts_of(expired: Iterable[int], power_up: bool) -> int:
    """Give the facts of an instant in which timings run out, and the supply comes on or does not."""
    return sum(expired_bit(timing) for timing in expired) | (POWER_UP if power_up else 0)


@define
class Logic:
    """The slots of a machine's pictures, and the expressions compiled against them."""

    machine: Machine
    slots: dict[str, int] = field(factory=dict)
    comparison_slots: dict[ex.Comparison, int] = field(factory=dict)
    for_slots: dict[int, int] = field(factory=dict)
    reads: dict[str, set[int]] = field(factory=dict)
    width: int = 0

    def __attrs_post_init__(self) -> None:
        for level in self.machine.levels:
            if level.comparison is None:
                self._slot(level.input)
            else:
                self.comparison_slots[level.comparison] = self._new()
        for region in self.machine.regions:
            self._slot(region.rule)
            if region.kind == "sequence":
                for step in region.places[1:]:
                    self._slot(step)
        for delay in self.machine.delays:
            self._slot(delay.rule if not delay.hidden else f"{delay.rule} {delay.timing}")
        for condition in self.machine.board.conditions:
            self._slot(condition)
        for output in self.machine.outputs:
            if output.region is None:
                self._slot(output.output)
        for timing in self.machine.timings:
            if timing.role == "for":
                self.for_slots[timing.index] = self._new()

    def _new(self) -> int:
        self.width += 1
        return self.width - 1

    def _slot(self, name: str) -> int:
        if name not in self.slots:
            self.slots[name] = self._new()
        return self.slots[name]

    def level_slot(self, level: Level) -> int:
        """Give the slot of an input level."""
        return self.slots[level.input] if level.comparison is None else self.comparison_slots[level.comparison]

    def delay_slot(self, index: int) -> int:
        """Give the slot of a delay, hidden ones too."""
        delay = self.machine.delays[index]
        return self.slots[delay.rule if not delay.hidden else f"{delay.rule} {delay.timing}"]

    def timing_of_for(self, node: ex.For) -> int:
        """Give the timing of one ``C for T`` of the spec."""
        return next(t.index for t in self.machine.timings if t.condition is node)

    def timing_of_name(self, name: str) -> int:
        """Give the timing whose end is meant by ``NAME expires``."""
        roles = {"delay", "at most", "lasts", "step", "requirement"}
        return next(t.index for t in self.machine.timings if t.name == name and t.role in roles)

    def slots_read(self, expression: ex.Expression) -> set[int]:
        """Give the slots an expression reads directly (a ``for`` counts as one slot, what is in it as its own)."""
        found: set[int] = set()
        for node in _walk_outside_for(expression):
            match node:
                case ex.For():
                    found.add(self.for_slots[self.timing_of_for(node)])
                case ex.Comparison():
                    found.add(self.comparison_slots[node])
                case ex.Name(name=name) | ex.InState(name=name) | ex.Reached(name=name):
                    if name in self.slots:
                        found.add(self.slots[name])
        return found

    # -- conditions ----------------------------------------------------------------------------------------------

    def condition(self, node: ex.Condition) -> Check:
        """Compile a condition."""
        return cast(Check, _function("n", self.source(node, "n")))

    def happens(self, node: ex.Trigger) -> Happens:
        """Compile a trigger (an event, a condition or a mixture) to a function of now, before and the facts."""
        return cast(Happens, _function("n, b, f", self.trigger_source(node)))

    def source(self, node: ex.Condition, of: str = "n") -> str:
        """Give a condition as a Python expression over the picture called ``of``.

        Only slot numbers of our own and fixed words are put together here: no text of a spec gets in.
        """
        match node:
            case ex.Name(name=name) | ex.Reached(name=name):
                return f"{of}[{self.slots[name]}]"
            case ex.InState(name=name, state=state):
                yes = f"{of}[{self.slots[name]}]"
                return f"(not {yes})" if self.is_false_word(name, state) else yes
            case ex.Comparison():
                return f"{of}[{self.comparison_slots[node]}]"
            case ex.For():
                return f"{of}[{self.for_slots[self.timing_of_for(node)]}]"
            case ex.Not(item=item):
                return f"(not {self.source(item, of)})"
            case ex.And(items=items):
                return "(" + " and ".join(self.source(item, of) for item in items) + ")"
            case ex.Or(items=items):
                return "(" + " or ".join(self.source(item, of) for item in items) + ")"

    def is_false_word(self, name: str, state: str) -> bool:
        """Tell whether the word for an input's state is the one for which its slot is false."""
        row = self.machine.board.inputs.get(name)
        if row is not None and row.kind is InputKind.LINK:
            return state == "open"
        return state in {"off", "open", "released"}

    # -- events --------------------------------------------------------------------------------------------------

    def trigger_source(self, node: ex.Trigger) -> str:
        """Give a trigger as a Python expression over ``n`` (now), ``b`` (before) and ``f`` (the facts)."""
        match node:
            case ex.PowerUp():
                return f"((f & {POWER_UP}) != 0)"
            case ex.Edge(of=of, word="expires"):
                assert isinstance(of, ex.Name)
                return f"((f & {expired_bit(self.timing_of_name(of.name))}) != 0)"
            case ex.Edge(of=of, word=word):
                now, before = self.source(of, "n"), self.source(of, "b")
                if word in {"begins", "closes"}:
                    return f"({now} and not {before})"
                if word in {"ends", "opens"}:
                    return f"({before} and not {now})"
                return f"({now} != {before})"
            case ex.EventOr(items=events):
                return "(" + " or ".join(self.trigger_source(item) for item in events) + ")"
            case ex.TriggerOr(items=items):
                return "(" + " or ".join(self.trigger_source(item) for item in items) + ")"
            case ex.EventWhile(event=event, condition=condition):
                return f"({self.trigger_source(event)} and {self.source(condition)})"
            case ex.LessThanAfter(event=event, after=after):
                delay = next(d for d in self.machine.delays if d.hidden and d.begins is after)
                slot, bit = self.delay_slot(delay.index), expired_bit(delay.timing)
                return f"(b[{slot}] and (f & {bit}) == 0 and {self.trigger_source(event)})"
        return self.source(node)


def _walk_outside_for(expression: ex.Expression) -> list[ex.Expression]:
    found = [expression]
    if not isinstance(expression, ex.For):
        for part in ex.parts(expression):
            found += _walk_outside_for(part)
    return found


def _function(parameters: str, source: str) -> object:
    return eval(f"lambda {parameters}: {source}", {"__builtins__": {}})

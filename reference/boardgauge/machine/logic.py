"""Turn the expressions of a spec into functions over pictures.

Law of this module: a *picture* is a list of booleans, one slot a named thing; a condition reads one picture, an
event compares the picture with *before* (and with the facts of the instant), never with an earlier look.
"""

from __future__ import annotations

from collections.abc import Callable

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
        match node:
            case ex.Name(name=name) | ex.Reached(name=name):
                return _holds(self.slots[name])
            case ex.InState(name=name, state=state):
                slot = self.slots[name]
                return _holds_not(slot) if self._false_word(name, state) else _holds(slot)
            case ex.Comparison():
                return _holds(self.comparison_slots[node])
            case ex.For():
                return _holds(self.for_slots[self.timing_of_for(node)])
            case ex.Not(item=item):
                inner = self.condition(item)
                return lambda now: not inner(now)
            case ex.And(items=items):
                checks = [self.condition(item) for item in items]
                return lambda now: all(check(now) for check in checks)
            case ex.Or(items=items):
                checks = [self.condition(item) for item in items]
                return lambda now: any(check(now) for check in checks)

    def _false_word(self, name: str, state: str) -> bool:
        row = self.machine.board.inputs.get(name)
        if row is not None and row.kind is InputKind.LINK:
            return state == "open"
        return state in {"off", "open", "released"}

    # -- events --------------------------------------------------------------------------------------------------

    def happens(self, node: ex.Trigger) -> Happens:
        """Compile a trigger (an event, a condition or a mixture) to a function of now, before and the facts."""
        match node:
            case ex.PowerUp():
                return lambda now, before, facts: bool(facts & POWER_UP)
            case ex.Edge(of=of, word="expires"):
                assert isinstance(of, ex.Name)
                bit = expired_bit(self.timing_of_name(of.name))
                return lambda now, before, facts: bool(facts & bit)
            case ex.Edge(of=of, word=word):
                return _edge(self.condition(of), word)
            case ex.EventOr(items=events):
                return _any_happens([self.happens(item) for item in events])
            case ex.TriggerOr(items=items):
                return _any_happens([self.happens(item) for item in items])
            case ex.EventWhile(event=event, condition=condition):
                happens, check = self.happens(event), self.condition(condition)
                return lambda now, before, facts: happens(now, before, facts) and check(now)
            case ex.LessThanAfter(event=event, after=after):
                return self._less_than_after(event, after)
        check = self.condition(node)
        return lambda now, before, facts: check(now)

    def _less_than_after(self, event: ex.Event, after: ex.Event) -> Happens:
        delay = next(d for d in self.machine.delays if d.hidden and d.begins is after)
        slot, bit = self.delay_slot(delay.index), expired_bit(delay.timing)
        happens = self.happens(event)
        return lambda now, before, facts: before[slot] and not facts & bit and happens(now, before, facts)


def _walk_outside_for(expression: ex.Expression) -> list[ex.Expression]:
    found = [expression]
    if not isinstance(expression, ex.For):
        for part in ex.parts(expression):
            found += _walk_outside_for(part)
    return found


def _holds(slot: int) -> Check:
    return lambda now: now[slot]


def _holds_not(slot: int) -> Check:
    return lambda now: not now[slot]


def _any_happens(items: list[Happens]) -> Happens:
    return lambda now, before, facts: any(item(now, before, facts) for item in items)


def _edge(check: Check, word: str) -> Happens:
    if word in {"begins", "closes"}:
        return lambda now, before, facts: check(now) and not check(before)
    if word in {"ends", "opens"}:
        return lambda now, before, facts: check(before) and not check(now)
    return lambda now, before, facts: check(now) != check(before)

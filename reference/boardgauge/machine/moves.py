"""How each kind of kept thing moves in one look.

Law of this module: a lockout in doubt trips; everything else in doubt ends. Each function reads one picture and says
where the thing is after the look; none remembers anything.
"""

from __future__ import annotations

from attrs import define, field, frozen

from boardgauge.language import expressions as ex
from boardgauge.language import model
from boardgauge.machine.logic import Check, Happens, Logic, Picture, expired_bit
from boardgauge.machine.table import Machine, Region


@frozen
class Trigger:
    """A compiled trigger. ``by_event`` is its events alone, None where it has none."""

    happens: Happens
    by_event: Happens | None

    @classmethod
    def of(cls, logic: Logic, expression: ex.Trigger) -> Trigger:
        happens = logic.happens(expression)
        if ex.is_event(expression):
            return cls(happens, happens)
        if isinstance(expression, ex.TriggerOr):
            events = [logic.happens(item) for item in expression.items if ex.is_event(item)]
            conditions = [logic.happens(item) for item in expression.items if not ex.is_event(item)]
            if events:

                def by_event(now: Picture, before: Picture, facts: int) -> bool:
                    return not any(c(now, before, facts) for c in conditions) and any(
                        e(now, before, facts) for e in events
                    )

                return cls(happens, by_event)
        return cls(happens, None)


@frozen
class Look:
    """What one look reads: the picture, the one before the instant, the facts, and the timings that were running."""

    now: Picture
    before: Picture
    facts: int
    running: int

    def over(self, timing: int | None) -> bool:
        """Tell whether a timing ran out in this instant."""
        return timing is not None and timing >= 0 and bool(self.facts & expired_bit(timing))

    def sees(self, trigger: Trigger | None) -> bool:
        """Tell whether a trigger holds in this picture."""
        return trigger is not None and trigger.happens(self.now, self.before, self.facts)


@define
class Mover:
    """The compiled triggers of one region: ``into`` takes it in (trips, begins, counts, flips), ``out`` out of it."""

    region: Region
    into: Trigger | None = None
    out: Trigger | None = None
    lasts: int | None = None
    at_least: int | None = None
    untils: tuple[Check | None, ...] = ()
    thens: tuple[int, ...] = ()
    if_nots: tuple[int, ...] = ()
    step_timings: tuple[int, ...] = ()
    adds_while: Check | None = field(default=None)

    def move(self, look: Look, place: int, start: int, moved: bool) -> int:
        """Give the place after a look; ``start`` is the place as the instant began, ``moved`` whether it has moved."""
        match self.region.kind:
            case "lockout":
                return self._lockout(look, place, start)
            case "mode" | "output":
                return self._mode(look, place, start)
            case "sequence":
                return self._sequence(look, place, moved)
            case "count":
                if look.sees(self.out):
                    return 0
                return min(place + 1, len(self.region.places) - 1) if not moved and look.sees(self.into) else place
            case "accumulator":
                if look.sees(self.out):
                    return 0
                return 1 if look.over(self.lasts) else place
            case "toggle":
                return 1 - start if not moved and look.sees(self.into) else place

    def _lockout(self, look: Look, place: int, start: int) -> int:
        if look.sees(self.into):
            return 1
        # Not in the instant in which it tripped: a lockout that a reset clears at once would never show.
        if place and start and (self._time_is_over(look) or look.sees(self.out)):
            return 0
        return place

    def _time_is_over(self, look: Look) -> bool:
        """Tell whether the time of a lockout that was tripped before ran out, in this instant or an earlier one."""
        return self.lasts is not None and (look.over(self.lasts) or not look.running >> self.lasts & 1)

    def _mode(self, look: Look, place: int, start: int) -> int:
        held = (
            place
            and self.at_least is not None
            and (not start or (look.running >> self.at_least & 1 and not look.over(self.at_least)))
        )
        if look.over(self.lasts) or (not held and look.sees(self.out)):
            return 0
        return 1 if place or look.sees(self.into) else 0

    def _sequence(self, look: Look, place: int, moved: bool) -> int:
        if look.sees(self.out):
            return 0
        if place == 0:
            # What has ended in an instant begins again in a further one at the earliest: a step's time that ran out
            # is a fact of this one, and would end it again.
            return 1 if not moved and look.sees(self.into) else 0
        until = self.untils[place]
        if until is not None and until(look.now):
            return self.thens[place]
        return self.if_nots[place] if look.over(self.step_timings[place]) else place

    def moved_by_event(self, look: Look, old: int, new: int) -> Happens | None:
        """Give the trigger whose event made a move of this look, None where a condition or a time made it.

        A settled picture that does not show the trigger any more contradicts the move.
        """
        entering = (old == 0 and new > 0) or self.region.kind in {"count", "toggle"}
        if self.region.kind == "count" and new == 0:
            entering = False
        if not entering and (look.over(self.lasts) or (self.region.kind == "sequence" and new != 0)):
            return None
        trigger = self.into if entering else self.out
        if trigger is None or trigger.by_event is None:
            return None
        return trigger.happens if trigger.by_event(look.now, look.before, look.facts) else None


def mover(machine: Machine, logic: Logic, region: Region) -> Mover:
    """Compile the triggers of one region."""
    board = machine.board
    made = Mover(region)
    if region.kind == "output":
        into, out = board.outputs[region.rule].starts, board.outputs[region.rule].stops
        made.into = None if into is None else Trigger.of(logic, into)
        made.out = None if out is None else Trigger.of(logic, out)
        return made
    rule = board.rules[region.rule]
    first, second = triggers_of(rule)
    made.into = None if first is None else Trigger.of(logic, first)
    made.out = None if second is None else Trigger.of(logic, second)
    for timing in region.timings:
        role = machine.timings[timing].role
        if role == "at least":
            made.at_least = timing
        elif role in {"at most", "lasts", "target"}:
            made.lasts = timing
    if isinstance(rule, model.Accumulator):
        made.adds_while = logic.condition(rule.adds_while)
    if isinstance(rule, model.Sequence):
        _add_steps(made, rule, machine, logic)
    return made


def triggers_of(rule: model.Rule) -> tuple[ex.Trigger | None, ex.Trigger | None]:
    """Give the trigger that takes a rule in (trips, begins, counts, flips) and the one that takes it out."""
    match rule:
        case model.Lockout():
            return rule.trips, rule.clears
        case model.Count():
            return rule.counts, rule.forgets
        case model.Accumulator():
            return None, rule.resets
        case model.Mode() | model.Sequence():
            return rule.begins, rule.ends
        case model.Toggle():
            return rule.flips, None
        case model.Delay():
            raise TypeError("a delay is followed, not kept: it has no region")


def _add_steps(made: Mover, rule: model.Sequence, machine: Machine, logic: Logic) -> None:
    place = {name: number for number, name in enumerate(made.region.places)} | {"end": 0}
    timing = {machine.timings[t].name: t for t in made.region.timings}
    made.untils = (None, *(None if s.until is None else logic.condition(s.until) for s in rule.steps))
    made.thens = (0, *(place[s.then] for s in rule.steps))
    made.if_nots = (0, *(place[s.if_not if s.until is not None and s.if_not else s.then] for s in rule.steps))
    made.step_timings = (-1, *(timing.get(s.name, -1) for s in rule.steps))

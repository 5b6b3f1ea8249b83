"""How what is kept moves, look by look, through one instant: the clauses on each kind of rule.

Law of this module: all look at the same picture and move together; who may move again, and who may not, is said here.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from attrs import define, field

from boardgauge.language import expressions as ex
from boardgauge.language.model import Accumulator, Board, Count, Lockout, Mode, Output, Sequence, Step, Toggle
from oracle.look import Facts, Key, Look, Place, Refused


@define
class Mover:
    """What is kept, moving through the looks of one instant."""

    board: Board
    steps: Mapping[str, tuple[str, Step]]
    running: frozenset[Key]
    over: frozenset[str]
    facts: Facts
    places: dict[str, Place]
    counted: set[str] = field(factory=set)
    forgot: set[str] = field(factory=set)
    on_an_event: dict[str, ex.Trigger] = field(factory=dict)
    led_by: dict[str, ex.Trigger] = field(factory=dict)
    trail: dict[str, list[Place]] = field(factory=dict)

    def moves(self, look: Look) -> dict[str, tuple[Place, ex.Trigger | None]]:
        """Give what would move at this look, where to, and the trigger that it moves on (None: a timing's end)."""
        found = {}
        rows: list[tuple[str, object]] = [*self.board.rules.items(), *self.board.outputs.items()]
        for name, row in rows:
            if name in self.places:
                place, trigger = self._move(name, row, look)
                # A count that was full looks the same with one more, yet its newest event is another.
                counts = isinstance(row, Count) and trigger is row.counts
                if place != self.places[name] or counts:
                    found[name] = (place, trigger)
        return found

    def _ended(self, sort: str, name: str) -> bool:
        return (sort, name, 0) in self.facts.ended

    def _move(self, name: str, row: object, look: Look) -> tuple[Place, ex.Trigger | None]:
        place, trail = self.places[name], self.trail.get(name, [])
        match row:
            case Lockout():
                if look.triggers(row.trips):
                    return True, row.trips
                if place and True not in trail:
                    if row.clears is not None and look.triggers(row.clears):
                        return False, row.clears
                    if name in self.over or self._ended("lasts", name):
                        return False, None
            case Mode():
                young = ("at_least", name, 0) in self.running and not self._ended("at_least", name)
                young = row.at_least is not None and bool(place) and (young or True in trail)
                if self._ended("at_most", name):
                    return False, None
                if not young and look.triggers(row.ends):
                    return False, row.ends
                if look.triggers(row.begins):
                    return True, row.begins
            case Sequence():
                return self._step(name, row, look)
            case Count():
                if row.forgets is not None and look.triggers(row.forgets):
                    return (), row.forgets
                if name not in self.counted and name not in self.forgot and look.happens(row.counts):
                    assert isinstance(place, tuple)
                    return (True, *place)[: row.limit], row.counts
            case Accumulator():
                if row.resets is not None and look.triggers(row.resets):
                    return False, row.resets
                if self._ended("target", name):
                    return True, None
            case Toggle() if not trail and look.happens(row.flips):
                return not place, row.flips
            case Output(starts=starts, stops=stops) if starts is not None and stops is not None:
                if look.holds(stops):
                    return False, stops
                if look.holds(starts):
                    return True, starts
        return place, None

    def _step(self, name: str, row: Sequence, look: Look) -> tuple[Place, ex.Trigger | None]:
        place = self.places[name]
        if look.triggers(row.ends):
            return None, row.ends
        if place is None:
            return (row.steps[0].name, row.begins) if look.triggers(row.begins) else (None, None)
        step = self.steps[str(place)][1]
        onward = {"end": None}
        if step.until is not None and look.holds(step.until):
            return onward.get(step.then, step.then), step.until
        if self._ended("step", step.name) and not self.trail.get(name):
            goes = step.then if step.until is None else str(step.if_not)
            return onward.get(goes, goes), None
        return place, None

    def take(self, moves: Mapping[str, tuple[Place, ex.Trigger | None]], look: Look) -> None:
        """Move, all together."""
        for name, (place, trigger) in moves.items():
            rule = self.board.rules.get(name)
            trail = self.trail.setdefault(name, [])
            if isinstance(rule, Count):
                (self.forgot if place == () else self.counted).add(name)
                self.counted -= self.forgot
            elif isinstance(rule, Sequence):
                if place in trail or (place is not None and None in trail) or len(trail) > len(rule.steps):
                    raise Refused(f"{name} passes through a step twice")
                self.led_by.pop(name, None)
                if trigger is not None:
                    self.led_by[name] = trigger
            elif len(trail) >= 2:
                raise Refused(f"{name} moves a further time")
            trail.append(place)
            self.places = {**self.places, name: place}
            self.on_an_event.pop(name, None)
            if trigger is not None and not self._still(trigger, look):
                self.on_an_event[name] = trigger

    def _still(self, trigger: ex.Trigger, look: Look) -> bool:
        """Tell whether a trigger would hold without any event: it is looked at with nothing different from before."""
        items: Iterable[ex.Condition | ex.Event] = trigger.items if isinstance(trigger, ex.TriggerOr) else (trigger,)
        return any(not ex.is_event(item) and look.holds(item) for item in items)  # type: ignore[arg-type]

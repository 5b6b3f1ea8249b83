"""Sort out, of all combinations of states at once, those in which a board may rest.

Law of this module: no combination is left out that rests (``Engine.rests``) and whose running timings are right as they
stand. Combinations are rows of arrays, a slot of a picture is a column; what is read is the machine's own table and
the sources that its engine is made of.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import numpy as np
import numpy.typing as npt

from boardgauge.language import expressions as ex
from boardgauge.language import model
from boardgauge.machine.settle import Engine
from boardgauge.machine.table import Region

Column = npt.NDArray[np.bool_]
Columns = list[Column]
Holds = Callable[[Columns], Column]
Numbers = npt.NDArray[np.int64]

AT_ONCE = 1 << 15
"""So many rows are looked at at once: more take more memory, and no less time."""

_SIGNS = ((" and ", " & "), (" or ", " | "), ("not ", "~"))


class Resting:
    """Finds, for one engine, the rows that may rest."""

    def __init__(self, engine: Engine) -> None:
        self.engine = engine
        machine, logic = engine.machine, engine.logic
        self._delays = [(logic.delay_slot(d.index), d.timing, self._standing(d.cut_by)) for d in machine.delays]
        delays = {slot for slot, _, _ in self._delays}
        sources: dict[int, tuple[Holds, int]] = {}
        for named in machine.board.conditions.values():
            sources[logic.slots[named.id]] = self._holds(named.is_), -1
        for output in machine.outputs:
            if output.on is not None:
                sources[logic.slots[output.output]] = self._holds(output.on), -1
        self._fors: list[tuple[int, Holds]] = []
        for timing in machine.timings:
            if isinstance(timing.condition, ex.For):
                check = self._holds(timing.condition.condition)
                self._fors.append((timing.index, check))
                sources[logic.for_slots[timing.index]] = check, timing.index
        self._followed = [
            (slot, *sources[slot]) for group, _ in engine.painter.groups for slot in group if slot not in delays
        ]
        self._regions = [(region, *self._ways(region)) for region in machine.regions]

    def _holds(self, node: ex.Condition) -> Holds:
        source = self.engine.logic.source(node)
        for word, sign in _SIGNS:
            source = source.replace(word, sign)
        found: Holds = eval(f"lambda n: {source}", {"__builtins__": {}})
        return found

    def _standing(self, trigger: ex.Trigger | None) -> Holds | None:
        """Give what of a trigger can hold while nothing happens: its conditions; None if there are none."""
        if trigger is None or ex.is_event(trigger):
            return None
        if isinstance(trigger, ex.TriggerOr):
            parts = [part for part in map(self._standing, trigger.items) if part is not None]
            return lambda now: np.logical_or.reduce([part(now) for part in parts])
        return self._holds(trigger)  # type: ignore[arg-type]

    def _ways(self, region: Region) -> tuple[Holds | None, Holds | None]:
        """Give what stands for a region's way in, and for its way out."""
        board = self.engine.machine.board
        if region.kind == "output":
            row = board.outputs[region.rule]
            return self._standing(row.starts), self._standing(row.stops)
        rule = board.rules[region.rule]
        match rule:
            case model.Lockout():
                into, out = rule.trips, rule.clears
            case model.Count():
                into, out = rule.counts, rule.forgets
            case model.Accumulator():
                return None, self._standing(rule.resets)
            case model.Mode() | model.Sequence():
                into, out = rule.begins, rule.ends
            case model.Toggle():
                return self._standing(rule.flips), None
            case _:
                return None, None
        return self._standing(into), self._standing(out)

    def rows(self, levels: Sequence[bool], places: Numbers, running: Numbers, full: Numbers) -> Column:
        """Tell which rows may rest: ``places`` has a column a region, the others a number of bits a row."""
        count = len(running)
        now = self._picture(levels, places, running, full)
        kept = np.ones(count, dtype=bool)
        for timing, check in self._fors:
            kept &= check(now) | ~_bit(full, timing)
        for _, timing, cut in self._delays:
            if cut is not None:
                kept &= ~(cut(now) & _bit(running, timing))
        nothing = np.zeros(count, dtype=bool)
        for column, (region, into, out) in enumerate(self._regions):
            enters = nothing if into is None else into(now)
            leaves = nothing if out is None else out(now)
            kept &= self._stays(region, places[:, column], enters, leaves, now, running)
        return kept

    def _picture(self, levels: Sequence[bool], places: Numbers, running: Numbers, full: Numbers) -> Columns:
        logic, machine = self.engine.logic, self.engine.machine
        now: Columns = [np.zeros(len(running), dtype=bool)] * logic.width
        for level in machine.levels:
            now[logic.level_slot(level)] = np.full(len(running), levels[level.index])
        for column, region in enumerate(machine.regions):
            own = places[:, column]
            now[logic.slots[region.rule]] = own >= (len(region.places) - 1 if region.kind == "count" else 1)
            if region.kind == "sequence":
                for number, step in enumerate(region.places[1:], start=1):
                    now[logic.slots[step]] = own == number
        for slot, timing, _ in self._delays:
            now[slot] = _bit(running, timing)
        for slot, check, timing in self._followed:
            now[slot] = check(now) if timing < 0 else _bit(full, timing) & check(now)
        return now

    def _stays(
        self, region: Region, place: Numbers, enters: Column, leaves: Column, now: Columns, running: Numbers
    ) -> Column:
        """Tell where a region stays in its place: see ``Mover.move``, with nothing happening."""
        inside, timings = place > 0, self.engine.machine.timings
        match region.kind:
            case "lockout":
                over = [~_bit(running, t) for t in region.timings if timings[t].role == "lasts"]
                for one in over:
                    leaves = leaves | one
                return np.where(inside, enters | ~leaves, ~enters)
            case "mode" | "output":
                held = np.zeros(len(place), dtype=bool)
                for timing in region.timings:
                    if timings[timing].role == "at least":
                        held |= _bit(running, timing)
                return np.where(inside, held | ~leaves, leaves | ~enters)
            case "sequence":
                rule = self.engine.machine.board.rules[region.rule]
                assert isinstance(rule, model.Sequence)
                stays = np.where(inside, ~leaves, leaves | ~enters)
                for number, step in enumerate(rule.steps, start=1):
                    if step.until is not None and step.then != step.name:
                        stays &= (place != number) | ~self._holds(step.until)(now)
                return stays
            case "count":
                return np.where(leaves, ~inside, ~enters | (place == len(region.places) - 1))
            case "accumulator":
                return ~(leaves & inside)
            case "toggle":
                return ~enters


def _bit(bits: Numbers, index: int) -> Column:
    return (bits >> index & 1).astype(bool)


def combinations(parts: Sequence[int]) -> Iterator[Numbers]:
    """Give all combinations of digits below these numbers in blocks of rows, the last digit turning fastest."""
    total = 1
    for part in parts:
        total *= part
    for first in range(0, total, AT_ONCE):
        rest = np.arange(first, min(total, first + AT_ONCE), dtype=np.int64)
        digits = np.empty((len(rest), len(parts)), dtype=np.int64)
        for column in range(len(parts) - 1, -1, -1):
            rest, digits[:, column] = np.divmod(rest, parts[column])
        yield digits

"""Find what set a timing going, for the stopwatch at the terminals.

Law of this module: it was the input if its change alone, all else as before, would have done it; else the output whose
change would have; else the causes of the instant themselves.
"""

from __future__ import annotations

from collections.abc import Iterable

from attrs import define

from boardgauge.machine.config import THE_INSTANT, Cause
from boardgauge.machine.logic import Happens, Logic, Picture
from boardgauge.machine.picture import Painter
from boardgauge.machine.table import Machine


@define
class Blame:
    """Finds causes in the pictures of one machine."""

    machine: Machine
    logic: Logic
    painter: Painter

    def cause(self, happens: Happens, now: Picture, before: Picture) -> Cause:
        """Give the cause of a trigger that holds in ``now`` (power-up and times over never count as inputs)."""
        level_slots = [self.logic.level_slot(level) for level in self.machine.levels]
        changed = [i for i, slot in enumerate(level_slots) if now[slot] != before[slot]]
        for group in _one_by_one_then_all(changed):
            mixed = list(before)
            for index in group:
                mixed[level_slots[index]] = now[level_slots[index]]
            if happens(self.painter.conditions_again(mixed), before, 0):
                return Cause("inputs", tuple(group))
        inputs_new = list(before)
        for slot in level_slots:
            inputs_new[slot] = now[slot]
        output_slots = [self.logic.slots[row.output] for row in self.machine.outputs]
        flipped = [i for i, slot in enumerate(output_slots) if now[slot] != before[slot]]
        for group in _one_by_one_then_all(flipped):
            mixed = list(inputs_new)
            for index in group:
                mixed[output_slots[index]] = now[output_slots[index]]
            if happens(self.painter.conditions_again(mixed), before, 0):
                return Cause("outputs", tuple(group))
        return THE_INSTANT


def _one_by_one_then_all(items: list[int]) -> Iterable[list[int]]:
    for item in items:
        yield [item]
    if len(items) > 1:
        yield items

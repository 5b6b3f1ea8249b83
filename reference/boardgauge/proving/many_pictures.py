"""Draw the pictures of very many moments at once.

Law of this module: each is the picture that ``Painter`` draws of that moment alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from boardgauge.language import expressions as ex
from boardgauge.machine.logic import POWER_UP, expired_bit
from boardgauge.machine.settle import Engine
from boardgauge.machine.table import DelayRow
from boardgauge.proving.many_rules import Check, Drawn, Facts, Happens, Place, check_of, happens_of
from boardgauge.proving.words import NO, Bits, any_of


class Standing(NamedTuple):
    """What very many boards are in: each place of a region is a column, so is each timing that may run."""

    levels: tuple[Bits, ...]
    places: tuple[tuple[Bits, ...], ...]
    running: tuple[Bits, ...]
    full: tuple[Bits, ...]

    def columns(self) -> list[Bits]:
        """Give all of it but the levels."""
        return [*(bits for place in self.places for bits in place), *self.running, *self.full]


class _Delay(NamedTuple):
    row: DelayRow
    begins: Happens
    cut_by: Happens | None


class ManyPictures:
    """Draws pictures of one machine."""

    def __init__(self, engine: Engine) -> None:
        machine, logic = engine.machine, engine.logic
        self.machine, self.logic = machine, logic
        self.no_facts: dict[int, Bits] = {POWER_UP: NO} | {expired_bit(t.index): NO for t in machine.timings}
        self.level_slots = [logic.level_slot(level) for level in machine.levels]
        self.output_slots = [logic.slots[row.output] for row in machine.outputs]
        self.delays = {
            logic.delay_slot(d.index): _Delay(
                d, happens_of(logic, d.begins), None if d.cut_by is None else happens_of(logic, d.cut_by)
            )
            for d in machine.delays
        }
        self.fors = {
            logic.for_slots[t.index]: (t.index, check_of(logic, t.condition.condition))
            for t in machine.timings
            if isinstance(t.condition, ex.For)
        }
        self._followed = {logic.slots[c.id]: check_of(logic, c.is_) for c in machine.board.conditions.values()}
        named = frozenset(self._followed)
        self._followed |= {logic.slots[o.output]: check_of(logic, o.on) for o in machine.outputs if o.on is not None}
        self._groups = engine.painter.groups
        self._conditions: list[tuple[int, Check]] = [
            (slot, self._followed[slot]) for slots, _ in self._groups for slot in slots if slot in named
        ]

    def settled(self, standing: Standing) -> Drawn:
        """Give settled pictures."""
        now = self._base(standing.levels, standing.places)
        for slot, delay in self.delays.items():
            now[slot] = standing.running[delay.row.timing]
        for slots, _ in self._groups:
            for slot in slots:
                if slot not in self.delays:
                    self._follow(slot, now, self.no_facts, standing.full)
        return now

    def draw(
        self, standing: Standing, levels: Sequence[Bits], places: Sequence[Place], before: Drawn, facts: Facts
    ) -> tuple[Drawn, Bits]:
        """Give pictures in which something happens, and tell which contradict themselves."""
        now = self._base(levels, places)
        refused: Bits = NO
        for slots, circle in self._groups:
            if circle:
                refused = refused | self._draw_circle(slots, now, before, facts, standing)
                continue
            for slot in slots:
                if slot in self.delays:
                    self._draw_delay(slot, now, before, facts, standing)
                else:
                    self._follow(slot, now, facts, standing.full)
        return now, refused

    def conditions_again(self, mixed: Drawn) -> Drawn:
        """Work out the conditions of made-up pictures again, in place, and give them back."""
        for slot, check in self._conditions:
            mixed[slot] = check(mixed)
        return mixed

    def _base(self, levels: Sequence[Bits], places: Sequence[Place]) -> Drawn:
        now: Drawn = [NO] * self.logic.width
        for slot, value in zip(self.level_slots, levels, strict=True):
            now[slot] = value
        for region, place in zip(self.machine.regions, places, strict=True):
            now[self.logic.slots[region.rule]] = place[-1] if region.kind == "count" else ~place[0]
            if region.kind == "sequence":
                for step, value in zip(region.places[1:], place[1:], strict=True):
                    now[self.logic.slots[step]] = value
        return now

    def _follow(self, slot: int, now: Drawn, facts: Facts, full: Sequence[Bits]) -> None:
        held = self.fors.get(slot)
        if held is None:
            now[slot] = self._followed[slot](now)
        else:
            timing, check = held
            now[slot] = facts[expired_bit(timing)] | (full[timing] & check(now))

    def _draw_delay(self, slot: int, now: Drawn, before: Drawn, facts: Facts, standing: Standing) -> None:
        row, begins, cut_by = self.delays[slot]
        active = begins(now, before, facts) | (standing.running[row.timing] & ~facts[expired_bit(row.timing)])
        now[slot] = active if cut_by is None else active & ~cut_by(now, before, facts)

    def _draw_circle(self, slots: list[int], now: Drawn, before: Drawn, facts: Facts, standing: Standing) -> Bits:
        delays = [slot for slot in slots if slot in self.delays]
        for slot in delays:
            timing = self.delays[slot].row.timing
            now[slot] = standing.running[timing] & ~facts[expired_bit(timing)]
        differ: Bits = NO
        for _ in range(len(delays) + 2):
            earlier = [now[slot] for slot in slots]
            for _ in slots:
                for slot in slots:
                    if slot not in self.delays:
                        self._follow(slot, now, facts, standing.full)
            for slot in delays:
                self._draw_delay(slot, now, before, facts, standing)
            differ = any_of(now[slot] ^ was for slot, was in zip(slots, earlier, strict=True))
            if not np.any(differ):
                return NO
        return differ

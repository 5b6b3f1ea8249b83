"""Draw the picture of a moment: every followed thing, worked out from the given and the kept.

Law of this module: followed things are worked out in the order of what reads what. Delays that read one another in
a circle start from *not begun* and are worked out again until nothing changes; if one round a delay does not do, the
spec contradicts itself (``ContradictsItself``). A circle without a delay never reaches this module.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence

from attrs import define, field

from boardgauge.language import expressions as ex
from boardgauge.machine.logic import Logic, Picture, expired_bit
from boardgauge.machine.table import DelayRow, Machine

Draw = Callable[[Picture, Picture, int, int, int], None]
"""Work out one slot: (now, before, facts, running, full)."""


class CannotSettle(Exception):
    """The rules of a spec do not come to rest in an instant, or contradict each other in it.

    ``rules`` are those that move each other, in the order of the spec, where it is known which.
    """

    def __init__(self, reason: str, rules: tuple[str, ...] = ()) -> None:
        super().__init__(reason)
        self.rules = rules


class ContradictsItself(CannotSettle):
    """Delays that read one another in a circle find no picture that agrees with itself."""


@define
class Painter:
    """Draws pictures of one machine."""

    machine: Machine
    logic: Logic
    groups: list[tuple[list[int], bool]] = field(factory=list)
    _sources: dict[int, str] = field(factory=dict)
    _draws: dict[int, Draw] = field(factory=dict)
    _reads: dict[int, set[int]] = field(factory=dict)
    _output_slots: set[int] = field(factory=set)
    _draw_all: list[tuple[Draw | None, list[int]]] = field(factory=list)
    _draw_but_delays: list[tuple[Draw | None, list[int]]] = field(factory=list)
    _draw_conditions: list[tuple[Draw | None, list[int]]] = field(factory=list)
    _delay_slots: set[int] = field(factory=set)
    _condition_slots: set[int] = field(factory=set)
    _level_slots: list[int] = field(factory=list)
    _region_slots: list[tuple[int, int, list[int]]] = field(factory=list)

    def __attrs_post_init__(self) -> None:
        logic = self.logic
        self._level_slots = [logic.level_slot(level) for level in self.machine.levels]
        for region in self.machine.regions:
            # A count is on at its limit alone, everything else in any place but the first.
            least = len(region.places) - 1 if region.kind == "count" else 1
            steps = [0, *(logic.slots[step] for step in region.places[1:])] if region.kind == "sequence" else []
            self._region_slots.append((logic.slots[region.rule], least, steps))
        for named in self.machine.board.conditions.values():
            slot = logic.slots[named.id]
            self._condition_slots.add(slot)
            self._follow(slot, named.is_)
        for output in self.machine.outputs:
            slot = logic.slots[output.output]
            self._output_slots.add(slot)
            if output.on is not None:
                self._follow(slot, output.on)
        for timing in self.machine.timings:
            if isinstance(timing.condition, ex.For):
                inner = timing.condition.condition
                slot = logic.for_slots[timing.index]
                bit = expired_bit(timing.index)
                self._sources[slot] = (
                    f"((f & {bit}) != 0) or ((u & {1 << timing.index}) != 0 and {logic.source(inner)})"
                )
                self._reads[slot] = logic.slots_read(inner)
        for delay in self.machine.delays:
            self._follow_delay(delay)
        self.groups = _order(self._reads)
        self._draws = {slot: _drawing([f"n[{slot}] = {source}"]) for slot, source in self._sources.items()}
        self._draw_all = self._joined(lambda slot: True)
        self._draw_but_delays = self._joined(lambda slot: slot not in self._delay_slots)
        self._draw_conditions = self._joined(lambda slot: slot in self._condition_slots)

    def _joined(self, wanted: Callable[[int], bool]) -> list[tuple[Draw | None, list[int]]]:
        """Join the drawing of neighbouring slots into one function each; circles stand on their own."""
        parts: list[tuple[Draw | None, list[int]]] = []
        lines: list[str] = []
        for slots, circle in self.groups:
            chosen = [slot for slot in slots if wanted(slot)]
            if circle and len(chosen) == len(slots):
                parts += [(_drawing(lines), []), (None, slots)]
                lines = []
            else:
                lines += [f"n[{slot}] = {self._sources[slot]}" for slot in chosen]
        return [*parts, (_drawing(lines), [])]

    def _follow(self, slot: int, expression: ex.Condition) -> None:
        self._sources[slot] = self.logic.source(expression)
        self._reads[slot] = self.logic.slots_read(expression)

    def _follow_delay(self, delay: DelayRow) -> None:
        slot, timing = self.logic.delay_slot(delay.index), delay.timing
        self._delay_slots.add(slot)
        begins = self.logic.trigger_source(delay.begins)
        source = f"({begins} or ((r & {1 << timing}) != 0 and (f & {expired_bit(timing)}) == 0))"
        self._reads[slot] = self.logic.slots_read(delay.begins)
        if delay.cut_by is not None:
            source += f" and not {self.logic.trigger_source(delay.cut_by)}"
            self._reads[slot] |= self.logic.slots_read(delay.cut_by)
        self._sources[slot] = source

    def draw(
        self,
        levels: Iterable[bool],
        places: tuple[int, ...],
        before: Picture | None,
        facts: int,
        running: int,
        full: int,
    ) -> Picture:
        """Give the picture; ``before`` is None for the picture of a settled moment, in which nothing happens."""
        now = self.base(levels, places)
        if before is None:
            self._draw_settled(now, running, full)
            return now
        for draw, circle in self._draw_all:
            if draw is None:
                self._draw_circle(circle, now, before, facts, running, full)
            else:
                draw(now, before, facts, running, full)
        return now

    def draws_otherwise(self, other: Painter) -> Iterator[tuple[int, Draw]]:
        """Give the slots that another painter works out otherwise, each with how it does; both have the same slots."""
        for slot, source in self._sources.items():
            if other._sources.get(slot) != source:
                yield slot, other._draws[slot]

    def base(self, levels: Iterable[bool], places: tuple[int, ...]) -> Picture:
        """Give a picture with the given and the kept filled in, and every followed thing still off."""
        now = [False] * self.logic.width
        for slot, value in zip(self._level_slots, levels, strict=True):
            now[slot] = value
        for (slot, least, steps), place in zip(self._region_slots, places, strict=True):
            if place >= least:
                now[slot] = True
                if steps:
                    now[steps[place]] = True
        return now

    def _draw_settled(self, now: Picture, running: int, full: int) -> None:
        for delay in self.machine.delays:
            now[self.logic.delay_slot(delay.index)] = bool(running >> delay.timing & 1)
        for draw, circle in self._draw_but_delays:
            if draw is not None:
                draw(now, now, 0, running, full)
            for slot in circle:
                self._draws[slot](now, now, 0, running, full)

    def at_rest(self) -> Picture:
        """Give the picture before power-up: every input at rest, every rule and output off."""
        levels = [level.at_rest for level in self.machine.levels]
        now = self.base(levels, (0,) * len(self.machine.regions))
        return self.conditions_again(now)

    def conditions_again(self, mixed: Picture) -> Picture:
        """Work out the conditions of a made-up picture again, in place, and give it back.

        Conditions have no memory of their own, so they follow whatever else in the picture was changed.
        """
        for draw, _ in self._draw_conditions:
            if draw is not None:
                draw(mixed, mixed, 0, 0, 0)
        return mixed

    def _draw_circle(
        self, slots: list[int], now: Picture, before: Picture, facts: int, running: int, full: int
    ) -> None:
        delays = [slot for slot in slots if slot in self._delay_slots]
        self._delays_so_far(delays, now, facts, running)
        for _ in range(len(delays) + 2):
            earlier = [now[slot] for slot in slots]
            self._follow_between(slots, now, before, facts, running, full)
            for slot in delays:
                self._draws[slot](now, before, facts, running, full)
            if [now[slot] for slot in slots] == earlier:
                return
        self._disagree(slots, now, before, facts, running, full)

    def _delays_so_far(self, delays: Sequence[int], now: Picture, facts: int, running: int) -> None:
        """Put into a picture which delays of a circle were running and are not over."""
        for delay in self.machine.delays:
            slot = self.logic.delay_slot(delay.index)
            if slot in delays:
                now[slot] = bool(running >> delay.timing & 1) and not facts & expired_bit(delay.timing)

    def _follow_between(
        self, slots: Sequence[int], now: Picture, before: Picture, facts: int, running: int, full: int
    ) -> None:
        """Work out what lies between the delays of a circle: each of the passes carries it one step further."""
        for _ in slots:
            for slot in slots:
                if slot not in self._delay_slots:
                    self._draws[slot](now, before, facts, running, full)

    def _disagree(
        self, slots: Sequence[int], now: Picture, before: Picture, facts: int, running: int, full: int
    ) -> None:
        """See to a circle of which no picture agrees with itself. Raises ContradictsItself."""
        names = [name for name, slot in self.logic.slots.items() if slot in slots and slot in self._delay_slots]
        raise ContradictsItself(f"{' and '.join(names)}: the delay begins only if it does not begin", tuple(names))


class ScanningPainter(Painter):
    """Draws pictures as firmware does that goes through its rules once: what a delay that begins undoes is undone."""

    def _disagree(
        self, slots: Sequence[int], now: Picture, before: Picture, facts: int, running: int, full: int
    ) -> None:
        delays = [slot for slot in slots if slot in self._delay_slots]
        self._delays_so_far(delays, now, facts, running)
        self._follow_between(slots, now, before, facts, running, full)
        for slot in delays:
            self._draws[slot](now, before, facts, running, full)
        self._follow_between(slots, now, before, facts, running, full)


def _drawing(lines: list[str]) -> Draw:
    """Make a function of lines that each work out one slot: n now, b before, f facts, r running, u full."""
    body = "".join(f"    {line}\n" for line in lines) or "    pass\n"
    space: dict[str, Draw] = {}
    exec(f"def draw(n, b, f, r, u):\n{body}", {"__builtins__": {}}, space)
    return space["draw"]


def _order(reads: dict[int, set[int]]) -> list[tuple[list[int], bool]]:
    """Put the slots in the order of what reads what; circles come as one group (Tarjan 1972)."""
    number: dict[int, int] = {}
    low: dict[int, int] = {}
    stack: list[int] = []
    groups: list[tuple[list[int], bool]] = []

    def visit(slot: int) -> None:
        number[slot] = low[slot] = len(number)
        stack.append(slot)
        for other in sorted(reads[slot] & reads.keys()):
            if other not in number:
                visit(other)
                low[slot] = min(low[slot], low[other])
            elif other in stack:
                low[slot] = min(low[slot], number[other])
        if low[slot] == number[slot]:
            group: list[int] = []
            while slot not in group:
                group.append(stack.pop())
            groups.append((sorted(group), len(group) > 1 or slot in reads[slot]))

    for slot in sorted(reads):
        if slot not in number:
            visit(slot)
    return groups

"""The pictures in C: every named thing, on or off, at one look.

Law of this module: the order of what reads what is that of the reference's own painter, circles included.
"""

from __future__ import annotations

from collections.abc import Iterator

from boardgauge.exports.c99.comments import comment, origin, says
from boardgauge.exports.c99.logic import CLogic
from boardgauge.exports.c99.shape import Shape
from boardgauge.language import expressions as ex
from boardgauge.machine.table import DelayRow


def picture_types(shape: Shape) -> Iterator[str]:
    """Give the types of a picture and of the facts of an instant."""
    yield from comment("Everything with a name, on or off, at one look.")
    yield "typedef struct {"
    for slot in range(shape.logic.width):
        yield f"    bool {shape.slots[slot]};"
    if not shape.logic.width:
        yield "    bool none;"
    yield "} picture;"
    yield ""
    yield from comment("What happens in an instant besides what the inputs do.")
    over = [shape.timings[t.index] for t in shape.machine.timings if t.role != "window"]
    dropped = [shape.regions[r.index] for r in shape.machine.regions if r.kind == "count" and r.timings]
    yield "typedef struct {"
    yield "    bool power_up;"
    rows = " ".join(f"bool {name};" for name in over)
    yield f"    struct {{ {rows or 'bool none;'} }} over; /* times that ran out */"
    yield (
        f"    struct {{ {' '.join(f'bool {name};' for name in dropped) or 'bool none;'} }} dropped; "
        "/* counts of which the oldest event is too old */"
    )
    yield "} facts;"


def picture_functions(shape: Shape) -> Iterator[str]:
    """Give the functions that draw pictures."""
    drawing = _Drawing(shape, CLogic(shape))
    yield from drawing.base()
    yield from drawing.conditions()
    yield from drawing.at_rest()
    yield from drawing.settled()
    yield from drawing.look()


class _Drawing:
    def __init__(self, shape: Shape, logic: CLogic) -> None:
        self.shape = shape
        self.c = logic
        self.machine = shape.machine
        self.delays = {shape.logic.delay_slot(d.index): d for d in self.machine.delays}
        self.fors = {shape.logic.for_slots[t.index]: t for t in self.machine.timings if t.role == "for"}
        self.named = {shape.logic.slots[c.id]: c for c in shape.board.conditions.values()}
        self.outputs = {shape.logic.slots[o.output]: o for o in self.machine.outputs if o.on is not None}

    def base(self) -> Iterator[str]:
        shape = self.shape
        yield from comment("What is given and what is kept, with all that follows from it still off.")
        yield "static void begin_picture(picture *n, const board_state *level, const board_state *place)"
        yield "{"
        yield "    static const picture off;"
        yield "    *n = off;"
        yield "    (void)level;"
        yield "    (void)place;"
        for level in self.machine.levels:
            name = shape.slots[shape.logic.level_slot(level)]
            yield f"    n->{name} = level->level.{name};"
        for region in self.machine.regions:
            slot, place = shape.slots[shape.logic.slots[region.rule]], f"place->place.{shape.regions[region.index]}"
            least = f"{place} >= {len(region.places) - 1}" if region.kind == "count" else f"{place} != 0"
            yield f"    n->{slot} = {least};"
            if region.kind == "sequence":
                for number, step in enumerate(region.places[1:], 1):
                    yield f"    n->{shape.slots[shape.logic.slots[step]]} = {place} == {number};"
        yield "}"
        yield ""

    def _line(self, slot: int) -> Iterator[str]:
        """Give the lines that work out one followed thing; n now, b before, f facts, s what runs."""
        shape, name = self.shape, f"n->{self.shape.slots[slot]}"
        if slot in self.named:
            row = self.named[slot]
            yield from comment(f"{origin(row.id, row.note.clause, row.at)}: {says(row.is_)}", "    ")
            yield f"    {name} = {self.c.condition(row.is_)};"
        elif slot in self.outputs:
            output = self.outputs[slot]
            assert output.on is not None
            at = shape.board.outputs[output.output].at
            yield from comment(f"{origin(output.output, output.clause, at)}: {says(output.on)}", "    ")
            yield f"    {name} = {self.c.condition(output.on)};"
        elif slot in self.fors:
            timing = self.fors[slot]
            assert isinstance(timing.condition, ex.For)
            yield from comment(f"{origin(timing.owner, timing.clause, timing.at)}: {says(timing.condition)}", "    ")
            full, inner = f"s->full.{shape.timings[timing.index]}", self.c.condition(timing.condition.condition)
            yield f"    {name} = {self.c.over(timing.index)} || ({full} && {inner});"
        else:
            delay = self.delays[slot]
            yield from self._delay(delay, name)

    def _delay(self, delay: DelayRow, name: str) -> Iterator[str]:
        shape = self.shape
        timing = shape.machine.timings[delay.timing]
        cut = f"; cut by: {says(delay.cut_by)}" if delay.cut_by is not None else ""
        yield from comment(f"{origin(delay.rule, timing.clause, timing.at)}: {says(delay.begins)}{cut}", "    ")
        runs = f"(s->running.{shape.timings[delay.timing]} && !{self.c.over(delay.timing)})"
        unless = "" if delay.cut_by is None else f" && !{self.c.trigger(delay.cut_by)}"
        yield f"    {name} = ({self.c.trigger(delay.begins)} || {runs}){unless};"

    def conditions(self) -> Iterator[str]:
        """Give the drawing of named conditions alone, as before power-up."""
        if not self.named:
            return
        yield "static void draw_conditions(picture *n)"
        yield "{"
        for slots, _ in self.shape.painter.groups:
            for slot in slots:
                if slot in self.named:
                    yield f"    n->{self.shape.slots[slot]} = {self.c.condition(self.named[slot].is_)};"
        yield "}"
        yield ""

    def at_rest(self) -> Iterator[str]:
        yield from comment("Before power-up: every input at rest, every rule and output off.")
        yield "static void rest_picture(picture *n)"
        yield "{"
        yield "    static const picture off;"
        yield "    *n = off;"
        for level in self.machine.levels:
            if level.at_rest:
                yield f"    n->{self.shape.slots[self.shape.logic.level_slot(level)]} = true;"
        if self.named:
            yield "    draw_conditions(n);"
        yield "}"
        yield ""

    def settled(self) -> Iterator[str]:
        shape = self.shape
        yield from comment("The settled picture: what holds when nothing happens.")
        yield "static void settled_picture(picture *n, const board_state *s)"
        yield "{"
        yield "    static const facts none;"
        yield "    const facts *const f = &none;"
        yield "    (void)f;"
        yield "    begin_picture(n, s, s);"
        for delay in self.machine.delays:
            name = shape.slots[shape.logic.delay_slot(delay.index)]
            yield f"    n->{name} = s->running.{shape.timings[delay.timing]};"
        for slots, _ in shape.painter.groups:
            for slot in slots:
                if slot not in self.delays:
                    yield from (line for line in self._line(slot) if not line.lstrip().startswith(("/*", "*")))
        yield "}"
        yield ""

    def look(self) -> Iterator[str]:
        shape = self.shape
        yield from comment(
            "The picture of one look: each thing after the things it reads. False where delays contradict one another."
        )
        yield (
            "static bool draw(picture *n, const picture *b, const facts *f, const board_state *s,\n"
            "                 const board_state *place)"
        )
        yield "{"
        yield "    (void)b;"
        yield "    (void)f;"
        yield "    begin_picture(n, s, place);"
        for slots, circle in shape.painter.groups:
            if circle and any(slot in self.delays for slot in slots):
                yield from self._circle(slots)
            else:
                for slot in slots:
                    yield from self._line(slot)
        yield "    return true;"
        yield "}"
        yield ""

    def _circle(self, slots: list[int]) -> Iterator[str]:
        """Give the drawing of things that read one another in a circle: again and again until nothing changes."""
        shape = self.shape
        delays = [slot for slot in slots if slot in self.delays]
        yield "    {"
        yield "        unsigned round, pass;"
        yield "        bool agrees = false;"
        for slot in delays:
            timing = self.delays[slot].timing
            runs = f"s->running.{shape.timings[timing]} && !{self.c.over(timing)}"
            yield f"        n->{shape.slots[slot]} = {runs};"
        yield f"        for (round = 0; !agrees && round < {len(delays) + 2}u; round++) {{"
        yield "            const picture earlier = *n;"
        others = [slot for slot in slots if slot not in self.delays]
        if others:
            yield f"            for (pass = 0; pass < {len(slots)}u; pass++) {{"
            for slot in others:
                yield from (f"            {line}" for line in self._line(slot))
            yield "            }"
        else:
            yield "            (void)pass;"
        for slot in delays:
            yield from (f"        {line}" for line in self._line(slot))
        same = " && ".join(f"n->{shape.slots[slot]} == earlier.{shape.slots[slot]}" for slot in slots)
        yield f"            agrees = {same};"
        yield "        }"
        yield "        if (!agrees)"
        yield "            return false;"
        yield "    }"

"""What an instant does to the times, in C: what runs on the settled picture, and what was set going.

Law of this module: timings start and stop on the settled picture, as in the reference's ``settle``; ``c`` is what the
board was in before the instant, ``after`` what it is in now, ``m`` what the instants of one moment have done so far.
"""

from __future__ import annotations

from collections.abc import Iterator

from attrs import frozen

from boardgauge.exports.c99.comments import comment
from boardgauge.exports.c99.header import length_name
from boardgauge.exports.c99.logic import CLogic, when
from boardgauge.exports.c99.moves import Moves
from boardgauge.exports.c99.shape import Shape
from boardgauge.language import expressions as ex
from boardgauge.language import model
from boardgauge.machine.moves import mover
from boardgauge.machine.table import Region


def made_type(shape: Shape) -> Iterator[str]:
    """Give the type of what the instants of one moment have done so far."""
    timings = [shape.timings[t.index] for t in shape.machine.timings if t.role != "window"]
    sums = [shape.regions[r.index] for r in shape.machine.regions if r.kind == "accumulator"]
    counts = [shape.regions[r.index] for r in shape.machine.regions if r.kind == "count" and r.timings]
    yield from comment("What the instants of one moment have done so far.")
    yield "typedef struct {"
    for what, kind, names in (
        ("begun", "bool", timings),
        ("emptied", "bool", sums),
        ("counted", "bool", counts),
        ("forgot", "bool", counts),
        ("flips", "uint8_t", shape.outputs),
    ):
        yield f"    struct {{ {' '.join(f'{kind} {name};' for name in names) or 'bool none;'} }} {what};"
    yield "} made;"


@frozen
class Timings:
    """Writes what becomes of the times of one board."""

    shape: Shape
    c: CLogic

    def on_the_settled_picture(self) -> Iterator[str]:
        """Give the function that finds what runs after an instant."""
        shape = self.shape
        yield from comment("What runs from here on; n is the settled picture, start the places the instant began with.")
        yield (
            "static void run_times(board_state *after, const board_state *c, const board_state *start, "
            "const picture *n,"
        )
        yield "                      const picture *b, const facts *f, made *m)"
        yield "{"
        for name in ("after", "c", "start", "n", "b", "f", "m"):
            yield f"    (void){name};"
        for timing in shape.machine.timings:
            if timing.role != "window":
                yield f"    after->running.{shape.timings[timing.index]} = false;"
        for delay in shape.machine.delays:
            name = shape.timings[delay.timing]
            slot = shape.slots[shape.logic.delay_slot(delay.index)]
            ran = f"(c->running.{name} && !{self.c.over(delay.timing)})"
            again = f" || {self.c.trigger(delay.begins)}" if delay.starts_over else ""
            yield f"    if (n->{slot}) {{"
            yield f"        after->running.{name} = true;"
            yield f"        if (!{ran}{again})"
            yield f"            m->begun.{name} = true;"
            yield "    }"
        for timing in shape.machine.timings:
            if timing.role == "for":
                assert isinstance(timing.condition, ex.For)
                yield from self._for(shape.timings[timing.index], timing.index, timing.condition)
        for region in shape.machine.regions:
            yield from (f"    {line}" for line in self._region(region))
        yield "}"
        yield ""

    def _for(self, name: str, timing: int, node: ex.For) -> Iterator[str]:
        yield f"    after->full.{name} = false;"
        yield f"    if {when(self.c.condition(node.condition))} {{"
        yield f"        if (c->full.{name} || {self.c.over(timing)}) {{"
        yield f"            after->full.{name} = true;"
        yield "        } else {"
        yield f"            after->running.{name} = true;"
        yield f"            if (!c->running.{name})"
        yield f"                m->begun.{name} = true;"
        yield "        }"
        yield "    }"

    def _region(self, region: Region) -> Iterator[str]:
        shape = self.shape
        place, start = f"after->place.{shape.regions[region.index]}", f"start->place.{shape.regions[region.index]}"
        into, out = Moves(shape, self.c).triggers(region)
        if region.kind in {"mode", "lockout"}:
            for timing in region.timings:
                yield f"if ({place} != 0) {{"
                yield from self._entered(timing, f"{place} != {start}")
                yield "}"
        elif region.kind == "sequence" and region.timings:
            made = mover(shape.machine, shape.logic, region)
            yield f"switch ({place}) {{"
            for number, timing in enumerate(made.step_timings):
                if timing >= 0:
                    yield f"case {number}:"
                    yield from self._entered(timing, f"{place} != {start}")
                    yield "    break;"
            yield "default:"
            yield "    break;"
            yield "}"
        elif region.kind == "count" and region.timings:
            name = shape.regions[region.index]
            assert into is not None
            if out is not None:
                yield f"if {when(self.c.trigger(out))} {{"
                yield f"    m->forgot.{name} = true;"
                yield f"    m->counted.{name} = false;"
                yield f"}} else if {when(self.c.trigger(into))} {{"
            else:
                yield f"if {when(self.c.trigger(into))} {{"
            yield f"    m->counted.{name} = true;"
            yield "}"
        elif region.kind == "accumulator":
            yield from self._sum(region, out)

    def _entered(self, timing: int, entered: str) -> Iterator[str]:
        name = self.shape.timings[timing]
        yield f"    if ({entered}) {{"
        yield f"        after->running.{name} = true;"
        yield f"        m->begun.{name} = true;"
        yield f"    }} else if (c->running.{name} && !{self.c.over(timing)}) {{"
        yield f"        after->running.{name} = true;"
        yield "    }"

    def _sum(self, region: Region, out: ex.Trigger | None) -> Iterator[str]:
        shape = self.shape
        rule = shape.board.rules[region.rule]
        assert isinstance(rule, model.Accumulator)
        name, own = shape.timings[region.timings[0]], shape.regions[region.index]
        adds = self.c.condition(rule.adds_while)
        resets = "false" if out is None else self.c.trigger(out)
        if out is not None:
            yield f"if {when(resets)}"
            yield f"    m->emptied.{own} = true;"
            standing = self.c.standing(out)
            if standing != "false":
                adds = f"{adds} && !{standing}"
        yield f"if (after->place.{own} == 0 && {adds}) {{"
        yield f"    after->running.{name} = true;"
        yield f"    if (!c->running.{name} || {resets})"
        yield f"        m->begun.{name} = true;"
        yield "}"

    # -- what was set going --------------------------------------------------------------------------------------

    def taken_over(self) -> Iterator[str]:
        """Give the functions that time what the instants of one moment set going."""
        shape = self.shape
        yield from self._settings()
        for region in shape.machine.regions:
            if region.kind == "count" and region.timings:
                yield from self._window(region)
        yield from comment("Take over what a moment set going; c is what the board was in before it.")
        yield (
            "static void take_over(board_state *s, const board_state *c, const picture *n, const facts *f,\n"
            "                      const made *m)"
        )
        yield "{"
        for name in ("s", "c", "n", "f", "m"):
            yield f"    (void){name};"
        for timing in shape.machine.timings:
            name = shape.timings[timing.index]
            if timing.role == "target":
                region = next(r for r in shape.machine.regions if timing.index in r.timings)
                yield f"    if ({self.c.over(timing.index)} || m->emptied.{shape.regions[region.index]})"
                yield f"        s->begun.{name} = false;"
                yield f"    if (m->begun.{name} && s->running.{name}) {{"
                yield f"        if (!s->begun.{name} || c->running.{name})"
                yield f"            s->left.{name} = {self._length(timing.index)};"
                yield f"        s->begun.{name} = true;"
                yield "    }"
            elif timing.role != "window":
                yield f"    if (m->begun.{name} && s->running.{name})"
                yield f"        s->left.{name} = {self._length(timing.index)};"
        for region in shape.machine.regions:
            if region.kind == "count" and region.timings:
                name = shape.regions[region.index]
                yield f"    if (f->dropped.{name})"
                yield f"        drop_{name}(s);"
                yield f"    if (m->forgot.{name})"
                yield f"        s->windows.{name} = 0;"
                yield f"    if (m->counted.{name})"
                yield f"        count_{name}(s, {self._length(region.timings[0])});"
        yield "}"
        yield ""

    def _length(self, timing: int) -> str:
        row = self.shape.machine.timings[timing]
        if len(row.choices) == 1:
            return length_name(self.shape, timing, 0)
        return f"length_of_{self.shape.timings[timing]}(s, n)"

    def _settings(self) -> Iterator[str]:
        shape = self.shape
        for setting, field in shape.settings.items():
            row = shape.board.settings[setting]
            if row.positions[0].when is None:
                continue
            yield from comment(f"The position of {setting}, as the inputs have it.")
            yield f"static uint8_t position_of_{field}(const picture *n, uint8_t otherwise)"
            yield "{"
            for number, position in enumerate(row.positions):
                assert position.when is not None
                yield f"    if {when(self.c.condition(position.when))}"
                yield f"        return {number};"
            yield "    return otherwise;"
            yield "}"
            yield ""
        for timing in shape.machine.timings:
            if len(timing.choices) == 1 or timing.setting is None:
                continue
            field = shape.settings[timing.setting]
            row = shape.board.settings[timing.setting]
            name = shape.timings[timing.index]
            where = f"s->setting.{field}"
            if row.read == "always" and row.positions[0].when is not None:
                where = f"position_of_{field}(n, {where})"
            yield f"static ticks length_of_{name}(const board_state *s, const picture *n)"
            yield "{"
            yield "    (void)s;"
            yield "    (void)n;"
            yield f"    switch ({where}) {{"
            for number in range(1, len(timing.choices)):
                yield f"    case {number}:"
                yield f"        return {length_name(shape, timing.index, number)};"
            yield "    default:"
            yield f"        return {length_name(shape, timing.index, 0)};"
            yield "    }"
            yield "}"
            yield ""

    def _window(self, region: Region) -> Iterator[str]:
        name, limit = self.shape.regions[region.index], len(region.places) - 1
        kind = self.shape.place_type(region)
        yield from comment(f"{region.rule}: the event whose time is over first is too old.")
        yield f"static void drop_{name}(board_state *s)"
        yield "{"
        yield "    unsigned i, first = 0;"
        yield f"    for (i = 1; i < s->windows.{name}; i++)"
        yield f"        if (s->window.{name}[i] < s->window.{name}[first])"
        yield "            first = i;"
        yield f"    for (i = first; i + 1u < s->windows.{name}; i++)"
        yield f"        s->window.{name}[i] = s->window.{name}[i + 1u];"
        yield f"    if (s->windows.{name} > 0)"
        yield f"        s->windows.{name} = ({kind})(s->windows.{name} - 1u);"
        yield "}"
        yield ""
        yield from comment(f"{region.rule}: one event more; of more than its limit the oldest is forgotten.")
        yield f"static void count_{name}(board_state *s, ticks lasts)"
        yield "{"
        yield "    unsigned i;"
        yield f"    if (s->windows.{name} == {limit}) {{"
        yield f"        for (i = 0; i + 1u < {limit}u; i++)"
        yield f"            s->window.{name}[i] = s->window.{name}[i + 1u];"
        yield f"        s->windows.{name} = {limit - 1};"
        yield "    }"
        yield f"    s->window.{name}[s->windows.{name}] = lasts;"
        yield f"    s->windows.{name} = ({kind})(s->windows.{name} + 1u);"
        yield "}"
        yield ""

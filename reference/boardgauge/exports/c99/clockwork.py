"""What runs on between instants, in C: times, windows, lamps, and changes that wait to be taken in.

Law of this module: what is left of a time is a whole number of ticks of board time, used up at the rate of the moment;
a speed-up counts from its terminal. Nothing here counts absolute time, so nothing wraps.
"""

from __future__ import annotations

from collections.abc import Iterator

from attrs import frozen

from boardgauge.exports.c99.comments import comment, says
from boardgauge.exports.c99.logic import CLogic
from boardgauge.exports.c99.shape import Shape
from boardgauge.language.model import Blink, Flashes, Lamp, Pattern, Steady


@frozen
class Clockwork:
    """Writes what runs on in one board."""

    shape: Shape
    c: CLogic

    def functions(self) -> Iterator[str]:
        """Give the functions that let time go on."""
        yield from self._rates()
        yield from self._lamps()
        yield from self._until()
        yield from self._advance()

    def _rates(self) -> Iterator[str]:
        machine = self.shape.machine
        for key in self.shape.rate_keys():
            ids = ", ".join(machine.speed_ups[index].id for index in key)
            yield from comment(f"How fast the times under {ids} run, by what stands at the terminals.")
            yield f"static ticks {self._rate_name(key)}(const board_state *s)"
            yield "{"
            yield "    ticks rate = 1;"
            for index in key:
                row = machine.speed_ups[index]
                when = self.c.condition(row.while_, "s->terminal.", seen_through=True)
                yield from comment(f"{row.id}: {says(row.while_)}", "    ")
                yield f"    if ({when} && rate < {row.times_faster}u)"
                yield f"        rate = {row.times_faster}u;"
            yield "    return rate;"
            yield "}"
            yield ""

    def _rate_name(self, key: tuple[int, ...]) -> str:
        return "rate_" + "_".join(str(index) for index in key)

    def _rate(self, timing: int) -> str:
        key = self.shape.machine.timings[timing].speed_ups
        return f"{self._rate_name(key)}(s)" if key else ""

    # -- lamps -----------------------------------------------------------------------------------------------------

    def _lamps(self) -> Iterator[str]:
        for name, field in self.shape.lamps.items():
            lamp = self.shape.board.lamps[name]
            moving = [(i, line.shows) for i, line in enumerate(lamp.lines, 1) if self.shape.period(lamp, line.shows)]
            yield from comment(f"{name}: whether it is lit, and how long it stays so.")
            yield f"static bool show_{field}(const board_state *s, ticks *stays)"
            yield "{"
            yield f"    const ticks phase = s->phase.{field};"
            yield f"    *stays = {self.shape.prefix.upper()}_NEVER;"
            yield "    (void)phase;"
            yield f"    switch (s->line.{field}) {{"
            for number, line in enumerate(lamp.lines, 1):
                if (number, line.shows) in moving or isinstance(line.shows, Steady):
                    yield f"    case {self.shape.constant(('line', name, number), '')}:"
                    yield from (f"        {text}" for text in self._part(lamp, line.shows))
            yield "    default:"
            yield "        return false;"
            yield "    }"
            yield "}"
            yield ""

    def _part(self, lamp: Lamp, pattern: Pattern) -> Iterator[str]:
        if isinstance(pattern, Steady):
            yield "return true;"
            return
        times, period = self.shape.pattern_times(lamp, pattern), self.shape.period(lamp, pattern)
        if isinstance(pattern, Flashes) and pattern.number > 1:
            last = (pattern.number - 1) * (times[0] + times[1]) + times[0]
            yield f"if (phase >= {last}u) {{"
            yield f"    *stays = {period}u - phase;"
            yield "    return false;"
            yield "}"
            one = times[0] + times[1]
            yield f"if (phase % {one}u < {times[0]}u) {{"
            yield f"    *stays = {times[0]}u - phase % {one}u;"
            yield "    return true;"
            yield "}"
            yield f"*stays = {one}u - phase % {one}u;"
            yield "return false;"
            return
        assert isinstance(pattern, (Blink, Flashes))
        yield f"if (phase < {times[0]}u) {{"
        yield f"    *stays = {times[0]}u - phase;"
        yield "    return true;"
        yield "}"
        yield f"*stays = {period}u - phase;"
        yield "return false;"

    # -- what is due -----------------------------------------------------------------------------------------------

    def _until(self) -> Iterator[str]:
        shape = self.shape
        yield from comment("How long it takes until something is due, if no input changes.")
        yield "static ticks until_due(const board_state *s)"
        yield "{"
        yield f"    ticks first = {shape.prefix.upper()}_NEVER;"
        rated = any(t.speed_ups for t in shape.machine.timings)
        windows = [r for r in shape.machine.regions if r.kind == "count" and r.timings]
        if shape.machine.timings:
            yield "    ticks end;"
        if rated:
            yield "    ticks rate;"
        if windows:
            yield "    unsigned i;"
        yield "    (void)s;"
        for timing in shape.machine.timings:
            if timing.role != "window":
                name = shape.timings[timing.index]
                yield f"    if (s->running.{name}) {{"
                yield from self._end(f"s->left.{name}", timing.index, "        ")
                yield "    }"
        for region in windows:
            name = shape.regions[region.index]
            yield f"    for (i = 0; i < s->windows.{name}; i++) {{"
            yield from self._end(f"s->window.{name}[i]", region.timings[0], "        ")
            yield "    }"
        if shape.waits:
            for level in shape.machine.levels:
                name, needs = shape.slots[shape.logic.level_slot(level)], shape.filter_of(level) + shape.together
                yield f"    if (s->terminal.{name} != s->level.{name}) {{"
                yield f"        const ticks waits = s->waited.{name} < {needs}u ? {needs}u - s->waited.{name} : 0u;"
                yield "        if (waits < first)"
                yield "            first = waits;"
                yield "    }"
        yield "    return first;"
        yield "}"
        yield ""

    def _end(self, left: str, timing: int, indent: str) -> Iterator[str]:
        rate = self._rate(timing)
        if rate:
            yield f"{indent}rate = {rate};"
            yield f"{indent}end = {left} / rate + ({left} % rate != 0 ? 1u : 0u);"
        else:
            yield f"{indent}end = {left};"
        yield f"{indent}if (end < first)"
        yield f"{indent}    first = end;"

    def _advance(self) -> Iterator[str]:
        shape = self.shape
        windows = [r for r in shape.machine.regions if r.kind == "count" and r.timings]
        yield from comment("What is left after some more ticks, of which no more go by than until_due tells.")
        yield "static ticks less(ticks left, ticks rate, ticks elapsed)"
        yield "{"
        yield "    if (elapsed >= left / rate + (left % rate != 0 ? 1u : 0u))"
        yield "        return 0;"
        yield "    return left - elapsed * rate;"
        yield "}"
        yield ""
        yield from comment("Let time go on while nothing happens.")
        yield "static void advance(board_state *s, ticks elapsed)"
        yield "{"
        if windows:
            yield "    unsigned i;"
        yield "    (void)less;"
        for timing in shape.machine.timings:
            if timing.role != "window":
                name = shape.timings[timing.index]
                yield f"    if (s->running.{name})"
                yield f"        s->left.{name} = less(s->left.{name}, {self._rate(timing.index) or '1u'}, elapsed);"
        for region in windows:
            name = shape.regions[region.index]
            rate = self._rate(region.timings[0]) or "1u"
            yield f"    for (i = 0; i < s->windows.{name}; i++)"
            yield f"        s->window.{name}[i] = less(s->window.{name}[i], {rate}, elapsed);"
        if shape.waits:
            for level in shape.machine.levels:
                name = shape.slots[shape.logic.level_slot(level)]
                yield f"    if (s->terminal.{name} != s->level.{name})"
                yield f"        s->waited.{name} += elapsed;"
        for name, field in shape.lamps.items():
            lamp = shape.board.lamps[name]
            yield f"    switch (s->line.{field}) {{"
            for number, line in enumerate(lamp.lines, 1):
                period = shape.period(lamp, line.shows)
                if period:
                    yield f"    case {shape.constant(('line', name, number), '')}:"
                    yield f"        s->phase.{field} = (s->phase.{field} + elapsed % {period}u) % {period}u;"
                    yield "        break;"
            yield "    default:"
            yield "        break;"
            yield "    }"
        yield "    (void)s;"
        yield "    (void)elapsed;"
        yield "}"
        yield ""

"""The functions that a firmware calls, in C.

Law of this module: a step first does what was due since the step before, in its order and with the inputs as they were;
then what is due now together with the inputs as they are now.
"""

from __future__ import annotations

from collections.abc import Iterator

from attrs import frozen

from boardgauge.exports.c99.comments import comment
from boardgauge.exports.c99.logic import CLogic
from boardgauge.exports.c99.shape import Shape
from boardgauge.language.model import InputKind

MOST_AT_ONCE = 1000


@frozen
class Steps:
    """Writes what is called from outside."""

    shape: Shape
    c: CLogic

    def functions(self) -> Iterator[str]:
        """Give the functions."""
        yield from self._terminals()
        yield from self._happen()
        yield from self._go_on()
        yield from self._init()
        yield from self._lose_power()
        yield from self._at_rest()
        yield from self._power_up()
        yield from self._step()
        yield from self._until()

    def _levels(self) -> list[str]:
        return [self.shape.slots[self.shape.logic.level_slot(level)] for level in self.shape.machine.levels]

    def _named_settings(self) -> list[tuple[str, str]]:
        settings = self.shape.board.settings
        return [(n, f) for n, f in self.shape.settings.items() if settings[n].positions[0].name is not None]

    def _terminals(self) -> Iterator[str]:
        shape, p = self.shape, self.shape.prefix
        yield from comment("Look at the terminals.")
        yield f"static void look_at(board_state *s, const {p}_inputs *in)"
        yield "{"
        yield "    bool now;"
        yield "    (void)now;"
        yield "    (void)s;"
        yield "    (void)in;"
        for level in shape.machine.levels:
            name = shape.slots[shape.logic.level_slot(level)]
            reading = f"in->{shape.inputs[level.input]}"
            if level.comparison is not None:
                reading = self.c.comparison(level.comparison, reading, f"s->terminal.{name}")
            yield f"    now = {reading};"
            if shape.waits:
                yield f"    if (now != s->terminal.{name})"
                yield f"        s->waited.{name} = 0;"
            yield f"    s->terminal.{name} = now;"
        for setting, field in self._named_settings():
            if shape.board.settings[setting].read == "always":
                yield f"    if (in->{field} < {len(shape.board.settings[setting].positions)})"
                yield f"        s->setting.{field} = in->{field};"
        yield "}"
        yield ""

    def _happen(self) -> Iterator[str]:
        shape = self.shape
        windows = [shape.regions[r.index] for r in shape.machine.regions if r.kind == "count" and r.timings]
        yield from comment("Do all that is due at this moment.")
        yield "static void happen(board_state *s)"
        yield "{"
        yield "    static const facts none;"
        yield "    facts f = none;"
        yield "    picture before;"
        yield "    bool something = false;"
        if windows:
            yield "    unsigned i;"
        yield "    settled_picture(&before, s);"
        for timing in shape.machine.timings:
            if timing.role != "window":
                name = shape.timings[timing.index]
                yield f"    if (s->running.{name} && s->left.{name} == 0)"
                yield f"        f.over.{name} = something = true;"
        for name in windows:
            yield f"    for (i = 0; i < s->windows.{name}; i++)"
            yield f"        if (s->window.{name}[i] == 0)"
            yield f"            f.dropped.{name} = something = true;"
        yield from self._take_in()
        yield "    if (something && !settle(s, &before, &f))"
        yield "        s->fault = true;"
        yield "}"
        yield ""

    def _take_in(self) -> Iterator[str]:
        shape = self.shape
        together = shape.together
        pairs = [
            (self.shape.filter_of(level), name)
            for level, name in zip(shape.machine.levels, self._levels(), strict=True)
        ]
        if shape.waits and together:
            yield from comment(
                "What changed within the same moment is taken in together, once all of it is known.", "    "
            )
            tests = " || ".join(
                f"(s->terminal.{name} != s->level.{name} && s->waited.{name} >= {needs + together}u)"
                for needs, name in pairs
            )
            yield f"    if ({tests}) {{"
            for needs, name in pairs:
                yield f"        if (s->terminal.{name} != s->level.{name} && s->waited.{name} > {needs}u) {{"
                yield f"            s->level.{name} = s->terminal.{name};"
                yield "            something = true;"
                yield "        }"
            yield "    }"
            return
        for needs, name in pairs:
            long_enough = f" && s->waited.{name} >= {needs}u" if shape.waits and needs else ""
            yield f"    if (s->terminal.{name} != s->level.{name}{long_enough}) {{"
            yield f"        s->level.{name} = s->terminal.{name};"
            yield "        something = true;"
            yield "    }"

    def _init(self) -> Iterator[str]:
        shape, p = self.shape, self.shape.prefix
        yield f"void {p}_init({p}_state *s)"
        yield "{"
        yield f"    static const {p}_state nothing;"
        yield "    *s = nothing;"
        for level, name in zip(shape.machine.levels, self._levels(), strict=True):
            if level.at_rest:
                yield f"    s->level.{name} = s->terminal.{name} = true;"
        for setting, field in self._named_settings():
            yield f"    s->setting.{field} = {self._factory(setting)};"
        yield "}"
        yield ""

    def _factory(self, setting: str) -> int:
        row = self.shape.board.settings[setting]
        return next((i for i, p in enumerate(row.positions) if p.name == row.factory), 0)

    def _lose_power(self) -> Iterator[str]:
        shape, p = self.shape, self.shape.prefix
        machine = shape.machine
        yield f"void {p}_lose_power({p}_state *s, {p}_ticks elapsed)"
        yield "{"
        yield f"    {p}_state before;"
        yield "    if (s->powered)"
        yield "        go_on(s, elapsed);"
        yield "    before = *s;"
        yield f"    {p}_init(s);"
        yield "    (void)before;"
        timings: list[int] = [row.timing for row in machine.delays if row.kept_without_power]
        for region in machine.regions:
            if not region.kept_without_power:
                continue
            name = shape.regions[region.index]
            yield f"    s->place.{name} = before.place.{name};"
            if region.kind == "accumulator":
                timing = shape.timings[region.timings[0]]
                yield f"    s->begun.{timing} = before.begun.{timing};"
                yield f"    s->left.{timing} = before.left.{timing};"
            elif region.kind == "count" and region.timings:
                yield "    {"
                yield "        unsigned i;"
                yield f"        s->windows.{name} = before.windows.{name};"
                yield f"        for (i = 0; i < {len(region.places) - 1}u; i++)"
                yield f"            s->window.{name}[i] = before.window.{name}[i];"
                yield "    }"
            else:
                timings += region.timings
        for index in timings:
            timing = shape.timings[index]
            yield f"    s->running.{timing} = before.running.{timing};"
            yield f"    s->left.{timing} = before.left.{timing};"
        yield "}"
        yield ""

    def _at_rest(self) -> Iterator[str]:
        shape, p = self.shape, self.shape.prefix
        yield f"void {p}_inputs_at_rest({p}_inputs *in)"
        yield "{"
        for name, field in shape.inputs.items():
            row = shape.board.inputs[name]
            if row.kind is InputKind.SENSOR:
                yield f"    in->{field} = 0;"
            else:
                at_rest = next(level.at_rest for level in shape.machine.levels if level.input == name)
                yield f"    in->{field} = {'true' if at_rest else 'false'};"
        for setting, field in self._named_settings():
            yield f"    in->{field} = {self._factory(setting)};"
        if not shape.inputs and not self._named_settings():
            yield "    in->none = false;"
        yield "}"
        yield ""

    def _power_up(self) -> Iterator[str]:
        shape, p = self.shape, self.shape.prefix
        by_input = [(n, f) for n, f in shape.settings.items() if shape.board.settings[n].positions[0].when is not None]
        yield from comment("The instant of power-up: settings are read, and every input not at rest has changed.")
        yield f"static void power_up(board_state *s, const {p}_inputs *in)"
        yield "{"
        yield "    static const facts none;"
        yield "    facts f = none;"
        yield "    picture before;"
        if by_input:
            yield "    picture first;"
        yield "    look_at(s, in);"
        for name in self._levels():
            yield f"    s->level.{name} = s->terminal.{name};"
        for setting, field in self._named_settings():
            if shape.board.settings[setting].read == "at power-up":
                yield f"    if (in->{field} < {len(shape.board.settings[setting].positions)})"
                yield f"        s->setting.{field} = in->{field};"
        if by_input:
            yield "    begin_picture(&first, s, s);"
            if shape.board.conditions:
                yield "    draw_conditions(&first);"
            for _, field in by_input:
                yield f"    s->setting.{field} = position_of_{field}(&first, s->setting.{field});"
        yield "    f.power_up = true;"
        yield "    rest_picture(&before);"
        yield "    if (!settle(s, &before, &f)) {"
        yield "        s->powered = true;"
        yield "        s->fault = true;"
        yield "    }"
        yield "}"
        yield ""

    def _go_on(self) -> Iterator[str]:
        yield from comment("Let time go on, and do what is due before the end of it, with the inputs as they were.")
        yield "static void go_on(board_state *s, ticks elapsed)"
        yield "{"
        yield "    unsigned at_once = 0;"
        yield "    ticks due = until_due(s);"
        yield "    while (!s->fault && due < elapsed) {"
        yield "        advance(s, due);"
        yield "        elapsed -= due;"
        yield "        happen(s);"
        yield "        at_once = due == 0 ? at_once + 1u : 0u;"
        yield f"        if (at_once > {MOST_AT_ONCE}u)"
        yield "            s->fault = true; /* times that keep ending without any time going by */"
        yield "        due = until_due(s);"
        yield "    }"
        yield "    if (!s->fault)"
        yield "        advance(s, elapsed);"
        yield "}"
        yield ""

    def _step(self) -> Iterator[str]:
        shape, p = self.shape, self.shape.prefix
        yield f"void {p}_step({p}_state *s, const {p}_inputs *in, {p}_ticks elapsed, {p}_outputs *out)"
        yield "{"
        yield "    unsigned at_once = 0;"
        yield "    picture n;"
        if shape.lamps:
            yield "    ticks stays;"
        yield "    if (!s->powered) {"
        yield "        power_up(s, in);"
        yield "    } else {"
        yield "        go_on(s, elapsed);"
        yield "        if (!s->fault) {"
        yield "            look_at(s, in);"
        yield "            happen(s);"
        yield "        }"
        yield "    }"
        yield "    while (!s->fault && until_due(s) == 0) {"
        yield "        happen(s);"
        yield "        at_once++;"
        yield f"        if (at_once > {MOST_AT_ONCE}u)"
        yield "            s->fault = true;"
        yield "    }"
        yield "    settled_picture(&n, s);"
        for row, field in zip(shape.machine.outputs, shape.outputs, strict=True):
            yield f"    out->{field} = !s->fault && n.{shape.slots[shape.logic.slots[row.output]]};"
        for field in shape.lamps.values():
            yield f"    out->{field} = !s->fault && show_{field}(s, &stays);"
            yield f"    out->{field}_line = s->line.{field};"
            yield "    if (s->fault)"
            yield f"        out->{field}_line = 0;"
        yield "    out->fault = s->fault;"
        yield "    (void)n;"
        yield "}"
        yield ""

    def _until(self) -> Iterator[str]:
        shape, p = self.shape, self.shape.prefix
        yield f"{p}_ticks {p}_until_due(const {p}_state *s)"
        yield "{"
        yield "    ticks first;"
        if shape.lamps:
            yield "    ticks stays;"
        yield "    if (!s->powered)"
        yield "        return 0;"
        yield "    if (s->fault)"
        yield f"        return {p.upper()}_NEVER;"
        yield "    first = until_due(s);"
        for field in shape.lamps.values():
            yield f"    (void)show_{field}(s, &stays);"
            yield "    if (stays < first)"
            yield "        first = stays;"
        yield "    return first;"
        yield "}"

"""An instant in C: all that is due at one moment, taken together.

Law of this module: as in the reference's ``settle``. All kept things look at one picture and move together, until none
moves; then, events gone, they look once more. What does not come to rest is told, never tried for ever.
"""

from __future__ import annotations

from collections.abc import Iterator

from attrs import frozen

from boardgauge.exports.c99.comments import comment, origin, plain, says
from boardgauge.exports.c99.logic import CLogic, when
from boardgauge.exports.c99.moves import Moves
from boardgauge.exports.c99.shape import Shape
from boardgauge.machine.table import Region

MOST_INSTANTS = 64


@frozen
class Instants:
    """Writes how one board settles."""

    shape: Shape
    c: CLogic

    @property
    def _regions(self) -> list[tuple[Region, str]]:
        return list(zip(self.shape.machine.regions, self.shape.regions, strict=True))

    def instant(self) -> Iterator[str]:
        """Give the function of one instant."""
        moves = Moves(self.shape, self.c)
        steps = [(row, name) for row, name in self._regions if row.kind == "sequence"]
        if self._regions:
            yield from comment("How often each thing has moved in an instant, and the steps a sequence has been in.")
            yield "typedef struct {"
            yield f"    struct {{ {' '.join(f'uint8_t {name};' for _, name in self._regions)} }} moves;"
            if steps:
                yield f"    struct {{ {' '.join(f'bool {name}[{len(row.places)}];' for row, name in steps)} }} been;"
            yield "} travels;"
            yield ""
        yield from comment(
            "One instant: c is what the board is in with its inputs as they are now, start the places it begins with, "
            "b the picture before, after what comes of it. False if the rules do not come to rest."
        )
        yield (
            "static bool instant(board_state *after, const board_state *c, const board_state *start, const picture *b,"
        )
        yield "                    const facts *f, made *m)"
        yield "{"
        if self._regions:
            yield "    static const travels none;"
            yield "    travels travelled = none;"
        yield "    board_state p = *start;"
        if self._regions:
            yield "    board_state to;"
        yield "    picture drawn;"
        yield "    const picture *const n = &drawn;"
        for _, name in steps:
            yield f"    travelled.been.{name}[start->place.{name}] = start->place.{name} != 0;"
        yield "    for (;;) {"
        yield "        if (!draw(&drawn, b, f, c, &p))"
        yield "            return false;"
        if not self._regions:
            yield "        break;"
        else:
            yield "        to = p;"
            for row, _ in self._regions:
                yield from moves.lines(row)
            same = " &&\n            ".join(f"to.place.{name} == p.place.{name}" for _, name in self._regions)
            yield f"        if ({same})"
            yield "            break;"
            for row, name in self._regions:
                yield from self._travel(row, name)
            yield "        p = to;"
        yield "    }"
        for output, name in zip(self.shape.machine.outputs, self.shape.outputs, strict=True):
            slot = self.shape.slots[self.shape.logic.slots[output.output]]
            yield f"    if (n->{slot} != (b->{slot} && c->powered))"
            yield f"        m->flips.{name} = (uint8_t)(m->flips.{name} + 1u);"
        yield "    *after = *c;"
        yield "    after->place = p.place;"
        yield "    after->powered = true;"
        yield "    run_times(after, c, start, n, b, f, m);"
        yield "    return true;"
        yield "}"
        yield ""

    def _travel(self, row: Region, name: str) -> Iterator[str]:
        """Give what bounds the moves of one thing in an instant: one on, one back; each step of a sequence once."""
        yield f"        if (to.place.{name} != p.place.{name}) {{"
        if row.kind == "sequence":
            yield f"            if (travelled.been.{name}[to.place.{name}])"
            yield "                return false;"
            yield f"            travelled.been.{name}[to.place.{name}] = true;"
            yield f"            travelled.moves.{name} = 1;"
        else:
            yield f"            travelled.moves.{name} = (uint8_t)(travelled.moves.{name} + 1u);"
            yield f"            if (travelled.moves.{name} > 2)"
            yield "                return false;"
        yield "        }"

    def settle(self) -> Iterator[str]:
        """Give the function that settles a moment."""
        yield from comment(
            "All that is due at one moment: its instants, until the rules rest. False if they do not; the board is "
            "then as it was."
        )
        yield "static bool settle(board_state *s, const picture *before, const facts *f)"
        yield "{"
        yield "    static const facts nothing;"
        yield "    static const made none;"
        yield "    made m = none;"
        yield "    const board_state c = *s;"
        yield "    board_state start = c, after, further;"
        yield "    picture settled;"
        yield "    unsigned instants = 1;"
        for row, name in self._regions:
            if row.kind == "count" and row.timings:
                yield f"    if (f->dropped.{name} && start.place.{name} > 0)"
                yield f"        start.place.{name} = ({self.shape.place_type(row)})(start.place.{name} - 1u);"
        yield "    if (!instant(&after, &c, &start, before, f, &m))"
        yield "        return false;"
        yield "    for (;;) {"
        yield "        settled_picture(&settled, &after);"
        yield "        if (!instant(&further, &after, &after, &settled, &nothing, &m))"
        yield "            return false;"
        same = " && ".join(f"further.place.{name} == after.place.{name}" for _, name in self._regions)
        yield f"        if ({same or 'true'})"
        yield "            break;"
        yield "        after = further;"
        yield "        instants++;"
        yield f"        if (instants > {MOST_INSTANTS}u)"
        yield "            return false;"
        yield "    }"
        flips = " || ".join(f"m.flips.{name} > 1" for name in self.shape.outputs)
        if flips:
            yield f"    if ({flips})"
            yield "        return false; /* an output that changes and changes back in no time */"
        yield "    *s = after;"
        yield "    take_over(s, &c, &settled, f, &m);"
        if self.shape.lamps:
            yield "    choose_lines(s, &settled);"
        yield "    return true;"
        yield "}"
        yield ""

    def lines(self) -> Iterator[str]:
        """Give the function that chooses what each lamp shows."""
        if not self.shape.lamps:
            return
        yield from comment("What each lamp shows: the first line of its table that holds, from its beginning.")
        yield "static void choose_lines(board_state *s, const picture *n)"
        yield "{"
        yield "    uint16_t line;"
        yield "    (void)n;"
        for name, field in self.shape.lamps.items():
            lamp = self.shape.board.lamps[name]
            yield from comment(f"{origin(name, lamp.note.clause, lamp.at)}", "    ")
            for number, row in enumerate(lamp.lines, 1):
                constant = self.shape.constant(("line", name, number), "")
                lead = "    " if number == 1 else "    else "
                if row.when is None:
                    yield "    else" if number > 1 else ""
                    yield f"    {'    ' if number > 1 else ''}line = {constant};"
                else:
                    yield f"{lead}if {when(self.c.condition(row.when))} /* {plain(says(row.when))} */"
                    yield f"        line = {constant};"
            yield f"    if (line != s->line.{field}) {{"
            yield f"        s->line.{field} = line;"
            yield f"        s->phase.{field} = 0;"
            yield "    }"
        yield "}"
        yield ""

"""How each kept thing moves in one look, in C.

Law of this module: the moves are those of the reference's ``moves``: a lockout in doubt trips, everything else in
doubt ends. ``p`` has the places now, ``start`` those the instant began with, ``to`` those after the look, ``c`` what
ran as the instant began.
"""

from __future__ import annotations

from collections.abc import Iterator

from attrs import frozen

from boardgauge.exports.c99.comments import comment, origin, says
from boardgauge.exports.c99.header import place_name
from boardgauge.exports.c99.logic import CLogic, when
from boardgauge.exports.c99.shape import Shape
from boardgauge.language import expressions as ex
from boardgauge.language import model
from boardgauge.machine.moves import mover, triggers_of
from boardgauge.machine.table import Region


@frozen
class Moves:
    """Writes the moves of one board."""

    shape: Shape
    c: CLogic

    def triggers(self, region: Region) -> tuple[ex.Trigger | None, ex.Trigger | None]:
        """Give what takes a region in and what takes it out."""
        board = self.shape.board
        if region.kind == "output":
            return board.outputs[region.rule].starts, board.outputs[region.rule].stops
        return triggers_of(board.rules[region.rule])

    def lines(self, region: Region) -> Iterator[str]:
        """Give the lines that move one region."""
        into, out = self.triggers(region)
        told = [f"{word}: {says(e)}" for word, e in zip(_WORDS[region.kind], (into, out), strict=True) if e is not None]
        yield from comment(f"{origin(region.rule, region.clause, region.at)}. {'; '.join(told)}", "        ")
        yield from (f"        {line}" for line in self._moves(region, into, out))

    def _moves(self, region: Region, into: ex.Trigger | None, out: ex.Trigger | None) -> Iterator[str]:
        name = self.shape.regions[region.index]
        place, start, to = f"p.place.{name}", f"start->place.{name}", f"to.place.{name}"
        moved = f"travelled.moves.{name} > 0"
        sees_in = "false" if into is None else self.c.trigger(into)
        sees_out = "false" if out is None else self.c.trigger(out)
        first, second = (place_name(self.shape, region, number) for number in (0, 1))
        match region.kind:
            case "lockout":
                yield f"if {when(sees_in)}"
                yield f"    {to} = {second};"
                ends = [*self._time_is_over(region), *([] if out is None else [sees_out])]
                if ends:
                    yield f"else if ({place} != 0 && {start} != 0 && ({' || '.join(ends)}))"
                    yield f"    {to} = {first};"
            case "mode" | "output":
                made = mover(self.shape.machine, self.shape.logic, region)
                held = ""
                if made.at_least is not None:
                    timing = self.shape.timings[made.at_least]
                    running = f"(c->running.{timing} && !{self.c.over(made.at_least)})"
                    held = f"!({place} != 0 && ({start} == 0 || {running})) && "
                lasts = "" if made.lasts is None else f"{self.c.over(made.lasts)} || "
                yield f"if {when(f'{lasts}({held}{sees_out})' if lasts or held else sees_out)}"
                yield f"    {to} = {first};"
                yield f"else if {when(sees_in)}"
                yield f"    {to} = {second};"
            case "sequence":
                yield from self._sequence(region, place, to, moved, sees_in, sees_out)
            case "count":
                if out is not None:
                    yield f"if {when(sees_out)}"
                    yield f"    {to} = 0;"
                fits = f"!({moved}) && {place} < {len(region.places) - 1}"
                yield f"{'if' if out is None else 'else if'} ({fits} && {sees_in})"
                yield f"    {to} = ({self.shape.place_type(region)})({place} + 1u);"
            case "accumulator":
                if out is not None:
                    yield f"if {when(sees_out)}"
                    yield f"    {to} = {first};"
                yield f"{'if' if out is None else 'else if'} ({self.c.over(region.timings[0])})"
                yield f"    {to} = {second};"
            case "toggle":
                yield f"if (!({moved}) && {sees_in}) {{"
                yield f"    if ({start} == 0)"
                yield f"        {to} = {second};"
                yield "    else"
                yield f"        {to} = {first};"
                yield "}"

    def _time_is_over(self, region: Region) -> list[str]:
        return [
            part
            for timing in region.timings
            for part in (self.c.over(timing), f"!c->running.{self.shape.timings[timing]}")
        ]

    def _sequence(self, region: Region, place: str, to: str, moved: str, sees_in: str, sees_out: str) -> Iterator[str]:
        rule = self.shape.board.rules[region.rule]
        assert isinstance(rule, model.Sequence)
        made = mover(self.shape.machine, self.shape.logic, region)
        yield f"if {when(sees_out)} {{"
        yield f"    {to} = {place_name(self.shape, region, 0)};"
        yield "} else {"
        yield f"    switch ({place}) {{"
        yield f"    case {place_name(self.shape, region, 0)}:"
        yield f"        if (!({moved}) && {sees_in})"
        yield f"            {to} = {place_name(self.shape, region, 1)};"
        yield "        break;"
        for number, step in enumerate(rule.steps, 1):
            leads = []
            if step.until is not None:
                leads.append((self.c.condition(step.until), made.thens[number]))
            if made.step_timings[number] >= 0:
                leads.append((self.c.over(made.step_timings[number]), made.if_nots[number]))
            yield f"    case {place_name(self.shape, region, number)}:"
            if step.until is not None:
                yield from comment(f"until: {says(step.until)}", "        ")
            for index, (test, target) in enumerate(leads):
                yield f"        {'else ' if index else ''}if {when(test)}"
                yield f"            {to} = {place_name(self.shape, region, target)};"
            yield "        break;"
        yield "    default:"
        yield "        break;"
        yield "    }"
        yield "}"


_WORDS = {
    "lockout": ("Trips", "Clears"),
    "count": ("Counts", "Forgets"),
    "accumulator": ("", "Resets"),
    "mode": ("Begins", "Ends"),
    "sequence": ("Begins", "Ends"),
    "toggle": ("Flips", ""),
    "output": ("Starts", "Stops"),
}

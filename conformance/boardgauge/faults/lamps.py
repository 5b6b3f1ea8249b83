"""Faults of lamps: dead, always lit, lines changed over, a line that shows something else.

Law of this module: nothing but what the lamp shows is touched.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

from attrs import evolve

from boardgauge.faults.editing import with_table
from boardgauge.faults.fault import Fault
from boardgauge.faults.naming import clause_of, spoken
from boardgauge.language.model import Blink, Board, Dark, Flashes, Lamp, LampLine, Pattern, Steady


def lamp_faults(board: Board) -> Iterator[Fault]:
    """Give the faults of every lamp."""
    for id_, lamp in board.lamps.items():
        name, clause = spoken(board, id_), lamp.note.clause
        for how, words, shows in (("dead", "is dead", Dark()), ("stuck-lit", "is always lit", Steady())):
            lines = tuple(evolve(line, shows=shows) for line in lamp.lines)
            yield Fault(f"{id_}.{how}", f"lamp {name} {words}", "lamp", id_, clause, _with_lines(board, lamp, lines))
        yield from _swapped(board, lamp, name)
        yield from _wrong(board, lamp, name)


def _with_lines(board: Board, lamp: Lamp, lines: tuple[LampLine, ...]) -> Board:
    return with_table(board, "lamps", lamp.id, evolve(lamp, lines=lines))


def _swapped(board: Board, lamp: Lamp, name: str) -> Iterator[Fault]:
    for a, b in combinations(range(len(lamp.lines)), 2):
        lines = list(lamp.lines)
        lines[a], lines[b] = (
            evolve(lines[a], shows=lamp.lines[b].shows),
            evolve(lines[b], shows=lamp.lines[a].shows),
        )
        shown = f"{pattern(lamp.lines[a].shows)} for {pattern(lamp.lines[b].shows)}"
        words = f"lamp {name}: lines {a + 1} and {b + 1} changed over ({shown})"
        clause = clause_of(board, "lamps", lamp.id, a)
        yield Fault(
            f"{lamp.id}.{a + 1}.swapped.{b + 1}",
            words,
            "lamp line",
            lamp.id,
            clause,
            _with_lines(board, lamp, tuple(lines)),
            more_weight=-1,
        )


def _wrong(board: Board, lamp: Lamp, name: str) -> Iterator[Fault]:
    for index, line in enumerate(lamp.lines):
        clause = clause_of(board, "lamps", lamp.id, index)
        for other in _others(lamp, line.shows):
            lines = list(lamp.lines)
            lines[index] = evolve(line, shows=other)
            words = f"lamp {name} shows {pattern(other)} in place of {pattern(line.shows)} (line {index + 1})"
            how = pattern(other).replace(" ", "-").replace(",", "")
            yield Fault(
                f"{lamp.id}.{index + 1}.shows.{how}",
                words,
                "lamp line",
                lamp.id,
                clause,
                _with_lines(board, lamp, tuple(lines)),
            )


def _others(lamp: Lamp, shows: Pattern) -> tuple[Pattern, ...]:
    found: list[Pattern] = []
    if isinstance(shows, Flashes):
        found += [Flashes(n) for n in (shows.number - 1, shows.number + 1) if n >= 1]
    found += [line.shows for line in lamp.lines]
    found += [Steady(), Dark()]
    return tuple(p for p in dict.fromkeys(found) if p != shows)


def pattern(shows: Pattern) -> str:
    """Give a pattern as a spec writes it."""
    match shows:
        case Steady():
            return "steady"
        case Dark():
            return "dark"
        case Flashes(number=1):
            return "1 flash"
        case Flashes(number=number):
            return f"{number} flashes"
        case Blink(lit=lit, dark=dark):
            return f"{lit / 1_000_000:g} s lit, {dark / 1_000_000:g} s dark"

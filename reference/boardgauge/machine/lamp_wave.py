"""What a lamp does: the lit and dark parts of the pattern its line asks for.

Law of this module: a new pattern starts with a lit part, no later than ``changes_within`` after the change of line; the
old one is cut off wherever it is. Each part is inside the lamp's tolerance. Without power a lamp is dark.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from boardgauge.language.model import Blink, Dark, Flashes, Lamp, Pattern, Steady
from boardgauge.language.quantities import Duration
from boardgauge.machine.chance import Chance


def lamp_edges(lamp: Lamp, lines: Sequence[tuple[int, int]], chance: Chance, end: int) -> tuple[tuple[int, bool], ...]:
    """Give when a lamp lights and goes dark up to ``end``, starting dark.

    ``lines`` are the changes of its line, (time, index), -1 for none (no power).
    """
    starts: list[tuple[int, int]] = []
    for time, line in lines:
        start = time if line < 0 else chance.between(time, time + lamp.changes_within)
        # What has not started yet never does: the line has changed again.
        while starts and starts[-1][0] >= time:
            starts.pop()
        starts.append((start, line))
    edges: list[tuple[int, bool]] = []
    lengths: dict[int, tuple[int, int]] = {}
    lit = False
    for index, (start, line) in enumerate(starts):
        stop = starts[index + 1][0] if index + 1 < len(starts) else end + 1
        pattern: Pattern = Dark() if line < 0 else lamp.lines[line].shows
        time = start
        for value, length in parts(lamp, pattern):
            if time >= stop or time > end:
                break
            if value != lit:
                edges.append((time, value))
                lit = value
            if length is None:
                break
            limits = lengths.get(length)
            if limits is None:
                limits = lengths[length] = part_limits(lamp, length)
            time += chance.length(length, *limits)
    return tuple(edges)


def parts(lamp: Lamp, pattern: Pattern) -> Iterator[tuple[bool, int | None]]:
    """Give the parts of a pattern as (lit, nominal length in microseconds), for ever; None for a part without end."""
    match pattern:
        case Steady():
            yield True, None
        case Dark():
            yield False, None
        case Blink(lit=lit, dark=dark):
            while True:
                yield True, lit
                yield False, dark
        case Flashes(number=number):
            if lamp.flash is None or lamp.between_groups is None:
                raise ValueError(f"lamp {lamp.id} shows flashes but does not say what one flash is")
            while True:
                for flash in range(number):
                    yield True, lamp.flash.lit
                    yield False, lamp.flash.dark if flash + 1 < number else lamp.between_groups


def part_limits(lamp: Lamp, length: int) -> tuple[int, int]:
    """Give the shortest and the longest a lit or dark part of this nominal length may be; microseconds."""
    part = Duration(length, lamp.tolerance)
    least = part.percent_shortest - lamp.tolerance.less
    most = part.percent_longest + lamp.tolerance.more
    return max(1, -(-least.numerator // least.denominator)), max(1, most.numerator // most.denominator)

"""What a lamp's lines look like to an eye.

Law of this module: two patterns look alike if some timing within the tolerance is of both.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from itertools import combinations

from boardgauge.language.expressions import Condition, Not
from boardgauge.language.model import Blink, Flashes, Lamp, Pattern
from boardgauge.language.propositions import Propositions
from boardgauge.language.quantities import Duration, Tolerance
from boardgauge.language.quantity_writer import write_pattern

Found = tuple[str, str]
"""A key, and what is to be said about it."""

Look = Pattern | tuple[tuple[Fraction, Fraction], tuple[Fraction, Fraction]]
"""A pattern, or the least and greatest lit and dark times of one that blinks."""


def lamp_advice(lamp: Lamp, propositions: Propositions) -> Iterator[Found]:
    """Say which lines look alike, and which can never show."""
    looks_like = [_look(line.shows, lamp) for line in lamp.lines]
    for (one, first), (two, second) in combinations(enumerate(lamp.lines, start=1), 2):
        if _alike(looks_like[one - 1], looks_like[two - 1]):
            looks = f'"{write_pattern(first.shows)}" and "{write_pattern(second.shows)}"'
            if first.shows == second.shows:
                looks = f'both "{write_pattern(first.shows)}"'
            yield f"lamps.{lamp.id}.lines[{two}].shows", f"looks like line {one}: {looks}, within the tolerance"
    before: tuple[Condition, ...] = ()
    for number, line in enumerate(lamp.lines, start=1):
        own = () if line.when is None else (line.when,)
        if propositions.can_hold(*own, *before) is False:
            alone = not own or propositions.can_hold(*own) is not False
            why = "wherever it holds, an earlier line holds" if alone else "its condition never holds"
            yield f"lamps.{lamp.id}.lines[{number}].when", f"the line can never show: {why}"
        if line.when is not None:
            before = (*before, Not(line.when))


def _look(pattern: Pattern, lamp: Lamp) -> Look:
    """Give what an eye sees: of what blinks, the ranges of its lit and dark times. A group of one flash blinks."""
    if isinstance(pattern, Flashes) and pattern.number == 1 and lamp.flash is not None and lamp.between_groups:
        pattern = Blink(lamp.flash.lit, lamp.between_groups)
    if isinstance(pattern, Blink):
        return _range(pattern.lit, lamp.tolerance), _range(pattern.dark, lamp.tolerance)
    return pattern


def _alike(one: Look, two: Look) -> bool:
    if isinstance(one, tuple) and isinstance(two, tuple):
        return all(mine[0] <= theirs[1] and theirs[0] <= mine[1] for mine, theirs in zip(one, two, strict=True))
    return one == two


def _range(time: int, tolerance: Tolerance) -> tuple[Fraction, Fraction]:
    duration = Duration(time, tolerance)
    return duration.percent_shortest - tolerance.less, duration.percent_longest + tolerance.more

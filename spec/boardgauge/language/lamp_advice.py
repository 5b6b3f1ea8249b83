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


def lamp_advice(lamp: Lamp, propositions: Propositions) -> Iterator[Found]:
    """Say which lines look alike, and which can never show."""
    for (one, first), (two, second) in combinations(enumerate(lamp.lines, start=1), 2):
        if _alike(first.shows, second.shows, lamp):
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


def _as_blink(pattern: Pattern, lamp: Lamp) -> Pattern:
    """A group of one flash is to the eye a lamp that blinks."""
    if isinstance(pattern, Flashes) and pattern.number == 1 and lamp.flash is not None and lamp.between_groups:
        return Blink(lamp.flash.lit, lamp.between_groups)
    return pattern


def _alike(one: Pattern, two: Pattern, lamp: Lamp) -> bool:
    one, two = _as_blink(one, lamp), _as_blink(two, lamp)
    if isinstance(one, Blink) and isinstance(two, Blink):
        return _overlap(one.lit, two.lit, lamp.tolerance) and _overlap(one.dark, two.dark, lamp.tolerance)
    return one == two


def _overlap(one: int, two: int, tolerance: Tolerance) -> bool:
    first, second = (_range(time, tolerance) for time in (one, two))
    return first[0] <= second[1] and second[0] <= first[1]


def _range(time: int, tolerance: Tolerance) -> tuple[Fraction, Fraction]:
    duration = Duration(time, tolerance)
    return duration.percent_shortest - tolerance.less, duration.percent_longest + tolerance.more

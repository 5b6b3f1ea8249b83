"""How a board may be as it is switched on: how a person has set it, and how its inputs stand.

Law of this module: where there are more ways than are given, that is told.
"""

from __future__ import annotations

from collections.abc import Container, Iterator
from itertools import islice, product
from math import prod

from boardgauge.machine.input_ways import Ways
from boardgauge.machine.table import Machine

MOST_POWER_UPS = 4096
"""So many ways in which inputs stand as the supply comes are looked at."""

Levels = tuple[tuple[int, bool], ...]


def number_of(ways: Ways) -> int:
    """Give in how many ways all inputs together may be."""
    return prod(len(values) for _, values in ways)


def power_ups(ways: Ways) -> tuple[list[Levels], bool]:
    """Give how inputs may stand as the supply comes, and whether that is all of it."""
    rows = islice(product(*(values for _, values in ways)), MOST_POWER_UPS)
    found = []
    for chosen in rows:
        pairs = (zip(indices, taken, strict=True) for (indices, _), taken in zip(ways, chosen, strict=True))
        found.append(tuple(pair for row in pairs for pair in row))
    return found, number_of(ways) <= MOST_POWER_UPS


def positions_of(machine: Machine, timed: Container[int]) -> Iterator[dict[str, str]]:
    """Give every way in which a person may have set a board, as far as the length of a timing hangs on it."""
    named = [
        [(row.id, position.name) for position in row.positions if position.name is not None]
        for row in machine.board.settings.values()
        if any(timing.setting == row.id and timing.index in timed for timing in machine.timings)
    ]
    for chosen in product(*(names for names in named if names)):
        yield dict(chosen)

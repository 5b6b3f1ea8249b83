"""The wave of a lamp, from the changes of its line.

Law: a pattern starts lit, in time; its parts keep their tolerance; the old one is cut off where it is; without power
there is no light.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest
from attrs import evolve

from boardgauge.language.model import Blink, Dark, Flashes, Lamp, LampLine, Steady
from boardgauge.language.quantities import MS, Tolerance
from boardgauge.machine.chance import TIMINGS, Chance, Timings
from boardgauge.machine.lamp_wave import lamp_edges
from machine.small_boards import S, tarnbeck

LAMP = Lamp(
    "lamp",
    (
        LampLine(None, Steady()),
        LampLine(None, Blink(1 * S, 500 * MS)),
        LampLine(None, Flashes(3)),
        LampLine(None, Dark()),
    ),
    tolerance=Tolerance(Fraction(1, 5), Fraction(1, 5)),
    flash=Blink(250 * MS, 200 * MS),
    between_groups=1500 * MS,
    changes_within=500 * MS,
)
STEADY, BLINK, FLASHES, DARK, NO_POWER = 0, 1, 2, 3, -1


def _edges(
    lines: list[tuple[int, int]], end: int, timings: Timings = "nominal", seed: int = 0
) -> list[tuple[int, bool]]:
    return list(lamp_edges(LAMP, lines, Chance(tarnbeck().machine, timings, seed), end))


def test_groups_of_flashes_are_told_apart_by_their_pause() -> None:
    """Three flashes, their dark parts inside the group, then the pause in place of the third."""
    lit = [time for time, value in _edges([(0, FLASHES)], 3 * S) if value]
    assert lit == [0, 450 * MS, 900 * MS, 2650 * MS]


def test_a_new_pattern_cuts_the_old_one_off() -> None:
    """Blinking is cut in its dark part; two lit patterns run together without an edge."""
    assert _edges([(0, BLINK), (1200 * MS, STEADY)], 5 * S) == [(0, True), (1 * S, False), (1200 * MS, True)]
    assert _edges([(0, STEADY), (1 * S, BLINK)], 2 * S) == [(0, True), (2 * S, False)]
    assert _edges([(0, STEADY), (1 * S, DARK), (3 * S, STEADY), (4 * S, NO_POWER)], 9 * S) == [
        (0, True),
        (1 * S, False),
        (3 * S, True),
        (4 * S, False),
    ]


@pytest.mark.parametrize("timings", TIMINGS)
def test_starts_and_parts_keep_their_limits(timings: Timings) -> None:
    """A start comes within 0.5 s, and every part but the one cut off within 20 % of its time."""
    for seed in range(10):
        edges = _edges([(10 * S, BLINK), (40 * S, NO_POWER)], 60 * S, timings, seed)
        assert 10 * S <= edges[0][0] <= 10 * S + 500 * MS
        assert edges[-1][0] <= 40 * S
        for (start, lit), (stop, _) in pairwise(edges[:-1]):
            nominal = 1 * S if lit else 500 * MS
            assert nominal * 4 // 5 <= stop - start <= nominal * 6 // 5


def test_a_line_left_before_its_pattern_starts_never_shows() -> None:
    """A late board starts 0.5 s after the change, so what lasted 0.3 s is not seen."""
    assert _edges([(0, DARK), (5 * S, STEADY), (5 * S + 300 * MS, DARK)], 9 * S, "latest") == []


def test_a_lamp_that_does_not_say_what_a_flash_is_is_refused() -> None:
    """The reader asks for it; a lamp made by hand may lack it."""
    bare = evolve(LAMP, flash=None)
    with pytest.raises(ValueError, match="does not say what one flash is"):
        lamp_edges(bare, [(0, FLASHES)], Chance(tarnbeck().machine, "nominal", 0), 9 * S)

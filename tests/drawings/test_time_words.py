"""Limits as they are printed: no time inside is printed as outside, and none outside as inside without "about"."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boardgauge.drawings import words
from boardgauge.drawings.time_words import at_least, least, most, rough_time, time_range
from boardgauge.language.quantities import MIN, MS, H, S
from boardgauge.machine.compile import compile_board
from boardgauge.sheets.figures import stopwatch, with_limits
from sheets.sheet_helpers import BOARDS, microseconds, study_of

TIMES = st.one_of(st.integers(0, 200 * H), st.integers(0, 3 * 3600 * 1000).map(lambda ms: ms * MS))


def _ends(said: str) -> tuple[int, int]:
    """Read a printed range back: the unit of the first limit is that of the second where it has none of its own."""
    first, _, last = said.removeprefix("about ").partition(" to ")
    if " " not in first:
        first += f" {last.rpartition(' ')[2]}"
    return microseconds(first), microseconds(last)


@pytest.mark.parametrize(
    ("shortest", "longest", "said"),
    [
        (42_900 * MS, 47_100 * MS, "42.9 to 47.1 s"),
        (23_750 * MS, 26_250 * MS, "23.75 to 26.25 s"),
        (232_300 * MS, 247_700 * MS, "3 min 52.3 s to 4 min 7.7 s"),
        (2565 * S, 2835 * S, "42 min 45 s to 47 min 15 s"),
        (54 * MIN, 66 * MIN, "54 to 66 min"),
        (159_900 * MS, 160_100 * MS, "2 min 39.9 s to 2 min 40.1 s"),
        (115_050 * MS, 127_950 * MS, "115.05 to 127.95 s"),
        (57 * MIN, 63 * MIN + 500 * MS, "57 min to 63 min 0.5 s"),
        (0, 500 * MS, "0 to 500 ms"),
        (0, 5 * MIN, "0 to 5 min"),
        (5 * H, 6 * H, "5 to 6 h"),
        (800 * MS, 1200 * MS, "0.8 to 1.2 s"),
        (66_406, 70_000, "about 66 to 70 ms"),
        (90 * S, 90 * S, "90 s"),
    ],
)
def test_a_range_is_said_in_the_units_of_a_stopwatch(shortest: int, longest: int, said: str) -> None:
    """A unit that both share is said once; minutes and seconds stand side by side, as a stopwatch has them."""
    assert time_range(shortest, longest) == said


@pytest.mark.parametrize("time", [119 * S, 120 * S, 171 * S, 172_500 * MS, 189 * S])
def test_a_time_by_itself_is_said_one_way(time: int) -> None:
    """A limit, a wait and a nominal time are in minutes from two minutes on, so that a sheet says each alike."""
    assert least(time) == most(time) == at_least(time) == stopwatch(time)


@given(TIMES, TIMES)
def test_a_printed_range_is_the_range(one: int, other: int) -> None:
    """Both limits are read back as they were; one finer than a millisecond lies outside what it stands for."""
    shortest, longest = sorted((one, other))
    said = time_range(shortest, longest)
    if shortest == longest:
        return
    low, high = _ends(said)
    assert low <= shortest
    assert longest <= high
    assert said.startswith("about ") == ((low, high) != (shortest, longest))
    assert max(shortest - low, high - longest) < MS


@given(TIMES)
def test_limits_by_themselves_and_waits_are_never_on_the_wrong_side(time: int) -> None:
    """A least limit is no more, a most limit and a wait no less, than what they stand for."""
    assert microseconds(least(time).removeprefix("about ")) <= time <= microseconds(most(time).removeprefix("about "))
    assert least(time).startswith("about ") == (microseconds(least(time).removeprefix("about ")) != time)
    assert time <= microseconds(at_least(time)) < time + MS


@pytest.mark.parametrize("name", BOARDS)
def test_drawings_and_sheets_print_the_same_limits(name: str) -> None:
    """What stands in brackets behind a time in a sequence stands on the arrows of the drawings too."""
    for timing in compile_board(study_of(name).board).timings:
        lasts = timing.choices[0]
        if timing.setting is None and not lasts.span and lasts.shortest != lasts.longest:
            limits = time_range(lasts.shortest, lasts.longest)
            assert with_limits(lasts).endswith(f" ({limits})")
            assert words.after(study_of(name).board, timing).endswith(f"{{{limits}}}")


@pytest.mark.parametrize(
    ("time", "said"),
    [(42_900 * MS, "42.9 s"), (250 * MS, "250 ms"), (14_250 * MS, "14.25 s"), (5 * MIN, "5 min"), (90 * S, "90 s")],
)
def test_a_rough_time_has_one_unit(time: int, said: str) -> None:
    """Two decimals below 20 s, one above, minutes from three minutes on."""
    assert rough_time(time) == said

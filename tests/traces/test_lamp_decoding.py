"""What a lamp showed over time is told with the line of the table it fits, when it began, and what could look the same.

Law: a line is told for a stretch only if it was shown there; the true change lies between the two moments given for it.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boardgauge.language.model import Flashes, Pattern
from boardgauge.language.quantities import MS, S
from boardgauge.traces import LampWatch, Trace
from boardgauge.traces.lamp_decoding import Shown, decode
from camera import Camera
from traces.tarnbeck_by_hand import LAMP
from traces.test_brightness import filmed
from traces.test_lamp_looks import LINES, LONG, recorded, shown, square

STEADY, RAPID, SLOW, TWO, THREE = range(5)


def told(trace: Trace) -> tuple[Shown, ...]:
    return decode(trace, LampWatch(trace, LAMP))


def in_turn(*parts: tuple[int, Pattern], slow: float = 1.0) -> list[tuple[int, float]]:
    """Give the levels of patterns one after another, each from its time on."""
    edges: list[tuple[int, float]] = []
    for since, pattern in parts:
        edges = [edge for edge in edges if edge[0] < since]
        edges += [(at + since, level) for at, level in shown(pattern, lambda n: int(n * slow), 0) if at + since < LONG]
    return edges


def counted(line: int) -> bool:
    return isinstance(LAMP.lines[line].shows, Flashes)


# A group cut short and the first group of the next number may together look like a whole group: not told in turn.
SEQUENCES = st.lists(st.sampled_from(LINES), min_size=1, max_size=3).filter(
    lambda lines: all(a != b and not (counted(a) and counted(b)) for a, b in pairwise(lines))
)


@settings(deadline=None)
@given(lines=SEQUENCES, slow=st.floats(0.82, 1.18), gap=st.sampled_from([0, 1, 5, 20]))
def test_lines_are_told_in_turn(lines: list[int], slow: float, gap: int) -> None:
    """Three patterns of twelve seconds each: told in turn, each change within its interval, sampled or not."""
    starts = [12 * S * n for n in range(len(lines))]
    edges = in_turn(*((at, LAMP.lines[line].shows) for at, line in zip(starts, lines, strict=True)), slow=slow)
    found = told(recorded(edges, 36 * S, np.arange(0, 36 * S, gap * MS) if gap else None))
    lined = [row for row in found if row.lines]
    for row in lined:
        middle = (row.begins[1] + row.ends[0]) // 2
        now = sum(at <= middle for at in starts) - 1
        assert lines[now] in row.lines or lines[now] in row.may_be
        assert row.begins[0] <= starts[now] + 1 or row.begins[0] <= row.begins[1]
    assert [row.lines[0] for row in lined] == lines
    for row, start in zip(lined[1:], starts[1:], strict=True):
        assert row.begins[0] <= start <= row.begins[1]
    for row, start in zip(lined[:-1], starts[1:], strict=True):
        assert row.ends[0] <= start <= row.ends[1]


def test_everything_is_told_once() -> None:
    """From the start to the end of the recording, one stretch after the other."""
    rows = told(recorded(in_turn((0, LAMP.lines[SLOW].shows), (9 * S, LAMP.lines[THREE].shows)), LONG, None))
    assert (rows[0].begins[1], rows[-1].ends[0]) == (0, LONG)
    assert all(a.ends == b.begins for a, b in pairwise(rows))
    assert (rows[0].open_before, rows[-1].open_behind) == (True, True)
    assert [row.certainty for row in rows] == ["sure", "sure"]


@pytest.mark.parametrize(
    ("edges", "seen"),
    [
        (shown(Flashes(4), lambda n: n, 0), "groups of 4 flashes"),
        (square(500 * MS, LONG), "0.5 s lit, 0.5 s dark"),
        (square(3 * S, LONG), "3 s lit, 3 s dark"),
    ],
)
def test_a_pattern_of_no_line_is_told_for_what_it_is(edges: list[tuple[int, float]], seen: str) -> None:
    """Exactly, and filmed at 30 frames a second."""
    for trace in (recorded(edges, LONG, None), filmed(*Camera(noise=1.0, dropped=0.0, jitter=0).film(edges, LONG))):
        rows = told(trace)
        assert all(row.certainty in {"none", "not read", "open"} or seen.startswith("3 s") for row in rows)
        if not seen.startswith("3 s"):
            assert [row.certainty for row in rows] == ["none"]
            assert rows[0].seen.split(",")[0][:6] == seen.split(",")[0][:6]


def test_too_short_a_look_lists_what_it_may_be() -> None:
    """Two flashes of a group, and the end of the recording: any counted line of two or more."""
    edges = shown(LAMP.lines[THREE].shows, lambda n: n, 0)
    (row,) = told(recorded([edge for edge in edges if edge[0] <= 750 * MS], 800 * MS, None))
    assert (row.certainty, row.lines) == ("open", ())
    assert set(row.may_be) == {TWO, THREE, 5, 6}


def test_rapid_at_twenty_five_frames_is_not_told_for_sure() -> None:
    """Its parts span hardly more than two frames: with frames dropped it may be another, and nothing else is named."""
    edges = in_turn((0, LAMP.lines[SLOW].shows), (12 * S, LAMP.lines[RAPID].shows), (24 * S, LAMP.lines[SLOW].shows))
    rows = told(filmed(*Camera(rate=25, seed=5).film(edges, LONG)))
    assert [row.certainty for row in rows] == ["sure", "open", "sure"]
    assert rows[1].lines == (RAPID,)
    assert {row.lines for row in rows} == {(SLOW,), (RAPID,)}
    assert rows[0].may_be == ()


def test_no_supply_and_not_known_are_told() -> None:
    from boardgauge.traces import Recording, Wire, Wiring, condition
    from boardgauge.traces.recording import channel_of
    from traces.test_lamp_looks import BOARD

    edges = shown(LAMP.lines[SLOW].shows, lambda n: n, 0)
    levels = [(at, level if not 10 * S <= at < 20 * S else 0.0) for at, level in edges]
    levels = [(at, float("nan") if 30 * S <= at < 33 * S else level) for at, level in levels]
    channels = {
        "status": channel_of("status", np.array([t for t, _ in levels]), np.array([v for _, v in levels])),
        "power": channel_of("power", np.array([0, 10 * S, 20 * S]), np.array([1.0, 0.0, 1.0])),
    }
    wiring = Wiring("w", "", ("b",), (Wire("status", "status"), Wire("power", "power")))
    rows = told(condition(Recording("made", "VCD", 0, LONG, channels), wiring, BOARD))
    assert [row.certainty for row in rows] == ["sure", "no supply", "sure", "not known", "sure"]

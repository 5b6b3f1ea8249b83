"""What a lamp showed over time is told with the line of the table it fits, when it began, and what could look the same.

Law: a line is told for a stretch only if it was shown there; the true change lies between the two moments given for it.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import pytest
from attrs import evolve
from hypothesis import given, settings
from hypothesis import strategies as st

from boardgauge.language.model import Blink, Flashes, LampLine, Pattern, Steady
from boardgauge.language.quantities import MS, S
from boardgauge.traces import LampWatch, Trace
from boardgauge.traces.lamp_decoding import Shown, decode
from boardgauge.traces.lamp_turns import lines_read
from camera import Camera
from traces.tarnbeck_by_hand import LAMP
from traces.test_brightness import filmed
from traces.test_lamp_looks import LINES, LONG, recorded, shown, square

STEADY, RAPID, SLOW, TWO, THREE = range(5)


def told(trace: Trace) -> tuple[Shown, ...]:
    return decode(trace, LampWatch(trace, LAMP))


def in_turn(*parts: tuple[int, Pattern], slow: float = 1.0, end: int = LONG) -> list[tuple[int, float]]:
    """Give the levels of patterns one after another, each from its time on."""
    edges: list[tuple[int, float]] = []
    for since, pattern in parts:
        edges = [edge for edge in edges if edge[0] < since]
        edges += [(at + since, level) for at, level in shown(pattern, lambda n: int(n * slow), 0) if at + since < end]
    return edges


SEQUENCES = st.lists(st.sampled_from(LINES), min_size=1, max_size=3).filter(
    lambda lines: all(a != b for a, b in pairwise(lines))
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


def told_of(lines: Sequence[int], starts: Sequence[int], end: int, slow: float, gap: int) -> tuple[Shown, ...]:
    """Give what is told of lines shown one after another, sampled each ``gap`` ms (0: recorded as changes)."""
    parts = ((at, LAMP.lines[line].shows) for at, line in zip(starts, lines, strict=True))
    edges = in_turn(*parts, slow=slow, end=end)
    return told(recorded(edges, end, np.arange(0, end, gap * MS) if gap else None))


def amiss(rows: Sequence[Shown], lines: Sequence[int], starts: Sequence[int], end: int) -> list[str]:
    """Give what is wrong in what was told: of a stretch, what was shown then and not told; of a change, its time."""
    spans = list(zip(lines, starts, [*starts[1:], end], strict=True))
    found = [f"{row} is said to be no line" for row in rows if row.certainty == "none"]
    for row in rows:
        if row.certainty in {"sure", "likely"}:
            then = {line for line, since, until in spans if since < row.ends[0] and until > row.begins[1]}
            found += [f"in {row}, {line} was shown" for line in then - set(row.lines)]
    for change in starts[1:]:
        border = any(row.begins[0] <= change <= row.begins[1] for row in rows[1:])
        inside = any(row.begins[0] <= change <= row.ends[1] for row in rows if row.certainty in {"open", "not read"})
        if not border and not inside:
            found.append(f"the change at {change} is nowhere")
    return found


@settings(deadline=None)
@given(
    lines=st.lists(st.sampled_from(LINES), min_size=2, max_size=4).filter(
        lambda lines: all(a != b for a, b in pairwise(lines))
    ),
    lasts=st.lists(st.integers(8 * S, 14 * S), min_size=4, max_size=4),
    slow=st.floats(0.82, 1.18),
    gap=st.sampled_from([0, 1, 5, 20]),
)
def test_none_is_sure_that_was_not_shown(lines: list[int], lasts: list[int], slow: float, gap: int) -> None:
    """Patterns of any length from eight seconds on, in which each has a whole turn, counted ones in a row as well."""
    starts = [sum(lasts[:n]) for n in range(len(lines))]
    end = sum(lasts[: len(lines)])
    assert amiss(told_of(lines, starts, end, slow, gap), lines, starts, end) == []


@pytest.mark.parametrize(
    ("lines", "starts", "end", "slow", "gap"),
    [
        # The first dark part of the new line was partly the pause of the old one.
        ((6, 2, 6), (0, 9_094_163, 19_665_099), 30_915_854, 1.1753479630296093, 20),
        ((6, 2), (0, 8_121_926), 17_608_337, 1.043562356821668, 5),
        # The last whole turn was a part of the old line and a part of the new one.
        ((6, 5), (0, 9_338_516), 19_955_278, 1.0414132981373612, 5),
        ((0, 2, 6), (0, 9_631_751, 19_844_990), 27_925_829, 1.0280822391342297, 20),
        # One flash of six and the first five looked like six, so the five were there for longer than told.
        ((6, 5, 7), (0, 7_162_862, 12_718_349), 18_568_528, 1.0717830267392836, 20),
        ((6, 5, 7, 3), (0, 7_962_272, 15_210_556, 24_636_065), 32_338_139, 0.8810254106081544, 1),
        # Nothing tells these apart that is long enough, which makes them no pattern of their own.
        ((5, 6, 7), (0, 6_232_298, 12_110_825), 18_924_551, 1.0723488319600274, 1),
        ((6, 5, 6), (0, 5_894_203, 11_496_367), 17_039_851, 0.9235941884686644, 20),
        ((2, 6, 7), (0, 8_173_563, 14_594_446), 23_079_422, 0.9891408814133082, 1),
    ],
)
def test_what_was_told_wrongly_once(
    lines: tuple[int, ...], starts: tuple[int, ...], end: int, slow: float, gap: int
) -> None:
    """Sequences of which too much was said, with the reading as it was or with a part of it left out."""
    assert amiss(told_of(lines, starts, end, slow, gap), lines, starts, end) == []


@pytest.mark.parametrize(
    ("lines", "starts", "end", "slow", "gap", "told_as"),
    [
        # The looks at groups cut close, before and behind. What one whole group was seen of may be parts of two others.
        (
            (6, 7, 6, 5), (0, 8_113_246, 16_283_228, 27_142_324), 35_702_462, 0.846043790426987, 20,
            ["6", "7", "6", "5 or 3 or 4 or 6"],
        ),
        (
            (4, 5, 2), (0, 9_348_268, 17_770_430), 27_105_884, 1.1420934112324153, 1,
            ["4", "5 or 3 or 4 or 6", "2"],
        ),
        # What the line before explains itself is not taken from the line between; what the line behind does, is.
        ((6, 4, 7), (0, 8_250_362, 16_560_704), 27_386_690, 1.0686117956068357, 0, ["6", "4 or 6", "7"]),
        (
            (3, 5, 6), (0, 8_789_427, 16_830_257), 27_031_004, 1.1258674192654599, 1,
            ["3", "5 or 3 or 4 or 6", "6 or 3 or 4 or 5"],
        ),
        ((6, 4, 6), (0, 8_272_067, 16_459_228), 25_530_652, 1.0537949574064784, 1, ["6", "4", "6 or 3 or 4 or 5"]),
        # A lit part cut off, and one that begins: steady light is not named where the lines around it do without.
        (
            (5, 2, 7), (0, 6_678_028, 15_265_168), 22_806_706, 1.1134129398106065, 0,
            ["nothing or 5 or 6", "nothing or 0 or 1 or 2 or 3 or 4 or 5 or 6 or 7", "2", "7"],
        ),
    ],
)  # fmt: skip
def test_no_more_is_left_open_than_must_be(
    lines: tuple[int, ...], starts: tuple[int, ...], end: int, slow: float, gap: int, told_as: list[str]
) -> None:
    """What each stretch is told as, and what else it may be; all is right as well."""
    rows = told_of(lines, starts, end, slow, gap)
    named = (" or ".join(map(str, (*(row.lines or ("nothing",)), *row.may_be))) for row in rows)
    assert list(named) == told_as
    assert amiss(rows, lines, starts, end) == []


@pytest.mark.parametrize(
    ("lines", "starts", "end", "slow", "gap"),
    [
        ((3, 4), (0, 3_040_061), 7_180_705, 0.9550823604539347, 33),
        ((5, 4), (0, 5_232_142), 9_013_487, 0.9872103209103098, 33),
        ((4, 3), (0, 4_389_291), 7_599_735, 1.0309807370634962, 40),
        ((3, 5), (0, 2_902_913), 8_963_474, 1.064499314474676, 33),
        ((1, 4, 3), (0, 265_480, 3_894_831), 6_603_784, 0.8541992802215865, 33),
        ((1, 6, 4), (0, 426_782, 6_256_530), 9_482_155, 1.1144758021091141, 0),
    ],
)
def test_parts_of_two_lines_are_not_another_for_sure(
    lines: tuple[int, ...], starts: tuple[int, ...], end: int, slow: float, gap: int
) -> None:
    """Each shown for a turn and a little, filmed or probed: a third line was told for sure. Now both are beside it."""
    rows = [row for row in told_of(lines, starts, end, slow, gap) if row.lines or row.may_be]
    assert set(lines[-2:]) <= {*rows[-1].lines, *rows[-1].may_be}
    assert rows[-1].certainty == "open"


@pytest.mark.parametrize(
    ("lines", "starts", "end", "slow", "gap"),
    [
        ((2, 3, 4), (0, 1_902_958, 5_383_732), 8_841_051, 0.8928247025878212, 33),
        ((3, 6, 1), (0, 2_980_266, 8_576_529), 8_756_059, 0.8723274092110804, 0),
        ((4, 1, 3), (0, 3_479_873, 3_781_028), 7_316_315, 1.0110793435669392, 0),
        ((3, 5, 1), (0, 2_126_764, 5_869_275), 6_116_575, 0.8455871026979794, 33),
    ],
)
def test_short_turns_are_not_told_as_no_line(
    lines: tuple[int, ...], starts: tuple[int, ...], end: int, slow: float, gap: int
) -> None:
    """Lines that each stayed for a turn of their own were told as no line of the table, and the status was 1."""
    assert all(row.certainty != "none" for row in told_of(lines, starts, end, slow, gap))


@settings(deadline=None)
@given(lines=SEQUENCES, slow=st.floats(0.82, 1.18), gap=st.sampled_from([0, 1, 5, 20]), short=st.integers(0, 3 * S))
def test_lines_that_were_shown_long_enough_are_read(lines: list[int], slow: float, gap: int, short: int) -> None:
    """Each shown for three turns and more is read, and no other; what comes last may be too short for it."""
    starts = [20 * S * n for n in range(len(lines) + 1)]
    end = starts[-1] + short
    shown_lines = [*lines, STEADY if lines[-1] != STEADY else SLOW]
    edges = in_turn(
        *((at, LAMP.lines[line].shows) for at, line in zip(starts, shown_lines, strict=True)), slow=slow, end=end + 1
    )
    trace = recorded(edges, end, np.arange(0, end, gap * MS) if gap else None)
    read = lines_read(trace, LampWatch(trace, LAMP))
    assert set(lines) <= read <= set(shown_lines)
    if not short:
        assert read == set(lines)


@pytest.mark.parametrize(
    ("lines", "starts", "slow", "gap"),
    [
        # Two flashes of five and three of three looked like five, and the next three like the end of five.
        ((5, 4, 6), (0, 9_766_260, 18_777_799), 1.1555029770874792, 5),
        # The whole turn of the last began at a sample before the change.
        ((0, 6, 1), (0, 10_084_021, 19_171_333), 1.1640896473998927, 5),
    ],
)
def test_a_change_inside_a_look_is_seen(lines: list[int], starts: list[int], slow: float, gap: int) -> None:
    """Each was told for sure, at a wrong moment or as the wrong line, before."""
    end = starts[-1] + 12 * S
    edges = in_turn(*((at, LAMP.lines[line].shows) for at, line in zip(starts, lines, strict=True)), slow=slow, end=end)
    rows = told(recorded(edges, end, np.arange(0, end, gap * MS)))
    assert [row.lines[0] for row in rows] == list(lines)
    for row, start in zip(rows[1:], starts[1:], strict=True):
        assert row.begins[0] <= start <= row.begins[1]


@pytest.mark.parametrize(("number", "lasts"), [(5, 7), (6, 5)])
def test_two_short_looks_are_not_a_pattern_of_no_line(number: int, lasts: int) -> None:
    """Five flashes, then six (or the other way): for less than two turns of either, together no number of the table."""
    line, other = (5, 6) if number == 5 else (6, 5)
    starts = (0, lasts * S, (lasts + 7) * S)
    patterns = (LAMP.lines[line].shows, LAMP.lines[other].shows, LAMP.lines[THREE].shows)
    rows = told(recorded(in_turn(*zip(starts, patterns, strict=True)), 26 * S, None))
    assert all(row.certainty != "none" for row in rows)
    assert rows[-1].lines == (THREE,)


def test_a_change_may_be_as_late_as_what_may_have_been_there_instead() -> None:
    """Six flashes, cut off, and darkness: had it been five from somewhere on, it would be dark at the latest later."""
    rows = told_of((6, 7), (0, 5_760_077), 12_077_624, 1.0337892095968422, 1)
    assert rows[-1].lines == (7,)
    assert rows[-1].begins == (1_033_000, 7_786_001)


@pytest.mark.parametrize(("lasts", "read"), [(4 * S, {STEADY}), (6 * S, {STEADY, SLOW})])
def test_a_turn_and_a_half_is_not_read(lasts: int, read: set[int]) -> None:
    """Nothing else than slow explains it, but only what came twice in a row is a pattern."""
    edges = in_turn((0, LAMP.lines[SLOW].shows), (lasts, LAMP.lines[STEADY].shows), (20 * S, LAMP.lines[THREE].shows))
    trace = recorded([edge for edge in edges if edge[0] < 20 * S], 20 * S, None)
    assert lines_read(trace, LampWatch(trace, LAMP)) == read


def test_of_two_lines_that_look_the_same_none_is_read() -> None:
    """One second and one and a fifth, each a fifth more or less: what fits both is neither."""
    lines = tuple(LampLine(None, Blink(length, length)) for length in (1 * S, 1_200 * MS))
    lamp = evolve(LAMP, lines=(*lines, LampLine(None, Steady())))
    for half, read in ((1_100 * MS, set()), (900 * MS, {0}), (1_300 * MS, {1})):
        trace = recorded(square(half, LONG), LONG, None)
        assert lines_read(trace, LampWatch(trace, lamp)) == read


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

"""Laws: what lays a long recording out at once gives what its plain definition gives, change by change."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from boardgauge.judging.arranging import alone, following, in_moments
from boardgauge.judging.clocks import LONG, RateMap
from boardgauge.judging.columns import Changes
from boardgauge.judging.filtering import filtered_at_once
from boardgauge.judging.levels import Levels
from boardgauge.language.quantities import TimeRange
from boardgauge.machine.inputs import Change, RawEdge, filtered, moments
from boardgauge.machine.table import Level
from boardgauge.traces.wave import Wave

END = 400


@st.composite
def waves(draw: st.DrawFn) -> Wave:
    """Waves as conditioning makes them: neighbours differ, no column falls, what is lost or found is so at once."""
    initial = draw(st.sampled_from([True, False, None]))
    early, late, values, before = list[int](), list[int](), list[int](), -1 if initial is None else int(initial)
    time = 0
    for _ in range(draw(st.integers(0, 12))):
        time += draw(st.integers(0, 30))
        width = draw(st.integers(0, 12))
        value = draw(st.sampled_from([v for v in (1, 0, -1) if v != before]))
        sharp = value < 0 or before < 0
        early.append(max([time, *early]))
        late.append(max([early[-1] if sharp else early[-1] + width, *late]))
        values.append(value)
        before = value
    a, b = np.array(early, dtype=np.int64), np.array(late, dtype=np.int64)
    return Wave("x", "x", initial, a, b, a, np.array(values, dtype=np.int8), a, b)


FILTERS = st.tuples(st.integers(0, 25), st.integers(0, 25)).map(lambda pair: TimeRange(min(pair), max(pair)))


COMES_ON = st.lists(st.tuples(st.integers(0, 200), st.integers(0, 9)).map(lambda row: (row[0], sum(row))), max_size=2)


@given(waves(), FILTERS, COMES_ON)
def test_filtering_at_once_gives_the_changes_of_the_plain_filter(
    wave: Wave, ignores: TimeRange, comes_on: list[tuple[int, int]]
) -> None:
    """The vectorised filter and its readable definition agree on every change, bursts and doubtful pulses included."""
    edges = [RawEdge(*change) for change in wave.changes()]
    plain = filtered(3, wave.initial, edges, ignores, END, comes_on)
    assert list(filtered_at_once(3, wave, ignores, END, comes_on)) == plain


def test_a_burst_too_short_to_be_seen_leaves_nothing() -> None:
    """Three breaks of a line within less than the filter's first figure are no change."""
    times = np.array([10, 12, 14, 16], dtype=np.int64)
    wave = Wave("x", "x", True, times, times, times, np.array([0, 1, 0, 1], dtype=np.int8), times, times)
    assert not filtered_at_once(0, wave, TimeRange(10, 20), END)


def _level(rows: Sequence[tuple[int, int]]) -> Wave:
    times = np.array([time for time, _ in rows], dtype=np.int64)
    return Wave("x", "x", False, times, times, times, np.array([v for _, v in rows], dtype=np.int8), times, times)


def test_what_is_not_known_for_less_than_the_filter_takes_in_is_no_change() -> None:
    """Whatever it was meanwhile, it was over too soon; lasting as long as the first figure it may be one."""
    assert not filtered_at_once(0, _level([(10, -1), (19, 0)]), TimeRange(10, 20), END)
    assert list(filtered_at_once(0, _level([(10, -1), (20, 0)]), TimeRange(10, 20), END)) == [
        Change(0, None, 10, 10),
        Change(0, False, 20, 20),
    ]
    assert list(filtered_at_once(0, _level([(10, -1), (19, 1)]), TimeRange(10, 20), END)) == [Change(0, True, 10, 19)]


def test_a_flicker_in_which_the_supply_comes_on_may_be_seen() -> None:
    """The board looks at an input as the supply comes on; a flicker at any other time is none."""
    wave = _level([(10, 1), (16, 0)])
    seen = [Change(0, True, 10, 10, True), Change(0, False, 16, 16)]
    assert list(filtered_at_once(0, wave, TimeRange(10, 20), END, [(13, 13)])) == seen
    assert list(filtered_at_once(0, wave, TimeRange(10, 20), END, [(16, 40)])) == seen
    assert not filtered_at_once(0, wave, TimeRange(10, 20), END, [(17, 17), (9, 9)])


@st.composite
def laid_out(draw: st.DrawFn) -> tuple[Levels, list[Change], list[bool | None]]:
    initial = draw(st.lists(st.sampled_from([True, False, None]), min_size=2, max_size=2))
    delays = draw(st.lists(st.integers(0, 20), min_size=2, max_size=2))
    changes = []
    for _ in range(draw(st.integers(0, 10))):
        early = draw(st.integers(0, 100))
        changes.append(
            Change(
                draw(st.integers(0, 1)),
                draw(st.sampled_from([True, False, None])),
                early,
                early + draw(st.integers(0, 10)),
                droppable=draw(st.booleans()),
            )
        )
    changes.sort(key=lambda change: (change.earliest, change.latest, change.level))
    levels = [Level(index, f"i{index}", None, False) for index in range(2)]
    return Levels.of(levels, initial, Changes.of(changes), delays), changes, initial


@given(laid_out(), st.integers(-10, 140))
def test_a_level_is_certain_where_all_its_stretches_agree(
    laid: tuple[Levels, list[Change], list[bool | None]], time: int
) -> None:
    """Of the stretches of a level that hold a moment, one value alone is a certain level; anything else is not."""
    levels, changes, initial = laid
    for index in range(2):
        found = {value for since, until, value in levels.stretches(index) if since <= time < until}
        assert levels._level(index, time) == (next(iter(found)) if len(found) == 1 else None)
        last = initial[index]
        for change in changes:
            if change.level == index and change.earliest <= time:
                last = None if change.droppable else change.value
        assert levels.last(index, time) == last


@given(st.lists(st.tuples(st.integers(1, 20), st.sampled_from([1, 1, 3, 60])), min_size=1, max_size=8), st.data())
def test_board_time_goes_by_the_rate_of_each_piece(steps: list[tuple[int, int]], data: st.DataObject) -> None:
    """Between two moments as much board time passes as the rates of the pieces between them add up to."""
    pieces, time = list[tuple[int, int]](), 0
    for length, rate in steps:
        pieces.append((time, rate))
        time += length
    since, until = sorted(data.draw(st.tuples(st.integers(0, time + 5), st.integers(0, time + 5))))
    rates = [next(rate for begins, rate in reversed(pieces) if begins <= t) for t in range(since, until)]
    clock = RateMap.of(pieces)
    assert clock.at(until) - clock.at(since) == sum(rates)
    assert until - 1 < clock.when(clock.at(until)) <= until <= LONG


@st.composite
def unordered(draw: st.DrawFn) -> list[Change]:
    found = []
    for _ in range(draw(st.integers(0, 12))):
        early = draw(st.integers(0, 60))
        value, hidden = draw(st.sampled_from([True, False, None])), draw(st.sampled_from([False, False, True]))
        late = early + draw(st.integers(0, 6))
        found.append(Change(draw(st.integers(0, 3)), value, early, late, draw(st.booleans()), hidden=hidden))
    return found


SUPPLY = st.lists(st.integers(0, 70), max_size=3).map(sorted)


@given(unordered(), st.integers(0, 12), SUPPLY)
def test_the_moments_of_a_long_recording_are_those_of_their_definition(
    changes: list[Change], same_moment: int, supply: list[int]
) -> None:
    columns = in_moments(Changes.of(changes), same_moment, np.array(supply, dtype=np.int64))
    assert list(columns) == moments(changes, same_moment, supply)
    assert [columns[index] for index in range(len(columns))] == list(columns)


@given(unordered(), st.lists(st.integers(0, 9), min_size=4, max_size=4), SUPPLY)
def test_a_change_is_alone_if_nothing_else_changes_until_it_was_acted_on(
    changes: list[Change], responds: list[int], supply: list[int]
) -> None:
    """Nothing else: no change of another level that may still be waiting or comes by then, and none of the supply."""
    columns = in_moments(Changes.of(changes), 5, np.array(supply, dtype=np.int64))
    rows, found = list(columns), alone(columns, responds, np.array(supply, dtype=np.int64)).tolist()
    for index, change in enumerate(rows):
        until = change.latest + responds[change.level]
        others = [row for row in rows if row.level != change.level]
        waiting = [
            row
            for row in rows[:index]
            if row in others
            and row.earliest + max(responds) >= change.earliest
            and row.latest + responds[row.level] >= change.earliest
        ]
        coming = [row for row in rows[index + 1 :] if row in others and row.earliest <= until]
        cut = any(change.earliest <= time <= until for time in supply)
        assert found[index] == (change.moment < 0 and not change.hidden and not (waiting or coming or cut))
    for index, after in enumerate(following(columns).tolist()):
        later = [number for number in range(index + 1, len(rows)) if rows[number].level == rows[index].level]
        assert after == (later[0] if later else -1)

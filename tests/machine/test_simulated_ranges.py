"""Whatever a simulated board chooses, it stays inside its spec.

Law: every stretch of a timing that ran out lasted a time in its range, counted at the terminals; what shows stays
inside its lag; the same seed gives the same run; the order of declaration means nothing.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest
from attrs import evolve
from hypothesis import given, settings
from hypothesis import strategies as st

from board_strategies import boards
from boardgauge.language.model import Board
from boardgauge.machine.chance import TIMINGS, Timings
from boardgauge.machine.compile import compile_board
from boardgauge.machine.picture import CannotSettle
from boardgauge.machine.run import Run, Timeline, Value
from boardgauge.machine.settle import Engine
from boardgauge.machine.simulate import Simulator
from machine.small_boards import S, board_of, run_tarnbeck, tarnbeck

ON, OFF = True, False
_INPUTS = ("y", "lps", "hps", "cold", "warm", "o")


@st.composite
def tarnbeck_timelines(draw: st.DrawFn) -> dict[str, list[tuple[float, Value]]]:
    """Draw what happens to the board of the library: changes at any time, short ones among them."""
    found: dict[str, list[tuple[float, Value]]] = {}
    for name in _INPUTS:
        times = draw(st.lists(st.integers(0, 40_000), max_size=6, unique=True).map(sorted))
        value = draw(st.booleans())
        found[name] = [(0, value)]
        for time in times:
            value = not value
            found[name].append((time / 100, value))
    if draw(st.booleans()):
        off = draw(st.integers(100, 30_000)) / 100
        found["power"] = [(0, True), (off, False), (off + 5, True)]
    return found


@settings(max_examples=30, deadline=None)
@given(tarnbeck_timelines(), st.sampled_from(TIMINGS), st.integers(0, 99))
def test_every_timing_that_ran_out_lasted_a_time_in_its_range(
    changes: dict[str, list[tuple[float, Value]]], timings: Timings, seed: int
) -> None:
    """Counted from its origin at the terminals; accumulators add up over stretches and are left out here."""
    made = run_tarnbeck(changes, 400, timings, seed)
    machine = tarnbeck().machine
    for stretch in made.stretches:
        timing = machine.timings[stretch.timing]
        if stretch.how != "expired" or timing.role == "target":
            continue
        durations = timing.choices
        lasted = stretch.end - stretch.origin
        assert min(d.shortest for d in durations) <= lasted <= max(d.longest for d in durations), timing.name


@settings(max_examples=20, deadline=None)
@given(tarnbeck_timelines(), st.sampled_from(TIMINGS), st.integers(0, 99))
def test_what_shows_is_what_was_commanded_inside_its_lag(
    changes: dict[str, list[tuple[float, Value]]], timings: Timings, seed: int
) -> None:
    """Each shown edge follows a command of the same value by no more than the lag; cc and fan stay together."""
    made = run_tarnbeck(changes, 400, timings, seed)
    machine = tarnbeck().machine
    for row in machine.outputs:
        commands = [
            (entry.time, value)
            for entry in made.story
            for output, value in (entry.outcome.commands if entry.outcome is not None else ())
            if output == row.index
        ]
        commands += [(entry.time, False) for entry in made.story if entry.outcome is None]
        shown = made.outputs[row.output].changes
        assert [value for _, value in shown] == [index % 2 == 0 for index in range(len(shown))]
        for time, value in shown:
            assert any(time - row.lag <= when <= time and value == new for when, new in commands)


@settings(max_examples=10, deadline=None)
@given(tarnbeck_timelines(), st.integers(0, 99))
def test_the_same_seed_gives_the_same_run(changes: dict[str, list[tuple[float, Value]]], seed: int) -> None:
    """Every free choice comes from the seed."""
    assert run_tarnbeck(changes, 200, "random", seed) == run_tarnbeck(changes, 200, "random", seed)


# -- drawn boards --------------------------------------------------------------------------------------------------


@st.composite
def board_and_timeline(draw: st.DrawFn) -> tuple[Board, Timeline]:
    """Draw a board and what happens to it, in half seconds."""
    board = draw(boards())
    inputs: dict[str, tuple[tuple[int, Value], ...]] = {"power": ((0, True),)}
    for name, row in board.inputs.items():
        times = draw(st.lists(st.integers(1, 200), max_size=5, unique=True).map(sorted))
        values: st.SearchStrategy[Value] = st.booleans() if row.unit is None else st.integers(-50, 150).map(Fraction)
        inputs[name] = ((0, draw(values)), *((t * S // 2, draw(values)) for t in times))
    return board, Timeline(inputs, 120 * S)


_MOST = 300


def _told(board: Board, timeline: Timeline, timings: Timings = "nominal") -> Run | str:
    simulated = Simulator(compile_board(board), timings, 1).board()
    simulated.feed(timeline.inputs)
    instants = 0

    def watch(*_: object) -> bool:
        nonlocal instants
        instants += 1
        return instants >= _MOST

    try:
        # A drawn board may well swing by itself every few microseconds; some of that is enough.
        simulated.advance(timeline.end, watch)
        return simulated.run()
    except CannotSettle as error:
        return type(error).__name__


@settings(max_examples=40, deadline=None)
@given(board_and_timeline(), st.randoms(use_true_random=False))
def test_the_order_of_declaration_means_nothing(drawn: tuple[Board, Timeline], random: object) -> None:
    """Rules, conditions and outputs declared in another order give the same edges at nominal times."""
    board, timeline = drawn

    def shuffled(table: dict) -> dict:  # type: ignore[type-arg]
        items = list(table.items())
        random.shuffle(items)  # type: ignore[attr-defined]
        return dict(items)

    other = evolve(
        board, rules=shuffled(board.rules), conditions=shuffled(board.conditions), outputs=shuffled(board.outputs)
    )
    first, second = _told(board, timeline), _told(other, timeline)
    if isinstance(first, str) or isinstance(second, str):
        assert first == second
    else:
        assert first.outputs == second.outputs
        assert first.lamps == second.lamps


@settings(max_examples=40, deadline=None)
@given(board_and_timeline(), st.sampled_from(TIMINGS))
def test_timings_of_drawn_boards_keep_their_ranges(drawn: tuple[Board, Timeline], timings: Timings) -> None:
    """With no speed-up, every stretch that ran out lasted a time in its range, or was over before the board looked."""
    board = evolve(drawn[0], speed_ups={})
    made = _told(board, drawn[1], timings)
    if isinstance(made, str):
        return
    machine = compile_board(board)
    late = max(row.responds_within for row in board.inputs.values())
    for stretch in made.stretches:
        timing = machine.timings[stretch.timing]
        if stretch.how != "expired" or timing.role == "target":
            continue
        lasted = stretch.end - stretch.origin
        assert min(d.shortest for d in timing.choices) <= lasted
        assert lasted <= max(max(d.longest for d in timing.choices), late), timing


def test_one_clock_drives_all_times_of_a_run() -> None:
    """With a shared clock two timings of 100 s and 50 s are off by the same percentage."""
    board = board_of(
        """
        [inputs.a]
        kind = "call"
        [rules.long]
        kind = "delay"
        begins = "a begins"
        lasts = "100 s"
        if_begun_again = "starts over"
        [rules.short]
        kind = "delay"
        begins = "a begins"
        lasts = "50 s"
        if_begun_again = "starts over"
        [outputs.q]
        on = "long"
        [outputs.p]
        on = "short"
        """,
        'language = 1\n[board]\nid = "c"\ntitle = "one clock"\ntolerance = "± 10 %"\nclock = "shared"\n',
    )
    machine = compile_board(board)
    for seed in range(10):
        made = Simulator(machine, "random", seed).run(Timeline({"power": ((0, ON),), "a": ((S, ON),)}, 200 * S))
        long, short = (made.outputs[name].changes[1][0] - S for name in ("q", "p"))
        assert abs(long - 2 * short) <= 2


@pytest.mark.parametrize("timings", TIMINGS)
def test_a_timing_cannot_outlast_what_stopped_it_at_the_terminals(timings: Timings) -> None:
    """The input went away before the time was up, so it did not run out, however late the board looks."""
    board = board_of(
        """
        [inputs.a]
        kind = "call"
        [outputs.q]
        on = "a for 10 s"
        """,
        'language = 1\n[board]\nid = "c"\ntitle = "a late one"\ntolerance = "exactly"\nresponds_within = "2 s"\n',
    )
    engine = Engine(compile_board(board))
    for seed in range(10):
        for off, ran_out in ((10_999_999, False), (11_000_001, True)):
            made = Simulator(engine.machine, timings, seed, engine=engine).run(
                Timeline({"power": ((0, ON),), "a": ((S, ON), (off, OFF))}, 60 * S)
            )
            assert any(stretch.how == "expired" for stretch in made.stretches) == ran_out


def test_one_clock_leaves_the_times_of_whoever_judges_alone() -> None:
    """A stretch not judged lasts what it says, however wrong the clock of the board is."""
    board = board_of(
        """
        [inputs.a]
        kind = "call"
        [outputs.q]
        on = "a for 5 s"
        [[not_judged]]
        signals = ["q"]
        after = "power_up"
        lasts = "1 s"
        """,
        'language = 1\n[board]\nid = "c"\ntitle = "one clock"\ntolerance = "± 10 %"\nclock = "shared"\n',
    )
    machine = compile_board(board)
    made = Simulator(machine, "latest").run(Timeline({"power": ((0, ON),), "a": ((S, ON),)}, 20 * S))
    lasted = {machine.timings[s.timing].role: s.end - s.origin for s in made.stretches}
    assert lasted == {"not judged": S, "for": 5 * S + S // 2}


@pytest.mark.parametrize("timings", TIMINGS)
def test_a_speed_up_counts_from_its_terminal(timings: Timings) -> None:
    """100 s from 1 s on, one second of them at sixty: over at 42 s, however late the board looks at the link."""
    board = board_of(
        """
        [inputs.a]
        kind = "call"
        [inputs.fast]
        kind = "link"
        [rules.t]
        kind = "delay"
        begins = "a begins"
        lasts = "100 s"
        if_begun_again = "starts over"
        [outputs.q]
        on = "t"
        [speed_ups.pins]
        while = "fast fitted"
        times_faster = 60
        what = ["t"]
        """,
        'language = 1\n[board]\nid = "c"\ntitle = "a link"\ntolerance = "exactly"\nresponds_within = "0.3 s"\n',
    )
    changes: dict[str, tuple[tuple[int, Value], ...]] = {
        "power": ((0, ON),),
        "a": ((S, ON),),
        "fast": ((10 * S, ON), (11 * S, OFF)),
    }
    for seed in range(10):
        made = Simulator(compile_board(board), timings, seed).run(Timeline(changes, 60 * S))
        assert made.outputs["q"].changes[-1] == (42 * S, OFF)


def test_an_accumulator_keeps_one_draw_from_reset_to_reset() -> None:
    """Whatever the stretches, what they add up to is one time in the range of its target."""
    board = board_of(
        """
        [inputs.a]
        kind = "call"
        [inputs.r]
        kind = "button"
        [rules.sum]
        kind = "accumulator"
        adds_while = "a"
        target = "10 s ± (10 % + 0.5 s)"
        resets = "r begins"
        [outputs.q]
        on = "sum reached"
        """
    )
    machine = compile_board(board)
    steps = [(n * S + 7 * n, n % 2 == 1) for n in range(1, 60)]
    for timings in TIMINGS:
        for seed in range(10):
            made = Simulator(machine, timings, seed).run(
                Timeline({"power": ((0, ON),), "a": tuple(steps), "r": ((45 * S, ON),)}, 60 * S)
            )
            reached, off = (time for time, _ in made.outputs["q"].changes)
            stops = [(start, stop) for (start, on), (stop, _) in pairwise(steps) if on]
            added = sum(min(stop, reached) - start for start, stop in stops if start < reached)
            assert 8_500_000 <= added <= 11_500_000
            assert off == 45 * S
            if timings == "nominal":
                assert added == 10 * S

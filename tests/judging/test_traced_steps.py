"""Laws: a traced step gives, number for number, what the tracker gives, and declines where it would go another way."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from board_strategies import boards
from boardgauge.boards import board_path
from boardgauge.judging.answers import Answers
from boardgauge.judging.evidence import lay_out
from boardgauge.judging.made import function_of
from boardgauge.judging.run import Run
from boardgauge.judging.shape import Shape
from boardgauge.judging.steps import Steps
from boardgauge.judging.symbols import Symbol, Tape, Untraceable, earlier, later, place_of
from boardgauge.judging.tracing import Outcome
from boardgauge.judging.unknown import Unknown
from boardgauge.language import read_board
from boardgauge.language.model import Board, InputKind
from boardgauge.machine.compile import compile_board
from boardgauge.machine.picture import CannotSettle
from boardgauge.machine.settle import Engine
from boardgauge.machine.simulate import Simulator
from boardgauge.traces import Channel, Recording, condition, default_wiring
from boardgauge.traces.simulated import recording_of
from timelines import timelines

EXAMPLES = settings().max_examples
FEWER = settings(
    max_examples=max(3, EXAMPLES // 12),
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.filter_too_much],
)
NEVER = 1 << 60


@cache
def engine_of(name: str) -> Engine:
    return Engine(compile_board(read_board(board_path(name))))


def judged(engine: Engine, recording: Recording, steps: Steps) -> tuple[object, ...]:
    """Judge a recording in one pass; give all that is concluded from it."""
    board = engine.machine.board
    trace = condition(recording, default_wiring(board), board)
    evidence = lay_out(engine.machine, trace, "measured" if trace.samples is not None else "recorded")
    run = Run(engine, evidence, Unknown(engine), None, steps)
    run.go()
    last = [(h.kind, h.caps, h.now, h.vars, h.sums, h.rate) for h in run.tracker.hypotheses]
    return run.deviations, run.gave_up, run.coverage.rules(), run.coverage.lamps(), run.tracker.most, last


def moved(recording: Recording, data: st.DataObject, board: Board) -> Recording:
    """Move one change of an output by up to some seconds, where there is one."""
    names = [n for n, c in recording.channels.items() if n in board.outputs and len(c.times) > 2]
    if not names:
        return recording
    name = data.draw(st.sampled_from(names))
    channel = recording.channels[name]
    at = data.draw(st.integers(1, len(channel.times) - 1))
    times = channel.times.copy()
    most = int(times[at + 1]) - 1 if at + 1 < len(times) else recording.end
    by = data.draw(st.sampled_from([-2_000_000, -150_000, 150_000, 2_000_000]))
    times[at] = min(max(int(times[at]) + by, int(times[at - 1]) + 1), most)
    channels = {**recording.channels, name: Channel(name, times, channel.values)}
    return Recording(recording.file, recording.format, recording.start, recording.end, channels)


def compare(engine: Engine, data: st.DataObject, mode: str, seed: int) -> None:
    board = engine.machine.board
    timeline = data.draw(timelines(board))
    try:
        run = Simulator(engine.machine, mode, seed, engine=engine).run(timeline)  # type: ignore[arg-type]
    except CannotSettle:
        assume(False)
    recording = moved(recording_of(run, board), data, board)
    plain = judged(engine, recording, Steps(engine, Answers(), NEVER))
    steps = Steps(engine, Answers(), 1, checked=True)
    assert judged(engine, recording, steps) == plain
    # The second time what was traced the first time fits.
    traced = steps.made
    assert judged(engine, recording, steps) == plain
    assert steps.made - traced <= traced


@pytest.mark.parametrize("name", ["tarnbeck", "hearthgate", "sump-pumps"])
@FEWER
@given(data=st.data(), mode=st.sampled_from(["nominal", "earliest", "latest", "random"]), seed=st.integers(0, 2**32))
def test_judging_by_traced_steps_comes_to_the_same_on_the_boards_of_the_library(
    name: str, data: st.DataObject, mode: str, seed: int
) -> None:
    compare(engine_of(name), data, mode, seed)


@FEWER
@given(board=boards(), data=st.data(), seed=st.integers(0, 2**32))
def test_judging_by_traced_steps_comes_to_the_same_on_any_board(board: Board, data: st.DataObject, seed: int) -> None:
    assume(all(row.kind is not InputKind.SENSOR for row in board.inputs.values()))
    compare(Engine(compile_board(board)), data, "random", seed)


# ---- symbols -----------------------------------------------------------------------------------------------------

PROGRAM = st.lists(
    st.tuples(
        st.sampled_from(["+", "-", "*", "//", "later", "earlier", "<", "<=", "==", "call"]),
        st.integers(0, 9),
        st.integers(0, 9),
        st.integers(-5, 5),
    ),
    min_size=1,
    max_size=14,
)
NUMBERS = st.lists(st.integers(-6, 6), min_size=4, max_size=4)


class Called:
    """Stands for the trace a step is taken on."""

    def twice(self, one: int, other: int) -> int:
        return 2 * one - other

    def ended(self, timing: int, least: int, greatest: int, sped_up: bool) -> None:
        """Nothing is told."""


def run_program(program: list[tuple[str, int, int, int]], numbers: list[int], tape: Tape | None) -> list[int]:
    """Do some sums on plain numbers or on symbols; what is done hangs on comparisons of what came before."""
    row, extra = list(numbers), 0
    for what, one, other, by in program:
        a, b = row[one % len(row)], row[other % len(row)] + by
        if what == "+":
            row.append(a + b + extra)
        elif what == "-":
            row.append(a - b)
        elif what == "*":
            row.append(a * by)
        elif what == "//":
            row.append(a // (abs(by) + 1))
        elif what == "later":
            row.append(later(a, b))
        elif what == "earlier":
            row.append(earlier(a, b))
        elif what == "call":
            plain = tape is None or not (isinstance(a, Symbol) or isinstance(b, Symbol))
            row.append(Called().twice(a, b) if plain else tape.called("x.twice", (a, b), Called().twice))  # type: ignore[union-attr]
        elif (what == "<" and a < b) or (what == "<=" and a <= b) or (what == "==" and a == b):
            extra += 1
            row.append(a + extra)
        else:
            extra -= 2
    return row


@settings(max_examples=EXAMPLES * 3, deadline=None)
@given(PROGRAM, NUMBERS, NUMBERS)
def test_a_made_function_does_the_same_for_other_numbers_or_declines(
    program: list[tuple[str, int, int, int]], first: list[int], second: list[int]
) -> None:
    tape = Tape()
    symbols = [tape.given(f"n{i}", value) for i, value in enumerate(first)]
    places = [place_of(value) for value in run_program(program, symbols, tape)]  # type: ignore[arg-type]
    outcome = Outcome(Shape((), (), ()), 0)
    made = function_of(tape, len(first), 0, [], places, outcome)
    assert made(tuple(first), 0, 0, 0, 0, Called()) == (outcome, tuple(run_program(program, first, None)))  # type: ignore[arg-type]
    other = made(tuple(second), 0, 0, 0, 0, Called())  # type: ignore[arg-type]
    assert other is None or other[1] == tuple(run_program(program, second, None))


@pytest.mark.parametrize("use", [hash, bool, int, str, float, lambda s: [1, 2][s], lambda s: {s: 1}, lambda s: s < 1.5])
def test_a_symbol_does_not_tell_its_number(use: object) -> None:
    """What a comparison does not say, nobody is told."""
    symbol = Tape().given("n0", 1)
    with pytest.raises(Untraceable):
        use(symbol)  # type: ignore[operator]


def test_a_comparison_that_is_known_is_not_asked_again() -> None:
    tape = Tape()
    one, other = tape.given("n0", 3), tape.given("n1", 5)
    assert one < other
    assert one + 1 <= other
    assert not one > other
    assert later(one, other) is other
    assert len(tape.guards) == 1


def test_numbers_of_a_trace_are_plain() -> None:
    """Symbols know plain whole numbers alone: an array's number among those of a trace would stop every tracing."""
    engine = engine_of("tarnbeck")
    board = engine.machine.board
    times, values = np.array([0, 10_000_000]), np.array([0.0, 1.0])
    channels = {name: Channel(name, times, values) for name in ("power", "y")}
    recording = Recording("x", "VCD", 0, 20_000_000, channels)
    evidence = lay_out(engine.machine, condition(recording, default_wiring(board), board), "recorded")
    assert {type(number) for event in evidence.happenings for number in (event.earliest, event.latest)} == {int}

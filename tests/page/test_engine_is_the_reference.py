"""The page's engine does what the reference does, instant by instant.

Law: for any board, whatever comes at its terminals and at each of the three fixed ways of timing, the page's engine and
the reference simulator tell the same story: the same instants with the same causes, places, levels, running timings,
outputs, lamp lines and broken requirements, the same edges at the terminals, the same flashes, the same stretches.
"""

from __future__ import annotations

from fractions import Fraction
from functools import cache
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from board_strategies import boards
from boardgauge.boards import board_path
from boardgauge.cases.case import all_cases
from boardgauge.cases.ours import board_of, timeline_of
from boardgauge.language import UnusableSpec, read_board
from boardgauge.language.model import Board, InputKind
from boardgauge.machine.chance import Timings
from boardgauge.machine.compile import compile_board
from boardgauge.machine.run import Timeline, Value
from boardgauge.machine.settle import Engine
from machine.small_boards import machine_of
from page.script import Piece, Script, comparable, reference
from timelines import timelines

WAYS: tuple[Timings, ...] = ("nominal", "earliest", "latest")
LIBRARY = sorted(
    path
    for path in Path(board_path("tarnbeck")).parent.rglob("*.toml")
    if "wirings" not in path.parts and "[board]" in path.read_text(encoding="utf-8")
)
S = 1_000_000
MOST = 300


@cache
def engine_of(path: Path) -> Engine:
    """Give the reference engine of a board of the library."""
    return Engine(compile_board(read_board(path)))


@st.composite
def sensed(draw: st.DrawFn, board: Board, longest: int) -> dict[str, tuple[tuple[int, Value], ...]]:
    """Draw what the sensors of a board measure: values about their limits, changing now and then."""
    found: dict[str, tuple[tuple[int, Value], ...]] = {}
    for name, row in board.inputs.items():
        if row.kind is InputKind.SENSOR:
            value = st.integers(-100, 200).map(lambda tenths: Fraction(tenths, 2))
            times = draw(st.lists(st.integers(1, longest), max_size=8, unique=True).map(sorted))
            found[name] = ((0, draw(value)), *((time, draw(value)) for time in times))
    return found


def said(timeline: Timeline, more: dict[str, tuple[tuple[int, Value], ...]]) -> Piece:
    """Give a timeline as one piece, with the sensors' values."""
    return {**timeline.inputs, **more}, timeline.end


@pytest.mark.parametrize("path", LIBRARY, ids=lambda path: path.stem)
def test_boards_of_the_library_do_the_same(path: Path, script: Script) -> None:
    """Every board of the library, through timelines nastier than a class would think of."""
    engine = engine_of(path)
    machine = engine.machine

    @settings(max_examples=8, deadline=None)
    @given(timelines(machine.board, 900 * S), sensed(machine.board, 900 * S), st.sampled_from(WAYS))
    def law(timeline: Timeline, sensors: dict[str, tuple[tuple[int, Value], ...]], way: Timings) -> None:
        piece = said(timeline, sensors)
        assert comparable(script.run(machine, [piece], way)) == reference(machine, [piece], way, engine=engine)

    law()


@st.composite
def drawn(draw: st.DrawFn) -> tuple[Board, Piece]:
    """Draw a board and what happens to it."""
    board = draw(boards())
    timeline = draw(timelines(board, 240 * S))
    return board, said(timeline, draw(sensed(board, 240 * S)))


@settings(max_examples=100, deadline=None)
@given(drawn(), st.sampled_from(WAYS))
def test_drawn_boards_do_the_same(script: Script, case: tuple[Board, Piece], way: Timings) -> None:
    """Boards of every kind of rule, those that do not come to rest among them: both engines refuse the same."""
    board, piece = case
    machine = compile_board(board)
    assert comparable(script.run(machine, [piece], way, MOST)) == reference(machine, [piece], way, MOST)


@settings(max_examples=40, deadline=None)
@given(st.data(), st.sampled_from(WAYS))
def test_what_is_told_as_it_comes_is_done_as_it_comes(script: Script, data: st.DataObject, way: Timings) -> None:
    """A person clicks one thing after another: each change is fed when it is made, and the board goes on from there."""
    path = data.draw(st.sampled_from(LIBRARY))
    engine = engine_of(path)
    board = engine.machine.board
    level: dict[str, Value] = {}
    first: dict[str, list[tuple[int, Value]]] = {"power": [(0, True)]}
    for name, row in board.inputs.items():
        level[name] = Fraction(20) if row.kind is InputKind.SENSOR else row.contact == "normally closed"
        first[name] = [(0, level[name])]
    time = S
    pieces: list[Piece] = [(first, time)]
    named = st.lists(st.sampled_from(sorted(board.inputs)), max_size=15) if board.inputs else st.just([])
    for name in data.draw(named):
        row = board.inputs[name]
        if row.kind is InputKind.SENSOR:
            level[name] = Fraction(data.draw(st.integers(-60, 160)), 2)
        else:
            level[name] = not level[name]
        later = time + data.draw(st.integers(S // 2, 90 * S))
        pieces.append(({name: [(time, level[name])]}, later))
        time = later
    assert comparable(script.run(engine.machine, pieces, way)) == reference(engine.machine, pieces, way, engine=engine)


def test_every_case_of_the_language_comes_out_the_same(script: Script) -> None:
    """The inputs of the conformance cases go to both sides of the boundaries that drawn boards seldom meet."""
    played = 0
    for case in all_cases():
        if case.end is None or case.start == "unknown":
            continue
        try:
            machine = compile_board(board_of(case))
        except UnusableSpec:
            continue
        timeline = timeline_of(case, case.end)
        named = {"power", *machine.board.inputs}
        if any(row.unit is not None and name not in timeline.inputs for name, row in machine.board.inputs.items()):
            continue
        fed = {n: [(max(0, t), v) for t, v in edges] for n, edges in timeline.inputs.items() if n in named}
        piece = (fed, case.end)
        for way in WAYS:
            made = comparable(script.run(machine, [piece], way, positions=case.settings))
            assert made == reference(machine, [piece], way, positions=case.settings), (case.name, way)
        played += 1
    assert played > 200


SLOW = """
language = 1
[board]
id = "slow"
title = "a slow board (invented)"
tolerance = "exactly"
responds_within = "2 s"
"""
QUICK = SLOW.replace("2 s", "0 s")
CORNERS = {
    "a lockout is not cleared in the instant in which it tripped": (
        QUICK,
        """
        [inputs.a]
        kind = "call"
        [rules.l]
        kind = "lockout"
        trips = "a and not m"
        clears = "m"
        [rules.m]
        kind = "mode"
        begins = "l"
        ends = "not a"
        [rules.d]
        kind = "delay"
        begins = "l begins"
        lasts = "5 s"
        if_begun_again = "starts over"
        [outputs.q]
        on = "d"
        """,
        {"a": [(S, True), (20 * S, False)]},
    ),
    "what an accumulator has used of its seconds stays used": (
        QUICK,
        """
        [inputs.a]
        kind = "call"
        [rules.sum]
        kind = "accumulator"
        adds_while = "a"
        target = "10 s ± 0.5 s"
        [outputs.q]
        on = "sum reached"
        """,
        {"a": [(S, True), (11_300_000, False), (12 * S, True), (12_100_000, False), (20 * S, True)]},
    ),
    "a timing whose reason went away at the terminal does not run out": (
        SLOW,
        '[inputs.a]\nkind = "call"\n[outputs.q]\non = "a for 10 s"\n',
        {"a": [(S, True), (10_999_999, False), (20 * S, True), (30_000_001, False)]},
    ),
    "an accumulator stands still from the change at the terminal": (
        SLOW,
        """
        [inputs.a]
        kind = "call"
        [rules.sum]
        kind = "accumulator"
        adds_while = "a"
        target = "10 s"
        [outputs.q]
        on = "sum reached"
        """,
        {"a": [(S, True), (5 * S, False), (9 * S, True)]},
    ),
    "a timing waits for the rest of the moment that stops it": (
        SLOW + 'same_moment = "0.1 s"\n',
        """
        [inputs.a]
        kind = "call"
        [inputs.b]
        kind = "call"
        [outputs.q]
        on = "a for 10 s"
        [outputs.p]
        on = "b"
        """,
        {"a": [(S, True), (10_999_999, False)], "b": [(11_050_000, True)]},
    ),
    "outputs that a requirement keeps together stay together": (
        SLOW,
        """
        [inputs.a]
        kind = "call"
        [outputs.p]
        on = "not a"
        [outputs.q]
        on = "not a"
        lag = "1 s"
        [requirements.both]
        together = ["p", "q"]
        within = "0.2 s"
        """,
        {"a": [(9 * S, True), (30 * S, False)]},
    ),
}


@pytest.mark.parametrize("corner", CORNERS)
@pytest.mark.parametrize("way", WAYS)
def test_corners_that_drawn_boards_seldom_meet(script: Script, corner: str, way: Timings) -> None:
    """Each of these comes out otherwise if a single line of the engine is left out."""
    head, tables, changes = CORNERS[corner]
    machine = machine_of(tables, head)
    piece = ({"power": [(0, True)], **changes}, 60 * S)
    assert comparable(script.run(machine, [piece], way)) == reference(machine, [piece], way)

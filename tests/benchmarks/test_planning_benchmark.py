"""The benchmark of plans runs, and shows what it is for."""

from __future__ import annotations

from benchmarks.planning import measure, toured
from boardgauge.boards import board_path
from boardgauge.language import read_board
from boardgauge.plans.killing import LENGTHS
from boardgauge.plans.wish import wish_for


def test_a_plan_finds_more_than_a_tour_and_than_chance() -> None:
    """Of a small board a plan finds no fewer faults than a plain tour, and no fewer than chance does in its time."""
    row = measure(wish_for(read_board(board_path("iec-rs"))), 60.0, 1)
    assert row.found >= row.tour_found
    assert row.found >= row.random_found
    assert row.found + row.equivalent <= row.faults
    assert row.told().startswith("iec-rs")


def test_a_tour_takes_every_move() -> None:
    """The tour that plans are compared with leaves out no move of a rule, and the judge passes its sitting."""
    board = read_board(board_path("iec-ctu"))
    planner = toured(wish_for(board))
    (seated,) = planner.seated
    shown = planner.goals.sights(instant for done in seated.grown.done for instant in done.instants)
    moves = {sight for sight in planner.goals._wanted if sight[0] == "move"}
    assert moves
    assert moves <= shown
    assert planner.killing.good(seated.sitting, LENGTHS[0])[1].verdict == "conforms"

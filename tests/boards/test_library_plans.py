"""Plans that come with boards of the library are of their specs as they are, and boards in order pass them."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from boardgauge.boards import board_names, board_path
from boardgauge.command.finding import plan_beside
from boardgauge.faults import faults_of
from boardgauge.language import read_board
from boardgauge.plans.killing import Killing, Lengths
from boardgauge.plans.plan_reader import read_plan
from boardgauge.traces.wiring import signals_of

FIGURES = tomllib.loads(Path(__file__).parents[2].joinpath("docs", "plan-figures.toml").read_text(encoding="utf-8"))


@pytest.mark.parametrize("name", board_names())
def test_a_plan_comes_with_the_board(name: str) -> None:
    """It is of this spec, for every signal; good boards at other lengths conform, and do all that it waits for."""
    board, path = read_board(board_path(name)), plan_beside(board_path(name))
    plan = read_plan(path, board)
    assert set(plan.wired) == set(signals_of(board))
    assert plan.cautions
    assert plan.sittings
    killing = Killing(board, plan.wired)
    for sitting in plan.sittings:
        for seed in (11, 12):
            carried, judgement = killing.good(sitting, Lengths("random", seed))
            assert judgement.verdict == "conforms", f"{name}, sitting {sitting.id}, seed {seed}"
            assert all(time.came for time in carried.times)


@pytest.mark.parametrize("name", board_names())
def test_a_plan_finds_what_it_says(name: str) -> None:
    """Of the faults that it is said to find, the first, the middle one and the last are found."""
    board = read_board(board_path(name))
    plan = read_plan(plan_beside(board_path(name)), board)
    killing, faults = Killing(board, plan.wired), {fault.id: fault for fault in faults_of(board)}
    said = [goal for row in plan.covers if row.kind == "fault" for goal in row.goals]
    assert said
    for id_ in {said[0], said[len(said) // 2], said[-1]}:
        found = (killing.finds(sitting, faults[id_], Lengths("nominal")) for sitting in plan.sittings)
        assert any(found), f"{name}: {id_}"


@pytest.mark.parametrize("name", sorted(set(board_names()) & set(FIGURES)))
def test_the_plan_is_the_one_that_was_measured(name: str) -> None:
    """What the documents tell of a board's plan they tell of the plan that comes with it."""
    plan = read_plan(plan_beside(board_path(name)), read_board(board_path(name)))
    assert sum(len(row.goals) for row in plan.covers if row.kind == "fault") == FIGURES[name]["found"]
    assert abs(plan.expected_time / 1e6 - FIGURES[name]["bench"]) < 0.06


def test_every_board_has_its_plan() -> None:
    """Beside the specs there are their plans and nothing else."""
    paths = {plan_beside(board_path(name)) for name in board_names()}
    folders = {path.parent for path in paths}
    assert {found for folder in folders for found in folder.glob("*.toml")} == paths

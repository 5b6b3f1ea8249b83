"""The benchmark of diagnosis runs, and its figures are what they say."""

from __future__ import annotations

import sys
from importlib.util import module_from_spec, spec_from_file_location
from pathlib import Path

import pytest
from attrs import evolve

from benchmarks.faulty_lives import timeline, trace_of
from boardgauge.boards import board_names, board_path
from boardgauge.diagnosis import Diagnoser, Diagnosis, Explanation
from boardgauge.faults import fault_of, faults_of
from boardgauge.language import read_board
from boardgauge.machine.compile import compile_board
from boardgauge.machine.simulate import Simulator

# By its file: there are tests in a folder of the same name.
_spec = spec_from_file_location("diagnosis_benchmark", Path(__file__).with_name("diagnosis.py"))
assert _spec is not None
assert _spec.loader is not None
benchmark = sys.modules["diagnosis_benchmark"] = module_from_spec(_spec)
_spec.loader.exec_module(benchmark)

FAN = read_board(board_path("extract-fan"))


def test_a_fault_that_shows_is_ranked() -> None:
    """A fan that never starts shows in a random life, and is among the first three explanations."""
    tally = benchmark.diagnose_faults(FAN, [fault_of(FAN, "fan.stuck-off")], 1)
    assert tally.hidden == 0
    assert tally.ranks[0] is not None
    assert tally.ranks[0] <= 3


def test_a_tie_counts_as_one_only_where_no_step_parts_it() -> None:
    """The rank of a group counts groups; explanations of which no group is known count one by one."""
    *others, fault = faults_of(FAN)[:4]
    good = Diagnoser(FAN).diagnose(trace_of(Simulator(compile_board(FAN)).run(timeline(FAN, 1)), FAN))

    def diagnosis(group: int) -> Diagnosis:
        rows = tuple(Explanation((row,), "conforms", 1, group=group) for row in (*others, fault))
        return evolve(good, finding="fault", explanations=rows)

    assert benchmark.ranks_of(fault, diagnosis(1)) == (4, 1)
    assert benchmark.ranks_of(fault, diagnosis(0)) == (4, 4)
    assert benchmark.ranks_of(faults_of(FAN)[4], diagnosis(1)) == (None, None)


def test_shares_are_of_the_faults_that_showed() -> None:
    """Of three that showed, one came first, one second and one was not found."""
    row = benchmark.Tally("board", ranks=[1, 2, None], group_ranks=[1, 1, None], sizes=[1, 2, 3], hidden=4, seconds=3.0)
    assert row.told().split() == [
        "board", "3", "4", "33.3", "%", "66.7", "%", "66.7", "%", "66.7", "%", "66.7", "%", "2.0", "1.0", "s",
    ]  # fmt: skip


@pytest.mark.parametrize("most", [1, 3])
def test_what_is_not_found_is_in_no_share(most: int) -> None:
    """A fault that is no explanation lowers every share."""
    assert " 0.0 %" in benchmark.Tally("board", ranks=[None], group_ranks=[None], sizes=[most]).told()


@pytest.mark.parametrize("seed", [1, 2])
def test_every_board_of_the_library_has_lives(seed: int) -> None:
    """Also one without any input: it gets its supply, keeps it or loses it, and what it did ends after that."""
    for name in board_names():
        happens = timeline(read_board(board_path(name)), seed)
        assert happens.end > max(edges[-1][0] for edges in happens.inputs.values())

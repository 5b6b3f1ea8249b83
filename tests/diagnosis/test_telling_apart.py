"""Explanations are told as one only where each looks like every other, whatever single step is done next."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from attrs import define, evolve, field
from hypothesis import given
from hypothesis import strategies as st

from boardgauge.diagnosis import Explanation, diagnose
from boardgauge.diagnosis.explaining import ranked, score_of
from boardgauge.diagnosis.explanation import Size
from boardgauge.diagnosis.foretelling import foretell, in_classes
from boardgauge.diagnosis.rehearsing import Look, Poke, Rehearsal
from boardgauge.faults import fault_of
from boardgauge.language import read_board
from boardgauge.language.model import Board
from boardgauge.language.quantities import S
from boardgauge.machine.compile import compile_board
from boardgauge.machine.run import Timeline
from boardgauge.machine.simulate import Simulator
from boardgauge.traces import Trace, condition
from boardgauge.traces.simulated import recording_of

BOARD = read_board(Path(__file__).resolve().parents[2] / "docs" / "examples" / "fan.toml")
LIFE = Timeline({"power": ((S, True),), "call": ((2 * S, True),), "winding": ((0, True),)}, 60 * S)


@cache
def trace() -> Trace:
    return condition(recording_of(Simulator(compile_board(BOARD)).run(LIFE), BOARD), None, BOARD)


@given(st.integers(0, 8).flatmap(lambda n: st.tuples(st.just(n), st.frozensets(st.tuples(*[st.integers(0, 8)] * 2)))))
def test_the_members_of_a_class_are_alike_each_to_each(drawn: tuple[int, frozenset[tuple[int, int]]]) -> None:
    """Whatever is alike to what: each number is in one class, all pairs of a class are alike, and the first leads it.

    Whoever does not come to an earlier class is unlike a member of it.
    """
    count, pairs = drawn

    def alike(a: int, b: int) -> bool:
        return (a, b) in pairs or (b, a) in pairs

    classes = in_classes(count, alike)
    assert sorted(n for members in classes for n in members) == list(range(count))
    assert [members[0] for members in classes] == sorted(members[0] for members in classes)
    for place, members in enumerate(classes):
        assert all(alike(a, b) for a in members for b in members if a != b)
        for earlier in classes[:place]:
            assert not all(alike(other, members[0]) for other in earlier if other < members[0])


def test_what_is_alike_within_a_tolerance_does_not_carry_over() -> None:
    """Of 0, 1 and 2, alike if they are at most 1 apart, the first two are one class and the third is another."""
    assert in_classes(3, lambda a, b: abs(a - b) <= 1) == [[0, 1], [2]]


@define
class _Failing(Rehearsal):
    """A rehearsal in which some boards cannot be run on some steps: those of the keys, as many as are named."""

    fails: dict[str, int] = field(factory=dict)

    def looks(self, key: str, board: Board, poke: Poke) -> list[tuple[int, Look]] | None:
        if self.pokes().index(poke) < self.fails.get(key, 0):
            return None
        return super().looks(key, board, poke)


def _groups(**fails: int) -> list[int]:
    rows = [Explanation((fault_of(BOARD, "rest.absent"),), "conforms", 1) for _ in range(3)]
    names = {f"{'abc'.index(key)}": number for key, number in fails.items()}
    told = foretell(_Failing(BOARD, trace(), fails=names), rows, [BOARD] * 3)
    return [e.group for e in told.explanations]


def test_what_cannot_be_rehearsed_is_like_nothing() -> None:
    """The same board three times is one group; not so where a step, or every step, cannot be run for one or two."""
    assert _groups() == [1, 1, 1]
    assert _groups(b=1) == [1, 1, 2]
    assert _groups(b=100, c=100) == [1, 2, 3]
    assert _groups(a=1, b=1, c=1) == [1, 1, 1]


def test_boards_part_only_where_they_differ_for_longer_than_their_times_may() -> None:
    """A second is nothing that a person sees; nor is one of twenty, a minute later."""
    rehearsal = Rehearsal(BOARD, trace())
    on, off = ((True,), ("steady",)), ((False,), ("dark",))
    never = [(0, off)]
    assert rehearsal.parts(never, [(0, off), (5 * S, on), (6 * S, off)]) is None
    assert rehearsal.parts(never, [(0, off), (60 * S, on), (65 * S, off)]) is None
    parted = rehearsal.parts(never, [(0, off), (5 * S, on), (7 * S, off)])
    assert parted is not None
    assert parted.after == 5 * S


def test_what_fits_as_recorded_comes_before_what_fits_within_the_uncertainty() -> None:
    """Then single faults before pairs, and then by score."""
    one, other = fault_of(BOARD, "rest.absent"), fault_of(BOARD, "status.dead")
    rows = [
        Explanation((one,), "undecided", 12),
        Explanation((one, other), "conforms", 11),
        Explanation((one,), "conforms", 3),
        Explanation((other,), "conforms", 4),
    ]
    assert list(ranked(rows)) == [rows[3], rows[2], rows[1], rows[0]]


def test_a_size_that_explains_all_of_it_ranks_above_one_that_does_not() -> None:
    """A rest of one length is likelier than one that is now short and now not; one that was not measured is between."""
    fault = fault_of(BOARD, "rest.lasts.short")
    steady, unsteady = (Size("measured", 10 * S, 20 * S, steady) for steady in (True, False))
    assert score_of(fault, steady) > score_of(fault, None) > score_of(fault, unsteady)
    assert score_of(evolve(fault, any_size=None), None) > score_of(fault, steady)


def test_a_fault_that_comes_and_goes_is_told_as_such() -> None:
    """The rest lasts 10 s once and 20 s once: too short both times, and no one length explains it."""
    life = Timeline(
        {**LIFE.inputs, "call": ((2 * S, True), (50 * S, False), (51 * S, True), (90 * S, False), (91 * S, True))},
        150 * S,
    )
    run = Simulator(compile_board(BOARD)).run(life)
    changes = ((16 * S, True), (50 * S, False), (60 * S, True), (90 * S, False), (110 * S, True))
    motor = evolve(run.outputs["motor"], changes=changes)
    recorded = condition(recording_of(evolve(run, outputs={**run.outputs, "motor": motor}), BOARD), None, BOARD)
    found = {
        e.faults[0].id: e
        for e in diagnose(
            BOARD,
            evolve(recorded, waves={k: w for k, w in recorded.waves.items() if k != "status"}, unwired=("status",)),
        ).explanations
    }
    size = found["rest.lasts.short"].size
    assert size is not None
    assert not size.steady
    assert (size.least, size.greatest) == (10 * S, 20 * S)

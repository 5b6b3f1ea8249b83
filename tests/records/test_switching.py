"""The switching rules: how strictly a lot is inspected, by the lots before it."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boardgauge.judging.judgement import Verdict
from boardgauge.records.sampling import LIMITS, SamplingPlan, plan_of
from boardgauge.records.switching import ENOUGH_SCORE, Inspected, Lot, Standing, inspect

SMALL, LARGE = 40, 1200
"""Lots at 1.0 %: of 13 boards none may be bad; of 80 two may (tightened: one; reduced: one of 32, two at most)."""


def lot(name: str, bad: int, size: int = SMALL, judged: int | None = None, undecided: int = 0) -> Lot:
    """Give a lot with its first boards bad, the next undecided, the others good."""
    boards: list[Verdict] = ["deviates"] * bad + ["undecided"] * undecided
    boards += ["conforms"] * ((size if judged is None else judged) - len(boards))
    return Lot(name, size, tuple(boards))


def of(results: str, *, reduced: bool = False, corrected: Sequence[str] = ()) -> tuple[Inspected, ...]:
    """Inspect small lots: + is a good one, - one with a bad board, ? one with too few judged."""
    lots = [lot(str(n), row == "-", judged=5 if row == "?" else None) for n, row in enumerate(results, 1)]
    return inspect(lots, "1.0", reduced=reduced, corrected=corrected)


def next_after(results: str, *, reduced: bool = False) -> str:
    return of(results, reduced=reduced)[-1].after.severity


@pytest.mark.parametrize(
    ("results", "severity"),
    [
        ("", "normal"), ("+", "normal"), ("-", "normal"), ("--", "tightened"), ("-+-", "tightened"),
        ("-+++-", "tightened"), ("-++++-", "normal"), ("+-+++-", "tightened"),
        ("--++++", "tightened"), ("--+++++", "normal"), ("--++++-+++++", "normal"), ("--++++-++++", "tightened"),
        # What was before tightened inspection does not count after it.
        ("--+++++-", "normal"), ("--+++++--", "tightened"),
        # A lot that is not decided is passed over.
        ("-?????-", "tightened"),
    ],
)  # fmt: skip
def test_two_of_five_tighten_and_five_in_a_row_loosen(results: str, severity: str) -> None:
    """Normal to tightened: two of five or fewer in a row. Tightened to normal: five accepted in a row."""
    assert (next_after(results) if results else Standing().severity) == severity


def test_five_that_are_not_accepted_at_tightened_inspection_end_it() -> None:
    """The two that led to it are not among the five, and others in between do not help."""
    assert not of("--" + "-+-+--"[:5])[-1].after.discontinued
    found = of("--" + "-+-+-+-+-" + "++")
    assert [one.after.discontinued for one in found] == [False] * 10 + [True] * 3
    assert [one.decision for one in found[-2:]] == ["inspection is discontinued"] * 2


def test_after_a_correction_inspection_begins_again_tightened() -> None:
    """From the lot that is named; five accepted make it normal as ever."""
    found = of("--" + "-" * 5 + "+" + "+++++", corrected=["9"])
    assert found[7].decision == "inspection is discontinued"
    assert (found[8].before.severity, found[8].decision, found[8].before.refused) == ("tightened", "accept", 0)
    assert found[-1].after.severity == "normal"


def test_small_samples_add_two_to_the_score() -> None:
    """At an acceptance number of 0 fifteen good lots allow reduced inspection; it comes only if it is wanted."""
    assert [one.after.score for one in of("+++-+")] == [2, 4, 6, 0, 2]
    assert (next_after("+" * 14, reduced=True), next_after("+" * 15, reduced=True)) == ("normal", "reduced")
    last = of("+" * 15)[-1].after
    assert (last.severity, last.score, last.may_be_reduced) == ("normal", ENOUGH_SCORE, True)


def test_larger_samples_add_three_if_a_tighter_limit_would_accept_as_well() -> None:
    """80 boards, 2 bad ones at most; at 0.65 % it is 1. So ten lots with 1 do, and one with 2 begins anew."""
    assert plan_of(LARGE, "1.0").tighter == plan_of(LARGE, "0.65").accept == 1
    lots = [lot(str(n), 1, LARGE, 80) for n in range(10)]
    assert inspect(lots[:9], "1.0", reduced=True)[-1].after == Standing("normal", 27, (True,) * 5)
    assert inspect(lots, "1.0", reduced=True)[-1].after == Standing("reduced")
    lots[5] = lot("x", 2, LARGE, 80)
    found = inspect(lots, "1.0")
    assert found[5].decision == "accept"
    assert [one.after.score for one in found[4:]] == [15, 0, 3, 6, 9, 12]


def test_reduced_inspection_ends_with_a_bad_lot_or_one_in_the_gap() -> None:
    """Of 32 boards 1 bad one keeps it, 2 are accepted and end it, 3 are not accepted and end it."""
    before = [lot(str(n), 0, LARGE, 80) for n in range(10)]
    for bad, decision, severity in ((1, "accept", "reduced"), (2, "accept", "normal"), (3, "do not accept", "normal")):
        found = inspect([*before, lot("x", bad, LARGE, 32)], "1.0", reduced=True)[-1]
        assert (found.plan.n, found.plan.severity) == (32, "reduced")
        assert (found.decision, found.after.severity, found.after.score) == (decision, severity, 0)


def test_an_undecided_board_helps_no_switch() -> None:
    """One that no longer matters to the lot counts as bad for the score."""
    found = inspect([lot("1", 1, LARGE, 80, undecided=1)], "1.0")[-1]
    assert (found.decision, found.after.score) == ("accept", 0)


@pytest.mark.parametrize("size", [2, SMALL, LARGE, 10_000])
def test_what_is_one_step_tighter_is_of_the_same_sample(size: int) -> None:
    """Wherever the score asks for it: the plan of the next lower limit has this sample and the number that is told."""
    for lower, limit in pairwise(LIMITS):
        plan: SamplingPlan = plan_of(size, limit)
        if plan.accept >= 2 and plan.used == plan.letter:
            tighter = plan_of(size, lower)
            assert (tighter.n, tighter.accept) == (plan.n, plan.tighter)


def drawn(size: int, judged: int, bad: int) -> Lot:
    judged = min(judged, size)
    return lot("", min(bad, judged), size, judged)


LOTS = st.lists(
    st.builds(
        drawn,
        st.sampled_from([5, SMALL, 300, LARGE]),
        st.sampled_from([1, 5, 80, 125]),
        st.sampled_from([0, 0, 0, 0, 0, 1, 2, 3, 5]),
    ),
    max_size=40,
)


@given(LOTS, st.booleans(), st.sampled_from(["0.65", "1.0", "4.0"]))
def test_each_severity_has_its_reason(lots: list[Lot], reduced: bool, limit: str) -> None:
    """The past decides alone; nothing tightens, loosens, reduces or ends without what the rules ask for."""
    lots = [Lot(str(n), row.size, row.boards) for n, row in enumerate(lots)]
    found = inspect(lots, limit, reduced=reduced)
    assert found[: len(found) // 2] == inspect(lots[: len(found) // 2], limit, reduced=reduced)
    results: list[bool] = []
    refused = 0
    for one in found:
        was, now = one.before.severity, one.after.severity
        if one.decision in ("go on", "inspection is discontinued"):
            assert one.after == one.before
            continue
        results.append(one.decision == "accept")
        refused += not results[-1]
        if now == was:
            assert one.after.discontinued == (was == "tightened" and refused == 5)
            assert was != "normal" or results[-5:].count(False) < 2
            continue
        match was, now:
            case "normal", "tightened":
                assert results[-5:].count(False) == 2
            case "tightened", "normal":
                assert results[-5:] == [True] * 5
            case "normal", "reduced":
                assert reduced
                assert all(results[-10:])
            case "reduced", "normal":
                assert not results[-1] or one.bad > one.plan.accept
            case _:
                raise AssertionError((was, now))
        results, refused = [], 0

"""Law: who judges as far as the first deviation gives the verdict of who judges all of it.

Hundreds of boards are asked about one trace that way when a plan is made; what comes of it is told to people.
"""

from __future__ import annotations

from functools import cache

import pytest

from boardgauge.cases import Case, all_cases
from boardgauge.cases.ours import board_of, trace_of
from boardgauge.judging.first import FirstJudge
from boardgauge.judging.judge import Judge
from boardgauge.machine.compile import compile_board
from boardgauge.machine.settle import Engine

CASES = [case for case in all_cases() if case.asks == "judge" and not case.from_library]


@cache
def engine_of(text: str) -> Engine:
    """Give the engine of a spec: many cases share one."""
    return Engine(compile_board(next(board_of(case) for case in CASES if case.board == text)))


@pytest.mark.parametrize("folder", sorted({case.name.split("/")[0] for case in CASES}))
def test_the_verdict_is_the_same(folder: str) -> None:
    """Of every recording of the suite: the verdict, and a deviation no earlier than it is."""
    for case in CASES:
        if case.name.split("/")[0] == folder:
            _same(case)


def _same(case: Case) -> None:
    engine = engine_of(case.board)
    trace = trace_of(case, engine.machine.board)
    whole, first = Judge(engine).judge(trace), FirstJudge(engine).judge(trace)
    assert first.verdict == whole.verdict, case.name
    if whole.deviations:
        # It is told at the event at which nothing was left, which may be after the moment that was missed.
        assert first.deviations[0].time >= whole.deviations[0].time, case.name

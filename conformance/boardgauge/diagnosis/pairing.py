"""Explain a recording by two faults at once.

Law of this module: pairs are bounded, and whoever tells of them says so. The first fault of a pair explains how the
recording begins, and the second is one of the board that has the first.
"""

from __future__ import annotations

from collections.abc import Sequence

from attrs import evolve

from boardgauge.diagnosis.explaining import Outcome, candidates
from boardgauge.diagnosis.explanation import Explanation
from boardgauge.diagnosis.sparing import SparingJudge
from boardgauge.diagnosis.telling import first_deviation
from boardgauge.diagnosis.trying import Trial
from boardgauge.faults.fault import Fault
from boardgauge.faults.listing import faults_of
from boardgauge.judging.run import Start
from boardgauge.language.model import Board
from boardgauge.traces.trace import Trace

MOST_FIRST, MOST_SECOND = 6, 60
"""How many faults are taken for the first of a pair, and how many are tried with each."""


def pairs_of(
    good: Board, outcomes: Sequence[tuple[Fault, Outcome]], trace: Trace, start: Start | None, workers: int = 1
) -> list[Explanation]:
    """Give the pairs of faults that explain a trace that neither explains alone; ``outcomes`` are those of one each."""
    found: list[Explanation] = []
    known = set[frozenset[str]]()
    for first in _beginnings(good, outcomes, trace, start):
        board = first.any_size or first.board
        deviation = first_deviation(board, trace, start)
        if deviation is None:
            continue
        seconds = candidates(board, faults_of(board), trace, start, deviation)[:MOST_SECOND]
        for second, outcome in zip(seconds, Trial(board, trace, start, workers).of(seconds), strict=True):
            both = frozenset((first.id, second.id))
            if outcome.explanation is not None and both not in known:
                known.add(both)
                score = first.weight + outcome.explanation.score - 10
                found.append(evolve(outcome.explanation, faults=(first, second), score=score))
    return found


def _beginnings(
    good: Board, outcomes: Sequence[tuple[Fault, Outcome]], trace: Trace, start: Start | None
) -> list[Fault]:
    """Give the faults with which the trace deviates, but later than without."""
    plain = SparingJudge.of(good).judge(trace, start).deviations
    first = plain[0].time if plain else trace.end
    later = [
        (fault.weight, outcome.deviates, fault)
        for fault, outcome in outcomes
        if fault.group != "output chatters" and outcome.deviates is not None and outcome.deviates > first
    ]
    later.sort(key=lambda row: (-row[0], -row[1]))
    return [fault for _, _, fault in later[:MOST_FIRST]]

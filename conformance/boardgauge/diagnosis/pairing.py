"""Explain a recording by two faults at once.

Law of this module: pairs are bounded, and whoever tells of them says so. The first fault of a pair explains how the
recording begins, and the second is one of the board that has the first.
"""

from __future__ import annotations

from collections.abc import Sequence

from attrs import evolve

from boardgauge.diagnosis.explaining import candidates, explanation_of, first_deviation, judged
from boardgauge.diagnosis.explanation import Explanation
from boardgauge.faults.fault import Fault
from boardgauge.faults.listing import faults_of
from boardgauge.judging.first import FirstJudge
from boardgauge.judging.run import Start
from boardgauge.language.model import Board
from boardgauge.traces.trace import Trace

MOST_FIRST, MOST_SECOND = 6, 60
"""How many faults are taken for the first of a pair, and how many are tried with each."""


def pairs_of(good: Board, tried: Sequence[Fault], trace: Trace, start: Start | None) -> list[Explanation]:
    """Give the pairs of faults that explain a trace that neither explains alone."""
    found: list[Explanation] = []
    for first in _beginnings(good, tried, trace, start):
        board = first.any_size or first.board
        deviation = first_deviation(board, trace, start)
        if deviation is None:
            continue
        seconds = candidates(board, faults_of(board), trace, start, deviation)[:MOST_SECOND]
        for second in seconds:
            told = explanation_of(second, board, trace, start)
            known = any({f.id for f in e.faults} == {first.id, second.id} for e in found)
            if told is not None and not known:
                score = first.weight + told.score - 10
                found.append(evolve(told, faults=(first, second), score=score))
    return found


def _beginnings(good: Board, tried: Sequence[Fault], trace: Trace, start: Start | None) -> list[Fault]:
    """Give the faults with which the trace deviates, but later than without."""
    plain = FirstJudge.of(good).judge(trace, start).deviations
    first = plain[0].time if plain else trace.end
    later: list[tuple[int, int, Fault]] = []
    for fault in tried:
        if fault.group == "output chatters":
            continue
        judgement = judged(fault, good, trace, start)
        if judgement is not None and judgement.deviations and judgement.deviations[0].time > first:
            later.append((judgement.deviations[0].time, fault.weight, fault))
    later.sort(key=lambda row: (-row[1], -row[0]))
    return [fault for _, _, fault in later[:MOST_FIRST]]

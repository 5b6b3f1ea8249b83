"""Find the faults that explain a recording.

Law of this module: a fault explains a recording if the recording does not deviate from the board with that fault.
Faults that have no say in the signal that deviated are not tried: with them the board does there what a good one does.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import Literal

from attrs import evolve, frozen

from boardgauge.diagnosis.explanation import Explanation, Size
from boardgauge.diagnosis.influence import may_show
from boardgauge.diagnosis.measuring import size_of
from boardgauge.diagnosis.sparing import SparingJudge
from boardgauge.diagnosis.undoing import (
    off_without_power,
    shortest_pulse,
    until,
    with_unknown_ends,
    without_dropouts,
)
from boardgauge.faults.editing import declared
from boardgauge.faults.fault import Fault
from boardgauge.faults.inputs import reading_off, unit_of_difference
from boardgauge.faults.outputs import untied
from boardgauge.judging.judgement import Deviation, Judgement
from boardgauge.judging.run import Start
from boardgauge.language.model import Board
from boardgauge.language.quantities import S
from boardgauge.machine.picture import CannotSettle
from boardgauge.traces.trace import Trace

_OFF = tuple(Fraction(off) for off in (2, 3, 4, 6, 8, 11, 15, 20, 28))
"""The errors of a sensor that are tried, in its unit."""
_A_LITTLE = 2 * S
_SURE, _STEADY, _OPEN, _UNSTEADY = 2, 1, -1, -3


@frozen
class Outcome:
    """What came of trying a fault: the explanation that it is, or the time at which the board with it deviates."""

    explanation: Explanation | None = None
    deviates: int | None = None


def candidates(
    board: Board, faults: Sequence[Fault], trace: Trace, start: Start | None, deviation: Deviation
) -> list[Fault]:
    """Give the faults that can explain a deviation, the likelier first: those that have a say in its signal.

    All have, where the signal does not deviate by itself: what another one shows may have ruled out the rest.
    """
    signal = deviation.signal
    found = list(faults)
    if (signal in board.outputs or signal in board.lamps) and _alone(board, trace, start, deviation):
        found = [fault for fault in faults if may_show(board, fault.board, signal)]
    return sorted(found, key=lambda fault: -fault.weight)


def _alone(board: Board, trace: Trace, start: Start | None, deviation: Deviation) -> bool:
    """Tell whether a signal deviates even if nothing is known of the other outputs and lamps."""
    hidden = {*board.outputs, *board.lamps} - {deviation.signal}
    masked = until(trace, deviation.time + _A_LITTLE)
    masked = evolve(
        masked,
        waves={name: wave for name, wave in masked.waves.items() if name not in hidden},
        unwired=(*trace.unwired, *sorted(hidden - {*trace.unwired})),
    )
    return SparingJudge.of(board).judge(masked, start).verdict == "deviates"


def judged(fault: Fault, good: Board, trace: Trace, start: Start | None) -> Judgement | None:
    """Judge a trace as that of a board with a fault, of any size; None where that cannot be done."""
    try:
        if fault.group == "output chatters":
            return _judged_smooth(fault, good, trace, start)
        if fault.group == "input not filtered" and not _flickers(fault, good, trace):
            return None
        if fault.group == "output stuck on":
            trace = off_without_power(trace, fault.of)
        if fault.group == "power" and start is None and trace.power.initial is False and not _keeps(good):
            # What a good board never keeps was not there before the recording began, unless proved otherwise.
            start = "power-up"
        return SparingJudge.of(fault.any_size or fault.board).judge(trace, start)
    except CannotSettle:
        return None


def _judged_smooth(fault: Fault, good: Board, trace: Trace, start: Start | None) -> Judgement | None:
    smooth, dropouts = without_dropouts(trace, fault.of)
    if not dropouts:
        return None
    judge = SparingJudge.of(untied(good, fault.of))
    judgement = judge.judge(smooth, start)
    if judgement.verdict != "deviates":
        return judgement
    return judge.judge(with_unknown_ends(smooth, fault.of), start)


def _keeps(board: Board) -> bool:
    return any(rule.kept_without_power for rule in board.rules.values())


def _of_sensor(fault: Fault, good: Board, trace: Trace, start: Start | None) -> Outcome:
    """Try how far off a sensor may read: the errors that fit are given."""
    if fault.of not in trace.readings:
        return Outcome()
    row, sign = good.inputs[fault.of], 1 if fault.id.endswith("high") else -1
    fitting: list[tuple[Fraction, Judgement]] = []
    latest: int | None = None
    for off in _OFF:
        judgement = SparingJudge.of(declared(reading_off(good, row.id, sign * off))).judge(trace, start)
        if judgement.verdict != "deviates" and not judgement.doubts:
            fitting.append((off, judgement))
        elif judgement.deviations:
            latest = max(latest or 0, judgement.deviations[0].time)
    if not fitting:
        return Outcome(deviates=latest)
    least, greatest = float(fitting[0][0]), float(fitting[-1][0])
    how = f"{least:g}" if least == greatest else f"{least:g} to {greatest:g}"
    size = Size(f"by about {how} {unit_of_difference(row)}")
    verdicts = [judgement.verdict for _, judgement in fitting]
    verdict: Literal["conforms", "undecided"] = "conforms" if "conforms" in verdicts else "undecided"
    return Outcome(Explanation((fault,), verdict, fault.weight + _OPEN, size))


def _flickers(fault: Fault, good: Board, trace: Trace) -> bool:
    """Tell whether an input changes as quickly as only an unfiltered board minds."""
    shortest = shortest_pulse(trace, fault.of)
    return fault.of in trace.readings or (shortest is not None and shortest <= good.inputs[fault.of].filter.greatest)


def tried(fault: Fault, good: Board, trace: Trace, start: Start | None) -> Outcome:
    """Try whether a fault explains a trace."""
    if fault.group == "sensor reads off":
        return _of_sensor(fault, good, trace, start)
    judgement = judged(fault, good, trace, start)
    if judgement is None:
        return Outcome()
    if judgement.verdict == "deviates" or judgement.doubts:
        # With a doubt, more was possible than is followed: nothing explains less than what explains everything.
        return Outcome(deviates=judgement.deviations[0].time if judgement.deviations else None)
    size: Size | None = None
    if fault.group == "output chatters":
        count = without_dropouts(trace, fault.of)[1]
        size = Size(f"{count} short {'dropout' if count == 1 else 'dropouts'}")
    elif fault.any_size is not None:
        size = size_of(fault, good, judgement)
    return Outcome(Explanation((fault,), judgement.verdict, score_of(fault, size), size))


def score_of(fault: Fault, size: Size | None) -> int:
    """Give the rank of an explanation: how often such a fault is met, and how little was left open to make it fit."""
    if fault.any_size is None:
        return fault.weight + _SURE
    if size is None or size.least is None:
        return fault.weight + _OPEN
    return fault.weight + (_STEADY if size.steady else _UNSTEADY)


def ranked(explanations: Sequence[Explanation]) -> tuple[Explanation, ...]:
    """Give explanations, the best first: those that fit as recorded, then by their score."""
    return tuple(sorted(explanations, key=lambda e: (e.verdict != "conforms", len(e.faults), -e.score)))

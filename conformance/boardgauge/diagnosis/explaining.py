"""Find the faults that explain a recording.

Law of this module: a fault explains a recording if the recording does not deviate from the board with that fault.
Faults that have no say in the signal that deviated are not tried: with them the board does there what a good one does.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction
from typing import Literal

from attrs import evolve

from boardgauge.diagnosis.explanation import Explanation, Size
from boardgauge.diagnosis.influence import may_show
from boardgauge.diagnosis.measuring import size_of
from boardgauge.diagnosis.undoing import off_without_power, shortest_pulse, until, without_dropouts
from boardgauge.faults.editing import declared
from boardgauge.faults.fault import Fault
from boardgauge.faults.inputs import reading_off, unit_of_difference
from boardgauge.faults.outputs import untied
from boardgauge.judging.first import FirstJudge
from boardgauge.judging.judge import Judge
from boardgauge.judging.judgement import Deviation, Judgement
from boardgauge.judging.run import Start
from boardgauge.language.model import Board
from boardgauge.language.quantities import S
from boardgauge.machine.picture import CannotSettle
from boardgauge.traces.trace import Trace

Progress = Callable[[int, int], None]

_OFF = tuple(Fraction(off) for off in (2, 3, 4, 6, 8, 11, 15, 20, 28))
"""The errors of a sensor that are tried, in its unit."""
_A_LITTLE = 2 * S
_SURE, _STEADY, _OPEN, _UNSTEADY = 2, 1, -1, -3


def first_deviation(board: Board, trace: Trace, start: Start | None = None) -> Deviation | None:
    """Give the first deviation of a trace from a board, explained; None where it does not deviate."""
    quick = FirstJudge.of(board).judge(trace, start)
    if quick.verdict != "deviates":
        return None
    # What comes later takes the judge long and is not asked for.
    judgement = Judge.of(board).judge(until(trace, quick.deviations[0].time + _A_LITTLE), start)
    found = judgement.deviations or Judge.of(board).judge(trace, start).deviations
    return found[0]


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
    return FirstJudge.of(board).judge(masked, start).verdict == "deviates"


def judged(fault: Fault, good: Board, trace: Trace, start: Start | None) -> Judgement | None:
    """Judge a trace as that of a board with a fault, of any size; None where that cannot be done."""
    try:
        if fault.group == "output chatters":
            smooth, dropouts = without_dropouts(trace, fault.of)
            return FirstJudge.of(untied(good, fault.of)).judge(smooth, start) if dropouts else None
        if fault.group == "input not filtered" and not _flickers(fault, good, trace):
            return None
        if fault.group == "output stuck on":
            trace = off_without_power(trace, fault.of)
        if fault.group == "power" and start is None and trace.power.initial is False and not _keeps(good):
            # What a good board never keeps was not there before the recording began, unless proved otherwise.
            start = "power-up"
        return FirstJudge.of(fault.any_size or fault.board).judge(trace, start)
    except CannotSettle:
        return None


def _keeps(board: Board) -> bool:
    return any(rule.kept_without_power for rule in board.rules.values())


def _of_sensor(fault: Fault, good: Board, trace: Trace, start: Start | None) -> Explanation | None:
    """Try how far off a sensor may read: the errors that fit are given."""
    if fault.of not in trace.readings:
        return None
    row, sign = good.inputs[fault.of], 1 if fault.id.endswith("high") else -1
    fitting: list[tuple[Fraction, Judgement]] = []
    for off in _OFF:
        judgement = FirstJudge.of(declared(reading_off(good, row.id, sign * off))).judge(trace, start)
        if judgement.verdict != "deviates" and not judgement.doubts:
            fitting.append((off, judgement))
    if not fitting:
        return None
    least, greatest = float(fitting[0][0]), float(fitting[-1][0])
    how = f"{least:g}" if least == greatest else f"{least:g} to {greatest:g}"
    size = Size(f"by about {how} {unit_of_difference(row)}")
    verdicts = [judgement.verdict for _, judgement in fitting]
    verdict: Literal["conforms", "undecided"] = "conforms" if "conforms" in verdicts else "undecided"
    return Explanation((fault,), verdict, fault.weight + _OPEN, size)


def _flickers(fault: Fault, good: Board, trace: Trace) -> bool:
    """Tell whether an input changes as quickly as only an unfiltered board minds."""
    shortest = shortest_pulse(trace, fault.of)
    return fault.of in trace.readings or (shortest is not None and shortest <= good.inputs[fault.of].filter.greatest)


def explanation_of(fault: Fault, good: Board, trace: Trace, start: Start | None) -> Explanation | None:
    """Give the explanation of a trace by a fault, None where it is none."""
    if fault.group == "sensor reads off":
        return _of_sensor(fault, good, trace, start)
    judgement = judged(fault, good, trace, start)
    if judgement is None or judgement.verdict == "deviates" or judgement.doubts:
        # With a doubt, more was possible than is followed: nothing explains less than what explains everything.
        return None
    size: Size | None = None
    if fault.group == "output chatters":
        count = without_dropouts(trace, fault.of)[1]
        size = Size(f"{count} short {'dropout' if count == 1 else 'dropouts'}")
    elif fault.any_size is not None:
        size = size_of(fault, good, judgement)
    return Explanation((fault,), judgement.verdict, _score(fault, size), size)


def explained(
    good: Board,
    faults: Sequence[Fault],
    trace: Trace,
    start: Start | None = None,
    progress: Progress = lambda done, total: None,
) -> tuple[Explanation, ...]:
    """Give the explanations of a trace by single faults, the best first."""
    found = []
    for number, fault in enumerate(faults):
        progress(number, len(faults))
        explanation = explanation_of(fault, good, trace, start)
        if explanation is not None:
            found.append(explanation)
    return ranked(found)


def _score(fault: Fault, size: Size | None) -> int:
    """Give the rank of an explanation: how often such a fault is met, and how little was left open to make it fit."""
    if fault.any_size is None:
        return fault.weight + _SURE
    if size is None or size.least is None:
        return fault.weight + _OPEN
    return fault.weight + (_STEADY if size.steady else _UNSTEADY)


def ranked(explanations: Sequence[Explanation]) -> tuple[Explanation, ...]:
    """Give explanations, the best first: those that fit as recorded, then by their score."""
    return tuple(sorted(explanations, key=lambda e: (e.verdict != "conforms", len(e.faults), -e.score)))

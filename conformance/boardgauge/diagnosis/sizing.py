"""Find how big a fault is where the recording did not measure it: try sizes.

Law of this module: a size is given as the least and the greatest tried that explain the recording, never more finely
than they were tried.
"""

from __future__ import annotations

from fractions import Fraction

from attrs import evolve

from boardgauge.diagnosis.explanation import Explanation, Size
from boardgauge.diagnosis.sparing import SparingJudge
from boardgauge.faults.editing import declared
from boardgauge.faults.fault import Fault
from boardgauge.faults.times import Time, times_of
from boardgauge.judging.run import Start
from boardgauge.language.model import Board
from boardgauge.language.quantities import Duration, S
from boardgauge.machine.picture import CannotSettle
from boardgauge.traces.trace import Trace

_SHORT = tuple(Fraction(n, 100) for n in (2, 10, 20, 30, 40, 50, 60, 70, 80, 90, 95))
_LONG = tuple(Fraction(n, 100) for n in (105, 110, 120, 135, 150, 175, 200, 250, 300, 400, 600))
_HALVINGS = 5


def with_size(explanation: Explanation, good: Board, trace: Trace, start: Start | None) -> Explanation:
    """Give the explanation with the length of a time that is short or long, where the recording did not measure it."""
    fault = explanation.faults[0]
    time = time_of(fault, good)
    if len(explanation.faults) > 1 or time is None or (explanation.size is not None and explanation.size.least):
        return explanation

    def fits(factor: Fraction) -> bool:
        try:
            verdict = SparingJudge.of(at_length(good, time, factor)).judge(trace, start).verdict
        except CannotSettle:
            return False
        return verdict != "deviates"

    tried = _SHORT if fault.group == "timing short" else _LONG
    fitting = [factor for factor in tried if fits(factor)]
    if not fitting:
        return explanation
    low, high = fitting[0], fitting[-1]
    before = max((f for f in tried if f < low), default=Fraction(0))
    after = min((f for f in tried if f > high), default=None)
    for _ in range(_HALVINGS):
        middle = (before + low) / 2
        low, before = (middle, before) if fits(middle) else (low, middle)
        if after is not None:
            middle = (after + high) / 2
            high, after = (middle, after) if fits(middle) else (high, middle)
    nominal = time.nominals[0].nominal
    least, greatest = int(nominal * low), int(nominal * high)
    if len(time.nominals) > 1:
        text = f"{_percent(low)} to {_percent(high)} % of what it should be"
        return evolve(explanation, size=Size(text))
    if after is None:
        return evolve(explanation, size=Size(f"at least {_seconds(least)} s in place of {_seconds(nominal)} s"))
    text = f"about {_seconds(least)} to {_seconds(greatest)} s in place of {_seconds(nominal)} s"
    return evolve(explanation, size=Size(text, least, greatest))


def _percent(factor: Fraction) -> str:
    return f"{float(factor) * 100:.0f}"


def _seconds(micros: int) -> str:
    return f"{micros / S:.1f}"


def time_of(fault: Fault, good: Board) -> Time | None:
    """Give the time that a fault makes short or long, None for other faults."""
    if fault.group not in ("timing short", "timing long"):
        return None
    key = fault.id.rsplit(".", 1)[0]
    return next((time for time in times_of(good) if time.key == key), None)


def at_length(good: Board, time: Time, factor: Fraction) -> Board:
    """Give the board with one of its times so many times as long, with its tolerance."""

    def change(duration: Duration) -> Duration:
        return evolve(duration, nominal=max(1, int(duration.nominal * factor)))

    return declared(time.put(change))


def sized(explanation: Explanation, good: Board) -> Board:
    """Give the board of an explanation, with the size that was found where one was."""
    fault, size = explanation.faults[-1], explanation.size
    time = time_of(fault, good) if len(explanation.faults) == 1 else None
    if time is None or size is None or size.least is None or size.greatest is None:
        return fault.board
    return at_length(good, time, Fraction(size.least + size.greatest, 2 * time.nominals[0].nominal))

"""Tell from a recording how big a fault is.

Law of this module: a figure is one that the judge measured while the recording conformed to the board with the fault.
"""

from __future__ import annotations

from boardgauge.diagnosis.explanation import Size
from boardgauge.faults.fault import Fault
from boardgauge.judging.judgement import Judgement, TimingCoverage
from boardgauge.language.model import Board
from boardgauge.machine.compile import compile_board
from boardgauge.machine.table import Timing


def size_of(fault: Fault, good: Board, judgement: Judgement) -> Size | None:
    """Give the size of a fault of which the recording conforms to the board with it in any size."""
    if fault.group == "clock" and judgement.clock_rate is not None:
        low, high = (float(bound - 1) * 100 for bound in judgement.clock_rate)
        how = "slow" if fault.id.endswith("slow") else "fast"
        first, last = sorted((abs(low), abs(high)))
        return Size(f"the clock runs {first:.1f} to {last:.1f} % {how}")
    rows = [t for rule in judgement.rules for t in rule.timings if t.name in fault.timings]
    measured = [(t, t.least, t.greatest) for t in rows if t.least is not None and t.greatest is not None]
    if not measured:
        return _unmeasured(fault, rows)
    least, greatest = min(m[1] for m in measured), max(m[2] for m in measured)
    lasted = f"{_seconds(least)}" if greatest - least < 1000 else f"{_seconds(least)} to {_seconds(greatest)}"
    good_row = _good_timing(good, fault)
    if good_row is None:
        return Size(f"late by {lasted} s", least, greatest)
    limits = f"{_seconds(good_row.choices[0].shortest)} to {_seconds(good_row.choices[-1].longest)}"
    # One length, give or take what the good board's may vary by.
    most = max(c.longest - c.shortest for c in good_row.choices)
    return Size(f"measured {lasted} s, allowed {limits} s", least, greatest, greatest - least <= most)


def _unmeasured(fault: Fault, rows: list[TimingCoverage]) -> Size | None:
    if fault.group == "timing long" and not any(t.ended for t in rows):
        return Size("its end is not in the recording")
    if any(t.sped_up for t in rows):
        return Size("its end came under a speed-up and was not measured")
    return None


def _good_timing(good: Board, fault: Fault) -> Timing | None:
    machine = compile_board(good)
    return next((row for row in machine.timings if row.name in fault.timings), None)


def _seconds(micros: int) -> str:
    return f"{micros / 1_000_000:.2f}"

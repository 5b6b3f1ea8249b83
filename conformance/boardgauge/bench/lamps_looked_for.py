"""Whether lamps showed what a plan looks for.

Law of this module: what a lamp showed is what the decoder is sure of, by the board's own table; whether it should have
shown that is the judge's matter.
"""

from __future__ import annotations

from collections.abc import Iterator

from boardgauge.language.model import Board
from boardgauge.language.quantity_writer import write_pattern
from boardgauge.plans.plan import Observe, PlanStep
from boardgauge.traces.lamp_decoding import decode
from boardgauge.traces.lamps import watch_of
from boardgauge.traces.trace import Trace


def lamps_missed(step: PlanStep, trace: Trace, begun: int, ended: int, board: Board) -> Iterator[str]:
    """Say which lines of lamps that a step looks for were not read while it lasted."""
    for name, pattern in step.lamps.items() if isinstance(step, Observe) else ():
        lamp = board.lamps[name]
        wanted = {index for index, line in enumerate(lamp.lines) if write_pattern(line.shows) == pattern}
        shown = decode(trace, watch_of(trace, lamp)) if name in trace.waves else ()
        meanwhile = [
            row for row in shown if row.begins[0] <= ended and row.ends[1] >= begun and row.certainty == "sure"
        ]
        read = any(wanted & set(row.lines) for row in meanwhile)
        if not read:
            yield f"{name} was not read to show {pattern}"

"""Bench plans: the shortest line of steps that exposes what can be wrong with a board.

Law of this package: a plan says what to do and what a good board shows meanwhile; whether a board is good is for the
judge alone to say, of the recordings that a plan gives.
"""

from __future__ import annotations

from boardgauge.plans.carrying import Carried, StepTime, carry_out, trace_of, wiring_of
from boardgauge.plans.plan import (
    Covered,
    LeftOut,
    Measure,
    Observe,
    Plan,
    PlanStep,
    Set,
    Sitting,
    Wait,
    WaitFor,
)
from boardgauge.plans.plan_reader import read_plan, read_plan_text
from boardgauge.plans.plan_writer import write_plan

__all__ = [
    "Carried",
    "Covered",
    "LeftOut",
    "Measure",
    "Observe",
    "Plan",
    "PlanStep",
    "Set",
    "Sitting",
    "StepTime",
    "Wait",
    "WaitFor",
    "carry_out",
    "read_plan",
    "read_plan_text",
    "trace_of",
    "wiring_of",
    "write_plan",
]

"""What is looked at before anything is driven: does the plan fit the rig, and is all of it allowed.

Law of this module: what cannot be carried out safely is refused before the first step, with its place in the plan; no
rig is touched here.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from attrs import frozen

from boardgauge.language.model import Board, InputKind, Spot
from boardgauge.plans.plan import Observe, Plan, Set, Sitting, WaitFor
from boardgauge.rigs.interlocks import Interlocks
from boardgauge.rigs.rig import POWER, RigFacts, Value


@frozen
class Refusal:
    """Why a plan is not carried out on a rig, and the place in the plan or in the rig file."""

    at: Spot
    reason: str

    def __str__(self) -> str:
        return f"{self.at}: {self.reason}"


def rest_values(board: Board) -> dict[str, Value]:
    """Give every input at rest: off, open, and a normally closed switch closed. A sensor has no rest."""
    return {row.id: row.rests_on for row in board.inputs.values() if row.kind is not InputKind.SENSOR}


def at_the_beginning(board: Board, sitting: Sitting, facts: RigFacts) -> dict[str, Value]:
    """Give the inputs that the rig brings to their places before the supply comes on."""
    return {name: value for name, value in (rest_values(board) | dict(sitting.start)).items() if name in facts.drives}


def refusals(board: Board, plan: Plan, facts: RigFacts, interlocks: Interlocks) -> tuple[Refusal, ...]:
    """Give all that speaks against carrying out a plan on a rig."""
    return tuple(dict.fromkeys(_all(board, plan, facts, interlocks)))


def _all(board: Board, plan: Plan, facts: RigFacts, interlocks: Interlocks) -> Iterator[Refusal]:
    if POWER not in facts.drives:
        yield Refusal(plan.at, f"the plan switches the supply, and the rig {facts.name} does not drive power")
    rest = rest_values(board)
    others = {name: value for name, value in rest.items() if name not in facts.drives}
    safe = others | {name: value for name, value in facts.drives.items() if name != POWER}
    against = interlocks.broken(safe)
    if against is not None:
        yield Refusal(against.at, f"the safe state of the rig {facts.name} is against {against.text}; say another")
    unseen = [name for name in plan.wired if name not in facts.sees and name not in facts.drives]
    for sitting in plan.sittings:
        yield from _of_sitting(board, sitting, facts, interlocks, safe)
        for step in sitting.steps:
            if isinstance(step, WaitFor) and step.signal not in facts.sees:
                yield Refusal(step.at, f"the plan waits for {step.signal}, which the rig {facts.name} does not see")
            if isinstance(step, Observe):
                missing = [name for name in (*step.outputs, *step.lamps) if name in unseen]
                if missing:
                    listed = ", ".join(missing)
                    yield Refusal(step.at, f"the plan looks at {listed}, which the rig {facts.name} does not see")


def _of_sitting(
    board: Board, sitting: Sitting, facts: RigFacts, interlocks: Interlocks, safe: Mapping[str, Value]
) -> Iterator[Refusal]:
    for name in sitting.start:
        if name not in facts.drives:
            yield Refusal(sitting.at, f"the plan begins with {name} set, which the rig {facts.name} does not drive")
    levels = dict(safe)
    changes: list[tuple[Spot, Mapping[str, Value]]] = [(sitting.at, at_the_beginning(board, sitting, facts))]
    changes += [(step.at, step.inputs) for step in sitting.steps if isinstance(step, Set)]
    for at, change in changes:
        undriven = [name for name in change if name not in facts.drives]
        if undriven:
            yield Refusal(at, f"the plan sets {', '.join(undriven)}, which the rig {facts.name} does not drive")
        after = levels | dict(change)
        against = interlocks.broken(after)
        if against is not None:
            yield Refusal(at, f"this is never driven: it is against {against.text} ({against.at})")
        else:
            try:
                interlocks.stages(levels, change)
            except ValueError as error:
                yield Refusal(at, f"this is never driven: {error}")
        levels = after

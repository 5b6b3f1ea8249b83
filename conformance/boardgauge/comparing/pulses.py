"""Short pulses of an input, for where two boards overlook changes of different lengths.

Law of this module: a pulse is as long as one board must see or must overlook, just beyond the limit of its filter.
"""

from __future__ import annotations

from collections.abc import Iterator

from attrs import evolve

from boardgauge.language.model import Board, InputKind
from boardgauge.machine.scenario import ScenarioStep, SetInputs, Wait
from boardgauge.pairing.search import Candidate

MS = 1_000


def pulses_of(candidate: Candidate, name: str, first: Board, second: Board) -> Iterator[Candidate]:
    """Give the candidate with its last change of an input as a pulse, for each limit that differs."""
    ours, theirs = first.inputs.get(name), second.inputs.get(name)
    if ours is None or theirs is None or ours.filter == theirs.filter or ours.kind is InputKind.SENSOR:
        return
    steps = candidate.scenario.steps
    last = next((n for n in reversed(range(len(steps))) if _sets(steps[n], name)), None)
    if last is None:
        return
    step = steps[last]
    assert isinstance(step, SetInputs)
    lengths = {row.filter.greatest + MS for row in (ours, theirs)} | {row.filter.least - MS for row in (ours, theirs)}
    for length in sorted(lengths):
        if length > 0:
            pulse: tuple[ScenarioStep, ...] = (step, Wait(length), SetInputs({name: not step.values[name]}))
            yield evolve(
                candidate, scenario=evolve(candidate.scenario, steps=(*steps[:last], *pulse, *steps[last + 1 :]))
            )


def _sets(step: ScenarioStep, name: str) -> bool:
    return isinstance(step, SetInputs) and name in step.values

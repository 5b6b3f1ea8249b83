"""What a technician tells of a board, as values, and the configurations that agree with it.

Law of this module: a configuration is ruled out only where what was told cannot be so. Without power a board knows
nothing of its inputs, so no fact of an input rules it out. How long it has stood so rules out what surely ends sooner,
if nothing was touched meanwhile.
"""

from __future__ import annotations

from collections.abc import Iterable

from attrs import frozen

from boardgauge.identifying.knowledge import Candidate, Knowledge
from boardgauge.identifying.passing import passing


@frozen
class LampFact:
    """A lamp (its number) shows what these lines of its table show; -1 is a board without power."""

    lamp: int
    lines: frozenset[int]


@frozen
class OutputFact:
    """The coil of an output (its index) is on, or off."""

    output: int
    on: bool


@frozen
class InputFact:
    """A level of an input (its index) stands in one of these ways."""

    level: int
    values: frozenset[bool]


@frozen
class PowerFact:
    """The board has power, or has none."""

    on: bool


Fact = LampFact | OutputFact | InputFact | PowerFact


def agrees(known: Knowledge, fact: Fact, config: int) -> bool:
    """Tell whether a configuration can look as told."""
    look = known.looks[config]
    match fact:
        case LampFact(lamp=lamp, lines=lines):
            return look.lines[lamp] in lines
        case OutputFact(output=output, on=on):
            return look.outputs[output] == on
        case InputFact(level=level, values=values):
            return not look.powered or known.found.configs[config].levels[level] in values
        case PowerFact(on=on):
            return look.powered == on


def candidates(known: Knowledge, facts: Iterable[Fact], stood_for: int = 0) -> frozenset[Candidate]:
    """Give the candidates that agree with all facts and can have stood so for a time (microseconds), untouched."""
    facts = tuple(facts)
    left = frozenset(one for one in known.all() if all(agrees(known, fact, one[1]) for fact in facts))
    if stood_for <= 0:
        return left
    since = stood_for - slack(known)
    can_last = set[int]()
    for start in {config for _, config in left}:
        for config, until in passing(known, start).stands.items():
            if until is None or until >= since:
                can_last.add(config)
    return frozenset(one for one in left if one[1] in can_last)


def slack(known: Knowledge) -> int:
    """Give how much later than it is decided a change may show, at most: filter, answer, lag and the lamp's own."""
    board = known.machine.board
    inputs = max((row.filter.greatest + row.responds_within for row in board.inputs.values()), default=0)
    outputs = max((row.lag for row in board.outputs.values()), default=0)
    lamps = max((max(row.changes_within, row.not_judged_for) for row in board.lamps.values()), default=0)
    return inputs + outputs + lamps

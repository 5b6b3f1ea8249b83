"""What a diagnosis says, as values.

Law of this module: values only. Times are microseconds; lengths of time as measured in the recording.
"""

from __future__ import annotations

from itertools import groupby
from typing import Literal

from attrs import frozen

from boardgauge.faults.fault import Fault
from boardgauge.judging.judgement import Judgement

Finding = Literal["good board", "fault", "no single fault", "undecided"]


@frozen
class Size:
    """How big a fault is, as far as the recording tells: a time (``what``) and how long it was; or in words."""

    text: str
    least: int | None = None
    greatest: int | None = None
    steady: bool = True
    """Whether one length, with its tolerance, explains all that was measured."""


@frozen
class Explanation:
    """A fault, or a pair of faults, with which the recording is what the board had to do."""

    faults: tuple[Fault, ...]
    verdict: Literal["conforms", "undecided"]
    score: int
    size: Size | None = None
    predicts: str | None = None
    group: int = 0
    """Explanations of one group look alike whatever single step is done next; 0 where that was not worked out."""


@frozen
class NextStep:
    """What to do next at the bench, and what each group of explanations would show then."""

    what: str
    shows: tuple[tuple[int, str], ...]


@frozen
class Diagnosis:
    """What a recording says about a board.

    ``judgement`` is that of the good board; of one that deviates it goes no further than the first deviation.
    ``explanations`` are the best first, those of one group together. ``doubtful`` names the inputs of which it would
    be enough that the board did not see what was recorded; ``remarks`` are what else to look at. ``bounds`` says what
    was not tried.
    """

    finding: Finding
    judgement: Judgement
    explanations: tuple[Explanation, ...] = ()
    doubtful: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()
    next_step: NextStep | None = None
    faults: int = 0
    tried: int = 0
    bounds: tuple[str, ...] = ()

    @property
    def groups(self) -> tuple[tuple[Explanation, ...], ...]:
        """Give the explanations by what no single step tells apart; one of which that is not known stands alone."""
        found: list[tuple[Explanation, ...]] = []
        for number, row in groupby(self.explanations, key=lambda e: e.group):
            members = tuple(row)
            found += [members] if number else [(alone,) for alone in members]
        return tuple(found)

"""What exploring with times found, as values: places, their zones, and how each was come to.

Law of this module: values only; every zone can say how it was come to.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple

from attrs import define, field, frozen

from boardgauge.machine.config import Config, Outcome
from boardgauge.proving.clockwork import Node, Sources
from boardgauge.proving.folding import Folds
from boardgauge.proving.keeping import Kept
from boardgauge.proving.together import Happens


class Came(NamedTuple):
    """How a zone was come to: from which zone of which node, by what; ``before``: which of what it folds it was."""

    node: int
    zone: int
    what: Happens
    before: Config | None = None


@frozen
class Stop:
    """Something found on the way: how it was come to, and what it was."""

    came: Came
    outcome: Outcome | None
    reason: str = ""


@define
class Step:
    """What may happen to a node: the clocks that are over, the most that each clock may then be, and, once known, what
    it does and the node after it. ``before``: in which of what it folds it happens, the node's own if None; ``noted``:
    what comes about that is looked for (``proving.noticing``); ``does``: of a folded step
    the number of what it does, and ``home`` the levels that stand for where it leads to."""

    what: Happens
    gone: tuple[int, ...]
    most: tuple[int, ...] = ()
    outcome: Outcome | None = None
    after: tuple[Node, Sources] | None = None
    before: Config | None = None
    noted: tuple[Any, ...] = ()
    does: int = -1
    home: tuple[bool, ...] = ()


@define
class Place(Kept[Came | None]):
    """A node and its zones."""

    node: Node = field(kw_only=True)
    steps: list[Step] | None = None


@define
class Space:
    """What was explored. ``complete``: no bound was hit; ``whole``: none of how much is taken together at one moment,
    nor of the ways to switch on."""

    places: list[Place] = field(factory=list)
    stop: Stop | None = None
    refusals: dict[str, Stop] = field(factory=dict)
    complete: bool = True
    whole: bool = True
    exact: bool = True
    rounded: bool = False
    zones: int = 0
    steps: int = 0
    folds: Folds | None = None


Found = Callable[[Node, Outcome], bool]
"""Asked at every instant: (before, what it did); true stops the exploring there."""


Seen = Callable[[Node, Outcome, Came], None]
"""Told of every instant that can happen: (before, what it did, one way to it)."""


def way_to(space: Space, came: Came | None) -> tuple[Node, tuple[Happens, ...]]:
    """Give the node that a way begins at, and what happens on it."""
    steps: list[Came] = []
    while came is not None:
        steps.append(came)
        came = space.places[came.node].came[came.zone]
    steps.reverse()
    start = space.places[steps[0].node].node if steps else space.places[0].node
    if space.folds is None:
        return start, tuple(step.what for step in steps)
    happenings: list[Happens] = []
    config = start.config
    for step in steps:
        if step.before is not None:
            # What leaves no trace has been folded away: the inputs are brought to where it goes on.
            happenings += space.folds.between(config, step.before.levels)
            config = config._replace(levels=step.before.levels)
        happenings.append(step.what)
        config = space.folds.after(config, step.what)
    return start, tuple(happenings)

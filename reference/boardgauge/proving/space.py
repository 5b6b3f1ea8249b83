"""What exploring with times found, as values: places, their zones, and how each was come to.

Law of this module: values only; every zone can say how it was come to.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

from attrs import define, field, frozen

from boardgauge.machine.config import Outcome
from boardgauge.proving.bounds import Zones
from boardgauge.proving.clockwork import Node, Sources
from boardgauge.proving.together import Happens


class Came(NamedTuple):
    """How a zone was come to: from which zone of which node, by what."""

    node: int
    zone: int
    what: Happens


@frozen
class Stop:
    """Something found on the way: how it was come to, and what it was."""

    came: Came
    outcome: Outcome | None
    reason: str = ""


@define
class Step:
    """What may happen to a node: the clocks that are over, the most that each clock may then be, and, once known, what
    it does and the node after it."""

    what: Happens
    gone: tuple[int, ...]
    most: tuple[int, ...] = ()
    outcome: Outcome | None = None
    after: tuple[Node, Sources] | None = None


@define
class Place:
    """A node and its zones. ``came`` has for each zone there ever was how it was come to; ``fresh`` are those not gone
    on from, each with its number, and ``held`` those that stand for all there ever were."""

    node: Node
    held: Zones
    fresh: Zones
    numbers: list[int] = field(factory=list)
    came: list[Came | None] = field(factory=list)
    joined: int = 0
    steps: list[Step] | None = None


@define
class Space:
    """What was explored."""

    places: list[Place] = field(factory=list)
    stop: Stop | None = None
    refusals: dict[str, Stop] = field(factory=dict)
    complete: bool = True
    exact: bool = True
    zones: int = 0
    edges: set[tuple[int, int, bool]] = field(factory=set)
    """(to, from, by a loss of power), the numbers of places."""


Found = Callable[[Node, Outcome], bool]
"""Asked at every instant: (before, what it did); true stops the exploring there."""


Seen = Callable[[Node, Outcome, Came], None]
"""Told of every instant that can happen: (before, what it did, one way to it)."""


def way_to(space: Space, came: Came | None) -> tuple[Node, tuple[Happens, ...]]:
    """Give the node that a way begins at, and what happens on it."""
    happenings: list[Happens] = []
    first = 0
    while came is not None:
        happenings.append(came.what)
        first = came.node
        came = space.places[came.node].came[came.zone]
    return space.places[first].node, tuple(reversed(happenings))

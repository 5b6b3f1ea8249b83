"""Aim at one thing: the way to where a fault shows, or to what the machine has not shown yet.

Law of this module: what takes little time and seems to have little left to go is tried first; what a way comes to is
seen by going it.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator
from itertools import count
from typing import TYPE_CHECKING

from attrs import evolve, frozen

from boardgauge.plans.guiding import Guide
from boardgauge.plans.hand import Deed, up_to_tenth
from boardgauge.plans.joint import Done, Joint
from boardgauge.plans.side import Instant, slack_of
from boardgauge.plans.unshown import Unshown

if TYPE_CHECKING:
    from boardgauge.plans.growing import Grower

_OF_A_KIND = 3
_HASTE = 5
"""What seems to be left of a way counts so many times as much as what was gone of it: by what takes a moment and leads
nowhere there is no end of ways, and what is left takes a little longer than it seems."""
_TRIES = 1_500
"""So many deeds are tried to find one fault, at first."""


@frozen(eq=False)
class Way:
    """A way: where all boards stand on it, what was done, how long it takes, and what came of it."""

    joint: Joint
    deeds: tuple[Deed, ...] = ()
    time: int = 0
    parted: frozenset[str] = frozenset()
    instants: tuple[Instant, ...] = ()

    def after(self, deed: Deed, done: Done) -> Way:
        """Give it with one more deed."""
        parted = self.parted | done.parted
        left = {id_: row for id_, row in done.joint.faulty.items() if id_ not in parted}
        joint = evolve(done.joint, faulty=left)
        return Way(joint, (*self.deeds, deed), self.time + deed.time, parted, (*self.instants, *done.instants))


def toward_goal(grower: Grower, joint: Joint, unshown: Unshown, most: int) -> Way | None:
    """Look further for what else the machine can show, where the map says it is nearest; for no way longer than
    ``most``."""
    order = count()
    heap = [(0, next(order), Way(evolve(joint, faulty={})))]
    tried = 0
    kinds: dict[object, int] = {}
    while heap and tried < _TRIES:
        node = heapq.heappop(heap)[2]
        good = node.joint.good
        kind = (good.config, grower.together.good.stages(good))
        kinds[kind] = kinds.get(kind, 0) + 1
        if kinds[kind] > 1:
            continue
        deeds = list(grower.deeds(node.joint))
        tried += len(deeds)
        found: Way | None = None
        for after in grower.onward(node, deeds):
            if after.time > most:
                continue
            if grower.goals.new(after.instants):
                found = after if found is None or after.time < found.time else found
            ahead = unshown.ahead(after.joint.good, sped_up=bool(grower.links))
            if ahead is not None:
                heapq.heappush(heap, (after.time + _HASTE * ahead, next(order), after))
        if found is not None:
            return found
    return None


def toward_fault(grower: Grower, joint: Joint, id_: str, guide: Guide, most: int) -> Way | None:
    """Look for a way no longer than ``most`` on which a fault parts: first what took little time and seems to have
    little left to go."""
    order = count()
    heap: list[tuple[int, int, Way]] = [(0, next(order), Way(joint))]
    tried = 0
    met: set[object] = set()
    kinds: dict[object, int] = {}
    side = grower.together.sides[id_]
    while heap and tried < _TRIES * grower.deeper:
        node = heapq.heappop(heap)[2]
        faulty, values = node.joint.faulty[id_], tuple(node.joint.values.values())
        whole = (node.joint.good, faulty, values)
        stages = grower.together.good.stages(node.joint.good), side.stages(faulty.standing)
        kind = (node.joint.good.config, faulty.standing.config, stages)
        kinds[kind] = kinds.get(kind, 0) + 1
        if whole in met or kinds[kind] > _OF_A_KIND:
            continue
        met.add(whole)
        deeds = list(_deeds_toward(grower, node.joint, id_))
        tried += len(deeds)
        found: Way | None = None
        for after in grower.onward(node, deeds):
            if after.time > most:
                continue
            if id_ in after.parted:
                found = after if found is None or after.time < found.time else found
                continue
            ahead = ahead_of(guide, after.joint, id_)
            if ahead is not None:
                heapq.heappush(heap, (after.time + _HASTE * ahead, next(order), after))
        if found is not None:
            return found
    return None


def _deeds_toward(grower: Grower, joint: Joint, id_: str) -> Iterator[Deed]:
    yield from grower.deeds(joint)
    side = grower.together.sides[id_]
    end = side.stepper.next_end(joint.faulty[id_].standing)
    if end is not None and end != grower.together.good.stepper.next_end(joint.good):
        yield Deed(settle=grower.gap, wait=up_to_tenth(end) + slack_of(side, joint.faulty[id_].standing, end))


def ahead_of(guide: Guide, joint: Joint, id_: str) -> int | None:
    """Give about how far a fault is from showing."""
    return guide.from_here(joint.good, joint.faulty[id_].standing)

"""Prove that one machine does nothing that another would not: both are taken through everything, step by step.

Law of this module: *held* only where everything was explored and nothing that shows ever differed. At first no length
is followed: any timing that runs may be over. A way to a difference that the lengths of some timings rule out has those
followed too, and so on (abstraction refined by counter-examples: Clarke, Grumberg, Jha, Lu and Veith, 2000). A way that
they do not rule out is given back: it is no proof of a difference, for a trial decides that.
"""

from __future__ import annotations

from collections import deque

from attrs import evolve

from boardgauge.machine.picture import CannotSettle
from boardgauge.pairing.clocked import explore_clocked
from boardgauge.pairing.joint_way import Blamed, JointWay
from boardgauge.pairing.jointly import Joint, Jointly, NeitherSettles, Occurs
from boardgauge.pairing.outcome import TOO_MUCH, Lockstep, Progress
from boardgauge.pairing.pair import Pair

MOST_PAIRS = 60_000
_JOINED = (1, 16, None)
"""So many zones of a pair are kept apart, at first, then, and at last."""


def lockstep(pair: Pair, one_way: bool, limit: int = MOST_PAIRS, progress: Progress | None = None) -> Lockstep:
    """Take both through everything. With ``one_way`` the second's times may lie inside the first's, else they are equal
    and the answer counts both ways. ``limit`` is the most pairs (and zones) kept in one exploration."""
    partners = pair.partners(one_way)
    found = without_lengths(Jointly(pair, partners), limit, progress)
    if found.verdict == "held" or found.way is None:
        return found
    jointly = Jointly(pair, partners, sped_up=True)
    timed: Blamed = (frozenset(), frozenset())
    joined, waits, explored = 0, False, found.explored
    # With one clock for all, how long it waits says how long everything else of it lasts; no such answer is looked for.
    may_wait = one_way and not pair.one_clock()
    while found.way is not None:
        blamed = found.way.culprits()
        ruled_out = any(blamed)
        if not ruled_out and may_wait:
            # Nothing rules it out, but the first need not have gone it: it may wait, if it knows how long all took.
            blamed = found.way.met()
        more = jointly.with_partners((timed[0] | blamed[0], timed[1] | blamed[1]))
        if not ruled_out and (not may_wait or (waits and more == timed)):
            return evolve(found, explored=explored)
        if ruled_out and more == timed:
            # Their lengths rule this way out, and yet it was found: zones were joined, or not followed exactly.
            joined += 1
            if joined == len(_JOINED):
                return evolve(found, explored=explored, way=None, why=_INEXACT)
        timed, waits = more, waits or not ruled_out
        found = explore_clocked(jointly, timed, limit, _JOINED[joined], waits, progress)
        explored += found.explored
    return evolve(found, explored=explored)


_INEXACT = "what accumulators, speed-ups and losses of power leave of a time is followed with rounding"


def without_lengths(jointly: Jointly, limit: int, progress: Progress | None) -> Lockstep:
    """Take both through everything with no length followed."""
    start = jointly.start()
    came: dict[Joint, tuple[Joint, Occurs] | None] = {start: None}
    queue = deque([start])
    while queue:
        joint = queue.popleft()
        try:
            for occurs in jointly.occurrences(joint):
                try:
                    after, _ = jointly.after(joint, occurs)
                except NeitherSettles:
                    continue
                differ = jointly.pair.differ(after.first, after.second)
                if differ:
                    return Lockstep("open", len(came), differ, (), _way(jointly, came, joint, occurs))
                if after not in came:
                    came[after] = (joint, occurs)
                    queue.append(after)
        except CannotSettle as refusal:
            return Lockstep("open", len(came), ("coming to rest",), why=str(refusal))
        if len(came) > limit:
            return Lockstep("open", len(came), why=f"not all was explored, only {len(came)} pairs of states")
        if progress is not None:
            progress(len(came) - len(queue), len(came))
    if not jointly.whole:
        return Lockstep("open", len(came), why=TOO_MUCH)
    return Lockstep("held", len(came))


def _way(jointly: Jointly, came: dict[Joint, tuple[Joint, Occurs] | None], joint: Joint, last: Occurs) -> JointWay:
    happened = [last]
    before = came[joint]
    while before is not None:
        joint, occurs = before
        happened.append(occurs)
        before = came[joint]
    return JointWay(jointly, tuple(reversed(happened)))

"""Prove that one machine does nothing that another would not: both are taken through everything, step by step.

Law of this module: *held* only where everything was explored and nothing that shows ever differed. Inputs do anything
at any time, and any timing that runs may be over. A timing of the second and its partner of the first, begun by the
same instant, are over together: the first may always last as long as the second did, since the second's range lies
inside its own. So the first follows the second wherever they go, and shows the same (a simulation relation: Milner,
Communication and Concurrency, 1989). Where a difference is found, times may rule it out: that is left to others.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator
from itertools import combinations, product
from typing import Literal, NamedTuple

from attrs import define, field, frozen

from boardgauge.machine.config import Config, Outcome
from boardgauge.machine.picture import CannotSettle
from boardgauge.pairing.pair import Pair
from boardgauge.proving.together import End, Happens, Together, both, settled

MOST_PAIRS = 60_000
_MOST_POWER_UPS = 4096


class _Joint(NamedTuple):
    """Both configurations, the levels that both read, and which partners (bits) stand at the same time."""

    first: Config
    second: Config
    levels: tuple[bool, ...]
    alike: int


class _Cause(NamedTuple):
    """What happens at one moment: levels of both (joint numbers), and what is over on either."""

    levels: tuple[tuple[int, bool], ...] = ()
    first: tuple[End, ...] = ()
    second: tuple[End, ...] = ()
    power: bool | None = None


@frozen
class Lockstep:
    """What came of it. ``differ``: what first showed differently on a way that times may rule out."""

    verdict: Literal["held", "open"]
    explored: int
    differ: tuple[str, ...] = ()


def lockstep(
    pair: Pair, one_way: bool, limit: int = MOST_PAIRS, progress: Callable[[int, int], None] | None = None
) -> Lockstep:
    """Take both through everything. With ``one_way`` the second's times may lie inside the first's, else they are equal
    and the answer counts both ways."""
    return _Explorer(pair, pair.partners(one_way), limit, progress).explore()


@define
class _Explorer:
    pair: Pair
    partners: dict[int, int]
    limit: int
    progress: Callable[[int, int], None] | None
    _bits: dict[int, int] = field(factory=dict)
    _mates: dict[int, int] = field(factory=dict)
    _ways: list[tuple[tuple[int, ...], list[tuple[bool, ...]]]] = field(init=False)
    _together: tuple[Together, Together] = field(init=False)
    _regions: tuple[dict[int, int], dict[int, int]] = field(init=False)

    def __attrs_post_init__(self) -> None:
        pair = self.pair
        self._bits = {timing: 1 << number for number, timing in enumerate(self.partners)}
        self._mates = {second: first for first, second in self.partners.items()}
        self._ways = pair.ways()
        self._together = (Together(pair.first, []), Together(pair.second, []))
        first, second = (
            {r.timings[0]: r.index for r in e.machine.regions if r.kind in {"count", "accumulator"} and r.timings}
            for e in (pair.first, pair.second)
        )
        self._regions = (first, second)

    def explore(self) -> Lockstep:
        pair = self.pair
        start = _Joint(pair.first.off(), pair.second.off(), pair.at_rest(), self._keeping())
        known = {start}
        queue = deque([start])
        while queue:
            joint = queue.popleft()
            for cause in self._causes(joint):
                try:
                    after = self._after(joint, cause)
                except CannotSettle:
                    return Lockstep("open", len(known), ("coming to rest",))
                differ = pair.differ(after.first, after.second)
                if differ:
                    return Lockstep("open", len(known), differ)
                if after not in known:
                    known.add(after)
                    queue.append(after)
            if len(known) > self.limit:
                return Lockstep("open", len(known))
            if self.progress is not None:
                self.progress(len(known) - len(queue), len(known))
        return Lockstep("held", len(known))

    def _keeping(self) -> int:
        """Give the bits of partners that stand at nought both: counts and accumulators."""
        return sum(bit for timing, bit in self._bits.items() if timing in self._regions[0])

    # -- what may happen ---------------------------------------------------------------------------------------------

    def _causes(self, joint: _Joint) -> Iterator[_Cause]:
        if not joint.first.powered:
            yield from self._power_ups(joint)
            return
        atoms = list(self._atoms(joint))
        yield from atoms
        entwined = [pair for pair in combinations(range(len(atoms)), 2) if self._entwined(joint, atoms, pair)]
        pairs = set(entwined)
        for one, other in entwined:
            yield _both(atoms[one], atoms[other])
            for third in range(other + 1, len(atoms)):
                if (one, third) in pairs or (other, third) in pairs:
                    yield _both(_both(atoms[one], atoms[other]), atoms[third])
        yield _Cause(power=False)

    def _power_ups(self, joint: _Joint) -> Iterator[_Cause]:
        ways = self._ways
        for count, chosen in enumerate(product(*(values for _, values in ways))):
            if count >= _MOST_POWER_UPS:
                raise CannotSettle("there are too many ways to switch it on")
            levels = (zip(i, taken, strict=True) for (i, _), taken in zip(ways, chosen, strict=True))
            yield _Cause(tuple(pair for row in levels for pair in row), power=True)

    def _atoms(self, joint: _Joint) -> Iterator[_Cause]:
        for indices, all_values in self._ways:
            now = tuple(joint.levels[index] for index in indices)
            for values in all_values:
                if values != now:
                    rows = zip(indices, now, values, strict=True)
                    yield _Cause(tuple((i, new) for i, old, new in rows if old != new))
        mine, its = (self._ends(side, config) for side, config in enumerate((joint.first, joint.second)))
        for timing, end in mine.items():
            mate = self.partners.get(timing, -1)
            if mate in its and joint.alike & self._bits[timing]:
                yield _Cause(first=(end,), second=(its[mate],))
            else:
                yield _Cause(first=(end,))
        for timing, end in its.items():
            first = self._mates.get(timing, -1)
            if first not in mine or not joint.alike & self._bits[first]:
                yield _Cause(second=(end,))

    def _ends(self, side: int, config: Config) -> dict[int, End]:
        machine = (self.pair.first, self.pair.second)[side].machine
        found = {}
        for row in machine.timings:
            if row.role == "window":
                region = self._regions[side][row.index]
                if config.places[region]:
                    found[row.index] = End(row.index, region)
            elif config.running >> row.index & 1:
                found[row.index] = End(row.index)
        return found

    def _entwined(self, joint: _Joint, atoms: list[_Cause], which: tuple[int, int]) -> bool:
        one, other = atoms[which[0]], atoms[which[1]]
        if one.levels and other.levels and _input(self.pair, one) == _input(self.pair, other):
            return False
        for side, config in enumerate((joint.first, joint.second)):
            a, b = self._own(side, one), self._own(side, other)
            if a != Happens() and b != Happens() and self._together[side].entwined(config, a, b):
                return True
        return False

    def _own(self, side: int, cause: _Cause) -> Happens:
        return Happens(self.pair.own(cause.levels)[side], (cause.first, cause.second)[side], cause.power)

    # -- what it does ------------------------------------------------------------------------------------------------

    def _after(self, joint: _Joint, cause: _Cause) -> _Joint:
        pair = self.pair
        if cause.power is False:
            first, second = pair.first.lose_power(joint.first), pair.second.lose_power(joint.second)
            alike = joint.alike & self._kept() | self._keeping() & ~self._kept_by_any()
            return _Joint(_plain(first, pair.first.off()), _plain(second, pair.second.off()), pair.at_rest(), alike)
        levels = list(joint.levels)
        for index, value in cause.levels:
            levels[index] = value
        one = settled(pair.first, joint.first, self._own(0, cause))
        other = settled(pair.second, joint.second, self._own(1, cause))
        alike = 0
        for timing, bit in self._bits.items():
            if self._still_alike(timing, bool(joint.alike & bit), (joint.first, joint.second), (one, other)):
                alike |= bit
        return _Joint(
            _plain(one.config, pair.first.off()), _plain(other.config, pair.second.off()), tuple(levels), alike
        )

    def _still_alike(
        self, timing: int, alike: bool, before: tuple[Config, Config], after: tuple[Outcome, Outcome]
    ) -> bool:
        timings = (timing, self.partners[timing])
        regions = [self._regions[side].get(t) for side, t in enumerate(timings)]
        runs = [bool(o.config.running >> t & 1) for o, t in zip(after, timings, strict=True)]
        if regions[0] is None:
            begun = [any(t == b for b, _ in o.begun) for o, t in zip(after, timings, strict=True)]
            return all(runs) and (all(begun) or (alike and not any(begun)))
        if self.pair.first.machine.regions[regions[0]].kind == "accumulator":
            emptied = [r in o.emptied for o, r in zip(after, regions, strict=True)]
            return (all(emptied) or (alike and not any(emptied))) and runs[0] == runs[1]
        forgot = [r in o.forgot for o, r in zip(after, regions, strict=True)]
        places = [o.config.places[r] for o, r in zip(after, regions, strict=True) if r is not None]
        counted = [any(r == c for c, _ in o.counted) for o, r in zip(after, regions, strict=True)]
        same = forgot[0] == forgot[1] and counted[0] == counted[1] and places[0] == places[1]
        return (alike and same) or places == [0, 0]

    def _kept(self) -> int:
        """Give the bits of partners that both keep without power."""
        return sum(bit for timing, bit in self._bits.items() if all(self._keeps(timing)))

    def _kept_by_any(self) -> int:
        return sum(bit for timing, bit in self._bits.items() if any(self._keeps(timing)))

    def _keeps(self, timing: int) -> tuple[bool, bool]:
        rows = []
        for engine, index in ((self.pair.first, timing), (self.pair.second, self.partners[timing])):
            machine = engine.machine
            rows.append(
                any(index in r.timings and r.kept_without_power for r in machine.regions)
                or any(d.timing == index and d.kept_without_power for d in machine.delays)
            )
        return rows[0], rows[1]


def _plain(config: Config, off: Config) -> Config:
    """Leave out which position of a setting was chosen: partners choose alike."""
    return config._replace(settings=off.settings, chosen=off.chosen)


def _both(one: _Cause, other: _Cause) -> _Cause:
    joined = both(Happens(one.levels, one.first), Happens(other.levels, other.first))
    return _Cause(joined.levels, joined.over, tuple(sorted(one.second + other.second)))


def _input(pair: Pair, cause: _Cause) -> str:
    return pair.levels[cause.levels[0][0]].input

"""Two machines at one moment: what may happen to both, and what it does.

Law of this module: inputs do anything at any time, and any timing that runs may be over. A timing of the second and its
partner of the first, begun by the same instant and from the same cause, are *alike*: they are over together, since the
first may always last as long as the second did, whose range lies inside its own. So the first follows the second
wherever they go (a simulation relation: Milner, Communication and Concurrency, 1989). What the first has running alone
may be over whenever it likes; all its ways are taken. How long anything lasts is known to others.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from boardgauge.machine.config import Cause, Config, Outcome
from boardgauge.machine.picture import CannotSettle
from boardgauge.pairing.joint_instants import JointInstants, end_kinds, thing
from boardgauge.pairing.pair import Pair
from boardgauge.proving.beginnings import power_ups
from boardgauge.proving.together import End, Happens, both, settled

FIRST, SECOND = 0, 1


class NeitherSettles(CannotSettle):
    """Neither machine comes to rest: no board does this, and there is nothing to compare."""


class Joint(NamedTuple):
    """Both configurations, the levels that both read, and which partners (bits) run alike."""

    first: Config
    second: Config
    levels: tuple[bool, ...]
    alike: int

    def config(self, side: int) -> Config:
        """Give the configuration of one of the boards."""
        return self.second if side else self.first


class Occurs(NamedTuple):
    """What happens at one moment: levels of both (joint numbers), and what is over on either."""

    levels: tuple[tuple[int, bool], ...] = ()
    first: tuple[End, ...] = ()
    second: tuple[End, ...] = ()
    power: bool | None = None

    def over(self, side: int) -> tuple[End, ...]:
        """Give what is over on one of the boards."""
        return self.second if side else self.first


Ends = tuple[Sequence[End], Sequence[End]]
Outcomes = tuple[Outcome, Outcome]


class Jointly:
    """Answers, for a pair of machines, what may happen and what it does.

    ``partners`` (first's timing -> second's) are the timings that may run alike; with ``sped_up`` the inputs change too
    that only speed-ups read. ``at_once``: what goes together is asked of all ways of the inputs at once.
    """

    def __init__(self, pair: Pair, partners: dict[int, int], sped_up: bool = False, at_once: bool = True) -> None:
        self.pair, self.partners = pair, partners
        self.bits = {timing: 1 << number for number, timing in enumerate(partners)}
        self.mates = {second: first for first, second in partners.items()}
        self._ways = pair.ways(sped_up)
        self._instants = JointInstants(pair, at_once)
        first, second = (
            {r.timings[0]: r.index for r in e.machine.regions if r.kind in {"count", "accumulator"} and r.timings}
            for e in (pair.first, pair.second)
        )
        self._regions = (first, second)
        held = tuple(
            (row.index, value) for row, value in zip(pair.levels, pair.at_rest(), strict=True) if row.input in pair.held
        )
        rows, self._all_power_ups = power_ups(self._ways)
        self._power_ups = [Occurs((*held, *levels), power=True) for levels in rows]

    def with_partners(self, timings: tuple[frozenset[int], frozenset[int]]) -> tuple[frozenset[int], frozenset[int]]:
        """Give timings of either board and their partners."""
        first = timings[FIRST] | {self.mates[t] for t in timings[SECOND] if t in self.mates}
        return first, timings[SECOND] | {self.partners[t] for t in first if t in self.partners}

    def named(self, timings: tuple[frozenset[int], frozenset[int]]) -> tuple[str, ...]:
        """Give the names of timings of either board."""
        rows = zip((self.pair.first, self.pair.second), timings, strict=True)
        return tuple(sorted({engine.machine.timings[index].name for engine, some in rows for index in some}))

    def start(self) -> Joint:
        """Give both without power, before they are switched on for the first time."""
        pair = self.pair
        return Joint(pair.first.off(), pair.second.off(), pair.at_rest(), self._keeping())

    def _keeping(self) -> int:
        """Give the bits of partners that stand at nought both: counts and accumulators."""
        return sum(bit for timing, bit in self.bits.items() if timing in self._regions[FIRST])

    # -- what may happen ---------------------------------------------------------------------------------------------

    @property
    def whole(self) -> bool:
        """Whether all that may happen at one moment was looked at so far."""
        return self._instants.whole

    def occurrences(self, joint: Joint, ends: Ends | None = None) -> list[Occurs]:
        """Give each thing that may happen alone, and together what does not come to the same one after the other.

        ``ends`` are the timings that may be over, all that run if None. Raises CannotSettle.
        """
        return [occurs for occurs, _ in self.moments(joint, ends)]

    def moments(self, joint: Joint, ends: Ends | None = None) -> list[tuple[Occurs, frozenset[Occurs]]]:
        """Give the same with the ends, each as it occurs, that, due at the same moment, would be part of it."""
        if not joint.first.powered:
            if not self._all_power_ups:
                raise CannotSettle("there are too many ways to switch it on")
            return [(occurs, frozenset()) for occurs in self._power_ups]
        atoms = list(self._atoms(joint, ends or self.running(joint)))
        things = [
            thing(
                self.own(FIRST, atom),
                self.own(SECOND, atom),
                [self._input(atom)] if atom.levels else end_kinds(atom.first, atom.second),
            )
            for atom in atoms
        ]
        found = []
        for group, beside in self._instants.groups((joint.first, joint.second), things):
            occurs = atoms[group[0]]
            for number in group[1:]:
                occurs = together(occurs, atoms[number])
            found.append((occurs, frozenset(atoms[number] for number in beside)))
        found.append((Occurs(power=False), frozenset()))
        return found

    def _atoms(self, joint: Joint, ends: Ends) -> Iterator[Occurs]:
        for indices, all_values in self._ways:
            now = tuple(joint.levels[index] for index in indices)
            for values in all_values:
                if values != now:
                    rows = zip(indices, now, values, strict=True)
                    yield Occurs(tuple((i, new) for i, old, new in rows if old != new))
        for end in ends[FIRST]:
            yield self.end(joint, FIRST, end)
        for end in ends[SECOND]:
            if not self.runs_alike(joint, SECOND, end.timing):
                yield Occurs(second=(end,))

    def end(self, joint: Joint, side: int, end: End) -> Occurs:
        """Give the end of a timing, with that of its partner if they run alike."""
        if not self.runs_alike(joint, side, end.timing):
            return Occurs(second=(end,)) if side else Occurs(first=(end,))
        mate = (self.mates if side else self.partners)[end.timing]
        other = end._replace(timing=mate, region=self._regions[1 - side][mate] if end.region >= 0 else -1)
        return Occurs(first=(other,), second=(end,)) if side else Occurs(first=(end,), second=(other,))

    def runs_alike(self, joint: Joint, side: int, timing: int) -> bool:
        """Tell whether a timing of one board runs alike with its partner."""
        first = self.mates.get(timing, -1) if side else timing
        return bool(joint.alike & self.bits.get(first, 0))

    def running(self, joint: Joint) -> Ends:
        """Give the ends of all that runs on either board; of a count only the oldest event's."""
        one, other = (list(self._ends(side, config)) for side, config in enumerate((joint.first, joint.second)))
        return one, other

    def _ends(self, side: int, config: Config) -> Iterator[End]:
        machine = (self.pair.first, self.pair.second)[side].machine
        for row in machine.timings:
            if row.role == "window":
                region = self._regions[side][row.index]
                if config.places[region]:
                    yield End(row.index, region)
            elif config.running >> row.index & 1:
                yield End(row.index)

    def _input(self, occurs: Occurs) -> str:
        return self.pair.levels[occurs.levels[0][0]].input

    def own(self, side: int, occurs: Occurs) -> Happens:
        """Give what happens as one of the machines counts it."""
        return Happens(self.pair.own(occurs.levels)[side], occurs.over(side), occurs.power)

    # -- what it does ------------------------------------------------------------------------------------------------

    def after(self, joint: Joint, occurs: Occurs) -> tuple[Joint, Outcomes | None]:
        """Give both after it, and what it did on each (None where the supply goes).

        Raises NeitherSettles, and CannotSettle where one of them alone does not come to rest.
        """
        pair = self.pair
        if occurs.power is False:
            first = _plain(pair.first.lose_power(joint.first), pair.first.off())
            second = _plain(pair.second.lose_power(joint.second), pair.second.off())
            alike = joint.alike & self._kept() | self._keeping() & ~self._kept_by_any()
            return Joint(first, second, pair.at_rest(), alike), None
        levels = list(joint.levels)
        for index, value in occurs.levels:
            levels[index] = value
        try:
            one = settled(pair.first, joint.first, self.own(FIRST, occurs))
        except CannotSettle as refusal:
            try:
                settled(pair.second, joint.second, self.own(SECOND, occurs))
            except CannotSettle:
                raise NeitherSettles(str(refusal)) from refusal
            raise
        other = settled(pair.second, joint.second, self.own(SECOND, occurs))
        alike = 0
        for timing, bit in self.bits.items():
            if self._still_alike(timing, bool(joint.alike & bit), (joint.first, joint.second), (one, other)):
                alike |= bit
        after = Joint(
            _plain(one.config, pair.first.off()), _plain(other.config, pair.second.off()), tuple(levels), alike
        )
        return after, (one, other)

    def _still_alike(self, timing: int, alike: bool, before: tuple[Config, Config], after: Outcomes) -> bool:
        timings = (timing, self.partners[timing])
        regions = [self._regions[side].get(t) for side, t in enumerate(timings)]
        runs = [bool(o.config.running >> t & 1) for o, t in zip(after, timings, strict=True)]
        begun = [self._from(side, after[side].begun, t) for side, t in enumerate(timings)]
        if regions[0] is None or regions[1] is None:
            return all(runs) and begun[0] == begun[1] and (alike or begun[0] is not None)
        if self.pair.first.machine.regions[regions[0]].kind == "accumulator":
            paused = [self._from(side, after[side].paused, t) for side, t in enumerate(timings)]
            emptied = [r in o.emptied for o, r in zip(after, regions, strict=True)]
            same = runs[0] == runs[1] and begun[0] == begun[1] and paused[0] == paused[1]
            return same and (all(emptied) or (alike and not any(emptied)))
        forgot = [r in o.forgot for o, r in zip(after, regions, strict=True)]
        places = [o.config.places[r] for o, r in zip(after, regions, strict=True) if r is not None]
        counted = [self._from(side, after[side].counted, r) for side, r in enumerate(regions) if r is not None]
        same = forgot[0] == forgot[1] and counted[0] == counted[1] and places[0] == places[1]
        return (alike and same) or places == [0, 0]

    def _from(self, side: int, rows: tuple[tuple[int, Cause], ...], which: int) -> object:
        """Give what something counts from, in words of both boards, None if it does not begin."""
        return next((self.pair.cause(side, cause) for index, cause in rows if index == which), None)

    def _kept(self) -> int:
        """Give the bits of partners that both keep without power."""
        return sum(bit for timing, bit in self.bits.items() if all(self._keeps(timing)))

    def _kept_by_any(self) -> int:
        return sum(bit for timing, bit in self.bits.items() if any(self._keeps(timing)))

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


def together(one: Occurs, other: Occurs) -> Occurs:
    """Give both at one moment."""
    joined = both(Happens(one.levels, one.first), Happens(other.levels, other.first))
    return Occurs(joined.levels, joined.over, tuple(sorted(one.second + other.second)))

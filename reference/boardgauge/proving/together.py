"""What may happen at one moment: each thing alone, and together what does not come to the same one after the other.

Law of this module: things are left apart only if one of them, first and alone, and then all the others, at the same
moment, come to the same as all together. Answers are about one configuration. Which position of a setting was chosen
says how long a timing lasts, and nothing of what it does; so it is left out of the question.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations
from typing import NamedTuple

from boardgauge.machine.config import Config, Outcome
from boardgauge.machine.input_ways import Ways
from boardgauge.machine.picture import CannotSettle
from boardgauge.machine.settle import Engine
from boardgauge.proving.clockwork import Node

MOST_TOGETHER = 512
"""So many choices of things that may happen at one moment are asked for what they do together; of two, all are."""


class End(NamedTuple):
    """A timing that is over; of a count (``region``) the window of one event, ``which`` from the oldest on."""

    timing: int
    region: int = -1
    which: int = 0


class Happens(NamedTuple):
    """What happens at one moment: levels that change, timings that are over, the supply that comes or goes."""

    levels: tuple[tuple[int, bool], ...] = ()
    over: tuple[End, ...] = ()
    power: bool | None = None


Moment = tuple[Happens, frozenset[End]]
"""What happens, and the ends that, due at the same moment, would be part of it."""


class Together:
    """Answers, for one machine, what may happen to a node; asked thing by thing, up to so many choices of things."""

    def __init__(self, engine: Engine, ways: Ways, most: int | None = None) -> None:
        self.engine, self.ways, self.most = engine, ways, MOST_TOGETHER if most is None else most
        self.whole = True
        """Whether all that may happen at one moment was looked at so far."""
        machine = engine.machine
        self._input_of = [level.input for level in machine.levels]
        self._counts = [row for row in machine.regions if row.kind == "count" and row.timings]
        windows = {row.timings[0] for row in self._counts}
        self._timings = [row.index for row in machine.timings if row.index not in windows]
        self._off = engine.off()

    def moments(self, node: Node) -> list[Moment]:
        """Give what may happen: each thing alone, and together what is not the same one after the other."""
        atoms, config = list(self._atoms(node)), self._plain(node.config)
        looked: dict[tuple[int, ...], bool] = {}
        firsts: dict[tuple[int, ...], list[int]] = {}
        for group in self._groups(atoms):
            places = self._firsts(config, [atoms[number] for number in group])
            firsts[group] = [group[place] for place in places]
            looked[group] = len(group) == 1 or not firsts[group]
        due = [number for number, atom in enumerate(atoms) if atom.over]
        beside = {
            number: {n for n in due if number not in firsts.get((min(number, n), max(number, n)), [number])}
            for number in range(len(atoms))
        }
        hurts = {number: set(ends) for number, ends in beside.items()}
        for group, mine in firsts.items():
            left = {one: {n for n in group if n != one and n in due} for one in mine}
            if len(group) > 2 and mine and all(hurts[one] & ends for one, ends in left.items()):
                # Whichever of them comes first, an end that it may not come before is left to come after it.
                beside[mine[0]] -= left[mine[0]]
        found = []
        for group, look in looked.items():
            if look:
                what = self._joined([atoms[number] for number in group])
                # Of several things together none comes first and leaves the others; of one alone it is known.
                with_it = beside[group[0]] if len(group) == 1 else set(due) - set(group)
                over = {end[:2] for end in what.over}
                ends = (atoms[number].over[0] for number in with_it)
                found.append((what, frozenset(end for end in ends if end[:2] not in over)))
        return found

    def _groups(self, atoms: Sequence[Happens]) -> Iterator[tuple[int, ...]]:
        tried = 0
        for size in range(1, len(atoms) + 1):
            for group in combinations(range(len(atoms)), size):
                if size > 1 and any(self._of_one(atoms[a], atoms[b]) for a, b in combinations(group, 2)):
                    continue
                tried += 1
                if size > 2 and tried > self.most:
                    self.whole = False
                    return
                yield group

    def _of_one(self, one: Happens, other: Happens) -> bool:
        """Tell whether two things are of one input, or of one timing: they never happen at one moment."""
        if one.levels and other.levels and self._input_of[one.levels[0][0]] == self._input_of[other.levels[0][0]]:
            return True
        return bool(one.over and other.over and one.over[0][:2] == other.over[0][:2])

    def _atoms(self, node: Node) -> Iterator[Happens]:
        levels = node.config.levels
        for indices, all_values in self.ways:
            now = tuple(levels[index] for index in indices)
            for values in all_values:
                if values != now:
                    rows = zip(indices, now, values, strict=True)
                    yield Happens(levels=tuple((i, new) for i, old, new in rows if old != new))
        for end in ends_of(node):
            yield Happens(over=(end,))
        followed = {clock.timing for clock in node.clocks}
        for timing in self._timings:
            if node.config.running >> timing & 1 and timing not in followed:
                yield Happens(over=(End(timing),))
        for region in self._counts:
            if node.config.places[region.index] and region.timings[0] not in followed:
                yield Happens(over=(End(region.timings[0], region.index),))

    def _plain(self, config: Config) -> Config:
        """Leave out which positions of settings were chosen."""
        return config._replace(settings=self._off.settings, chosen=self._off.chosen)

    @staticmethod
    def _joined(group: Sequence[Happens]) -> Happens:
        found = group[0]
        for other in group[1:]:
            found = both(found, other)
        return found

    def _firsts(self, config: Config, group: Sequence[Happens]) -> list[int]:
        """Give which of some things may come first, and then the others, to the same as all together."""
        rows = enumerate(group)
        return [n for n, one in rows if self.may_come_first(config, one, [a for m, a in enumerate(group) if m != n])]

    def may_come_first(self, config: Config, one: Happens, others: Sequence[Happens]) -> bool:
        """Tell whether one thing first, and then the others, come to the same as all of them together."""
        try:
            first = settled(self.engine, config, one)
            if not others:
                return True
            together = settled(self.engine, config, self._joined([one, *others]))
            rest = self._joined(others)
            if not all(_still_comes(first, end) for end in rest.over):
                return False
            then = settled(self.engine, self._plain(first.config), rest)
        except CannotSettle:
            return False
        if self._plain(then.config) != self._plain(together.config):
            return False
        once = [_once(outcome) for outcome in (first, then, together)]
        joined = [_joined(outcome) for outcome in (first, then, together)]
        seen = [{*outcome.broken, *((-1, row) for row in outcome.together)} for outcome in (first, then, together)]
        # What began and was cut short at the same moment began for nothing.
        came = {row for row in joined[0] | joined[1] if row[0] != "begun" or together.config.running >> row[1] & 1}
        if once[0] & once[1] or once[0] | once[1] != once[2]:
            return False
        return came == joined[2] and seen[0] | seen[1] == seen[2]


def _once(outcome: Outcome) -> frozenset[tuple[object, ...]]:
    """Give what may not come about twice and be the same."""
    rows: list[tuple[object, ...]] = [("moved", region) for region, _, _ in outcome.moved]
    rows += [("counted", region) for region, _ in outcome.counted]
    return frozenset([*rows, *(("commanded", *command) for command in outcome.commands)])


def _joined(outcome: Outcome) -> frozenset[tuple[str, int]]:
    """Give what may come about twice and is once."""
    rows = [("begun", timing) for timing, _ in outcome.begun] + [("paused", timing) for timing, _ in outcome.paused]
    rows += [("emptied", region) for region in outcome.emptied]
    return frozenset([*rows, *(("forgot", region) for region in outcome.forgot)])


def _still_comes(first: Outcome, end: End) -> bool:
    """Tell whether what is to be over still is, and is the same."""
    if end.region < 0:
        return bool(first.config.running >> end.timing & 1) and all(timing != end.timing for timing, _ in first.begun)
    return first.config.places[end.region] > 0 and end.region not in first.forgot


def ends_of(node: Node) -> Iterator[End]:
    """Give the end of each clock of a node, in their order."""
    met: dict[int, int] = {}
    for clock in node.clocks:
        if clock.region < 0:
            yield End(clock.timing)
        else:
            which = met[clock.region] = met.get(clock.region, -1) + 1
            yield End(clock.timing, clock.region, which)


def clocks_of(node: Node, what: Happens) -> tuple[int, ...]:
    """Give the numbers of the clocks that are over."""
    if not what.over:
        return ()
    return tuple(number for number, end in enumerate(ends_of(node)) if end in what.over)


def settled(engine: Engine, config: Config, what: Happens) -> Outcome:
    """Give what an instant does. Raises CannotSettle."""
    levels = list(config.levels)
    for index, value in what.levels:
        levels[index] = value
    expired = tuple(sorted(end.timing for end in what.over if end.region < 0))
    dropped = tuple(sorted(end.region for end in what.over if end.region >= 0))
    return engine.settle(config, tuple(levels), expired, dropped, what.power is True)


def both(one: Happens, other: Happens) -> Happens:
    """Give both at one moment."""
    return Happens(tuple(sorted(one.levels + other.levels)), tuple(sorted(one.over + other.over)))

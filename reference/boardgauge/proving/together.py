"""What may happen at one moment: each thing alone, and together what does not come to the same one after the other.

Law of this module: two things are left apart only if in either order, and together, they do the same. Answers are about
one configuration, and remembered as long as its engine is. Which position of a setting was chosen says how long a
timing lasts, and nothing of what it does; so it is left out of the question.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import combinations
from typing import NamedTuple
from weakref import WeakKeyDictionary

from boardgauge.machine.config import Config, Outcome
from boardgauge.machine.input_ways import Ways
from boardgauge.machine.picture import CannotSettle
from boardgauge.machine.settle import Engine
from boardgauge.proving.clockwork import Node


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


_Answers = dict[tuple[Config, "Happens", "Happens"], bool]
_KNOWN: WeakKeyDictionary[Engine, _Answers] = WeakKeyDictionary()
"""What was answered of each engine: one machine is explored many times, with more and more of its timings followed."""


class Together:
    """Answers, for one machine, what may happen to a node."""

    def __init__(self, engine: Engine, ways: Ways) -> None:
        self.engine, self.ways = engine, ways
        machine = engine.machine
        self._input_of = [level.input for level in machine.levels]
        self._counts = [row for row in machine.regions if row.kind == "count" and row.timings]
        windows = {row.timings[0] for row in self._counts}
        self._timings = [row.index for row in machine.timings if row.index not in windows]
        self._entwined = _KNOWN.setdefault(engine, {})
        self._off = engine.off()

    def happenings(self, node: Node) -> list[Happens]:
        """Give each thing alone, and up to three together."""
        atoms = list(self._atoms(node))
        rows = combinations(enumerate(atoms), 2)
        pairs = [(m, n) for (m, one), (n, other) in rows if self.entwined(node.config, one, other)]
        found = atoms + [both(atoms[m], atoms[n]) for m, n in pairs]
        for three in threes(pairs):
            one, other, third = (atoms[number] for number in three)
            if not any(self._of_one(*two) for two in combinations((one, other, third), 2)):
                found.append(both(both(one, other), third))
        return found

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

    def entwined(self, config: Config, one: Happens, other: Happens) -> bool:
        """Tell whether two things together have to be looked at as well."""
        if self._of_one(one, other):
            return False
        config = self._plain(config)
        key = (config, one, other)
        known = self._entwined.get(key)
        if known is None:
            try:
                known = not self._comes_to_the_same(config, one, other)
            except CannotSettle:
                known = True
            self._entwined[key] = known
        return known

    def _plain(self, config: Config) -> Config:
        """Leave out which positions of settings were chosen."""
        return config._replace(settings=self._off.settings, chosen=self._off.chosen)

    def _comes_to_the_same(self, config: Config, one: Happens, other: Happens) -> bool:
        first, second = settled(self.engine, config, one), settled(self.engine, config, other)
        if not _still_comes(first, other) or not _still_comes(second, one):
            return False
        last = settled(self.engine, self._plain(first.config), other)
        first_last = settled(self.engine, self._plain(second.config), one)
        if self._plain(last.config) != self._plain(first_last.config):
            return False
        if (_silent(config, first) and _silent(second.config, first_last) and _did(last) == _did(second)) or (
            _silent(config, second) and _silent(first.config, last) and _did(first_last) == _did(first)
        ):
            # What does nothing, before or after the other, and leaves the other as it is, does nothing with it.
            return True
        together = settled(self.engine, config, both(one, other))
        return all(
            self._plain(after.config) == self._plain(together.config)
            and {t for t, _ in (*alone.begun, *after.begun)} == {t for t, _ in together.begun}
            and sorted((*alone.commands, *after.commands)) == sorted(together.commands)
            and {*alone.broken, *after.broken} == set(together.broken)
            and {*alone.emptied, *after.emptied} == set(together.emptied)
            and {*alone.forgot, *after.forgot} == set(together.forgot)
            and {r for r, _ in (*alone.counted, *after.counted)} == {r for r, _ in together.counted}
            for alone, after in ((first, last), (second, first_last))
        )


def _silent(before: Config, outcome: Outcome) -> bool:
    """Tell whether an instant did nothing but change levels."""
    after = outcome.config
    return (
        before.running == after.running
        and before.full == after.full
        and not (outcome.moved or outcome.begun or outcome.paused or outcome.emptied or outcome.counted)
        and not (outcome.forgot or outcome.commands or outcome.broken or outcome.together)
    )


def _did(outcome: Outcome) -> tuple[object, ...]:
    """Give what an instant did, apart from the levels."""
    config = outcome.config
    return (
        config.places,
        config.running,
        config.full,
        tuple(timing for timing, _ in outcome.begun),
        tuple(timing for timing, _ in outcome.paused),
        outcome.emptied,
        tuple(region for region, _ in outcome.counted),
        outcome.forgot,
        outcome.commands,
        outcome.broken,
        outcome.together,
    )


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


def _still_comes(alone: Outcome, second: Happens) -> bool:
    for end in second.over:
        if end.region < 0 and not alone.config.running >> end.timing & 1:
            return False
        if end.region >= 0 and alone.config.places[end.region] == 0:
            return False
    return True


def threes(pairs: Iterable[tuple[int, int]]) -> list[tuple[int, ...]]:
    """Give three that hang together, in order: two at least of their pairs are looked at together."""
    beside: dict[int, set[int]] = {}
    for one, other in pairs:
        beside.setdefault(one, set()).add(other)
        beside.setdefault(other, set()).add(one)
    rows = [(middle, *two) for middle, others in beside.items() for two in combinations(others, 2)]
    return sorted({tuple(sorted(row)) for row in rows})


def both(one: Happens, other: Happens) -> Happens:
    """Give both at one moment."""
    return Happens(tuple(sorted(one.levels + other.levels)), tuple(sorted(one.over + other.over)))

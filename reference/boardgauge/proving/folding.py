"""The ways that the inputs of a machine may be, folded: those that lead into one another without a trace count as one.

Law of this module: a fold leaves nothing out. A place of the folded machine stands for all ways in it that the inputs
may be, and whatever may happen in one of them may happen in it. So what is shown never to happen in the folded machine
never happens. It hardly ever shows more than the machine does: inputs change at any time, as often as they like.

What a machine is in apart from its inputs is a *kernel*: its places, what is running and what is full. What may happen
in a kernel is worked out for all ways of the inputs at once (``proving.many``).
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator, Sequence
from itertools import product
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt
from attrs import define

from boardgauge.language import expressions as ex
from boardgauge.machine.config import Config
from boardgauge.machine.input_ways import levels_watched, ways_together, without_speed_ups
from boardgauge.machine.settle import Engine
from boardgauge.proving.beginnings import number_of
from boardgauge.proving.many import Done, ManyInstants
from boardgauge.proving.many_pictures import Standing
from boardgauge.proving.together import End, Happens, settled
from boardgauge.proving.words import NO, YES, Bits, Truths, Words, any_of, packed, unpacked

MOST_WAYS = 4096
"""With more ways than these that inputs may be, nothing is folded."""

Numbers = npt.NDArray[np.intp]

Kernel = tuple[tuple[int, ...], int, int]
"""Of a configuration the places, what is running and what is full."""


class Atom(NamedTuple):
    """One thing that may happen: an input that comes to be in one of its ways."""

    input: int
    value: int


@define
class Here:
    """What may happen in one kernel.

    ``home`` is, for each way of the inputs, the least one that it leads into without a trace and back; ``quiet``, for
    each change of an input and each way, whether neither it nor its way back leaves one.
    """

    home: Numbers
    quiet: Truths


class Folds:
    """Folds one machine. With ``sped_up`` its speed-ups may hold; else ways in which one does are left out."""

    def __init__(self, engine: Engine, sped_up: bool) -> None:
        self.engine, self.machine, self.sped_up = engine, engine.machine, sped_up
        self.many = ManyInstants(engine)
        self._read = levels_watched(self.machine)[0]
        self.ways = ways_together(self.machine, self._read)
        if not sped_up:
            left_out = dict(self._always_sped_up())
            self.ways = [
                (indices, [v for v in values if len(indices) > 1 or left_out.get(indices[0]) != v[0]])
                for indices, values in self.ways
            ]
        hasty = {index for index, read in enumerate(without_speed_ups(self.machine)) if not read} if sped_up else set()
        self.ways.sort(key=lambda row: hasty.issuperset(row[0]))
        self.hasty = sum(hasty.issuperset(indices) for indices, _ in self.ways)
        """So many inputs, the last ones, say nothing but how fast timings run."""
        self.levels = list(self._all_levels())
        self.number = {levels: number for number, levels in enumerate(self.levels)}
        self.truths = np.array(self.levels, dtype=bool).reshape(len(self.levels), len(self.machine.levels))
        self.words = tuple(packed(column) for column in self.truths.T)
        self.width = len(packed(np.ones(len(self.levels), dtype=bool)))
        self.inputs = [Atom(i, v) for i, (_, values) in enumerate(self.ways) for v in range(len(values))]
        """Each value that each input may come to."""
        self.to = np.array([self._leads(atom) for atom in self.inputs], dtype=np.intp).reshape(-1, len(self.levels))
        """For each of them, and each way of the inputs, the way that it leads to."""
        self._back = [self._way_back(atom) for atom in self.inputs]
        self._counts = [row for row in self.machine.regions if row.kind == "count" and row.timings]
        windows = {row.timings[0] for row in self._counts}
        self._timings = [row.index for row in self.machine.timings if row.index not in windows]
        self._here: dict[Kernel, Here] = {}
        self.moments: Any = None
        """What may happen at one moment, once it was asked (``at_one_moment``)."""

    @staticmethod
    def serves(engine: Engine, timed: Iterable[int] | None) -> bool:
        """Tell whether a machine can be folded, with these timings followed (all if None)."""
        machine = engine.machine
        number = number_of(ways_together(machine, levels_watched(machine)[0]))
        timed = range(len(machine.timings)) if timed is None else timed
        settings = [machine.board.settings[name] for t in timed if (name := machine.timings[t].setting) is not None]
        # What is read from the inputs whenever a timing begins is not told apart here.
        by_inputs = any(row.read == "always" and any(p.when is not None for p in row.positions) for row in settings)
        return number <= MOST_WAYS and not by_inputs

    # -- the ways of the inputs --------------------------------------------------------------------------------------

    def _always_sped_up(self) -> Iterator[tuple[int, bool]]:
        """Give the levels at which a speed-up holds whatever else is: those of a link, nearly always."""
        levels = {row.input: row.index for row in self.machine.levels if row.comparison is None}
        for row in self.machine.speed_ups:
            match row.while_:
                case ex.InState(name=name, state=state) if name in levels:
                    yield levels[name], not self.engine.logic.is_false_word(name, state)
                case ex.Name(name=name) if name in levels:
                    yield levels[name], True

    def _all_levels(self) -> Iterator[tuple[bool, ...]]:
        for chosen in product(*(values for _, values in self.ways)):
            levels = [level.at_rest for level in self.machine.levels]
            for (indices, _), values in zip(self.ways, chosen, strict=True):
                for index, value in zip(indices, values, strict=True):
                    levels[index] = value
            yield tuple(levels)

    def _leads(self, atom: Atom) -> list[int]:
        indices, values = self.ways[atom.input]
        found = []
        for levels in self.levels:
            new = list(levels)
            for index, value in zip(indices, values[atom.value], strict=True):
                new[index] = value
            found.append(self.number[tuple(new)])
        return found

    def _way_back(self, atom: Atom) -> Numbers:
        """Give for each way of the inputs the number of the atom that leaves this input as it is."""
        first = next(n for n, other in enumerate(self.inputs) if other.input == atom.input)
        indices, values = self.ways[atom.input]
        value_of = {value: number for number, value in enumerate(values)}
        rows = [first + value_of[tuple(levels[i] for i in indices)] for levels in self.levels]
        return np.array(rows, dtype=np.intp)

    def levels_after(self, ways: Numbers) -> list[Words]:
        """Give the levels in these ways of the inputs, a row of words for each row."""
        return [packed(column[ways]) for column in self.truths.T]

    def changes(self, before: int, after: int) -> tuple[tuple[int, bool], ...]:
        """Give the levels that change between two ways of the inputs."""
        rows = zip(self.levels[before], self.levels[after], strict=True)
        return tuple((index, new) for index, (old, new) in enumerate(rows) if old != new)

    # -- what counts as one ------------------------------------------------------------------------------------------

    def home(self, config: Config) -> Config:
        """Give the configuration that stands for all that this one leads into without a trace, and that lead back."""
        if not config.powered:
            return config
        home = self.here(kernel_of(config)).home[self.number[config.levels]]
        return config._replace(levels=self.levels[home])

    def between(self, config: Config, levels: tuple[bool, ...]) -> list[Happens]:
        """Give the changes of inputs, one after the other, that lead from a configuration to another way of the inputs
        without a trace."""
        here = self.here(kernel_of(config))
        start, goal = self.number[config.levels], self.number[levels]
        came: dict[int, int] = {start: start}
        waiting = deque([start])
        while goal not in came:
            way = waiting.popleft()
            for number in np.flatnonzero(here.quiet[:, way]).tolist():
                onward = int(self.to[number, way])
                if onward not in came:
                    came[onward] = way
                    waiting.append(onward)
        found: list[Happens] = []
        while goal != start:
            found.append(Happens(levels=self.changes(came[goal], goal)))
            goal = came[goal]
        return found[::-1]

    def after(self, config: Config, what: Happens) -> Config:
        """Give the configuration after something happened, without the levels that nothing reads any more."""
        found = self.engine.lose_power(config) if what.power is False else settled(self.engine, config, what).config
        return found._replace(levels=self.plain(found.levels))

    def plain(self, levels: tuple[bool, ...]) -> tuple[bool, ...]:
        """Give levels without those that nothing reads at any time."""
        rows = zip(self.machine.levels, levels, self._read, strict=True)
        return tuple(value if read else level.at_rest for level, value, read in rows)

    def here(self, kernel: Kernel) -> Here:
        """Give what may happen in a kernel."""
        found = self._here.get(kernel)
        if found is None:
            found = self._here[kernel] = self._look(kernel)
        return found

    def standing(self, kernel: Kernel) -> Standing:
        """Give a kernel with every way of the inputs."""
        places, running, full = kernel
        timings = range(len(self.machine.timings))
        return Standing(
            self.words,
            tuple(
                tuple(YES if p == place else NO for p in range(len(region.places)))
                for region, place in zip(self.machine.regions, places, strict=True)
            ),
            tuple(YES if running >> t & 1 else NO for t in timings),
            tuple(YES if full >> t & 1 else NO for t in timings),
        )

    def ends(self, kernel: Kernel) -> tuple[End, ...]:
        """Give what may be over in a kernel: timings, and of each count an event that is too old."""
        places, running, _ = kernel
        timings = (End(timing) for timing in self._timings if running >> timing & 1)
        counts = (End(row.timings[0], row.index) for row in self._counts if places[row.index])
        return (*timings, *counts)

    def kernel_from(self, state: Sequence[bool]) -> Kernel:
        """Give the kernel of the columns of a ``Standing``."""
        values = iter(state)
        places = tuple([next(values) for _ in region.places].index(True) for region in self.machine.regions)
        timings = range(len(self.machine.timings))
        running = sum(1 << t for t in timings if next(values))
        return places, running, sum(1 << t for t in timings if next(values))

    def _look(self, kernel: Kernel) -> Here:
        number, same = len(self.inputs), np.arange(len(self.levels))
        if not number:
            return Here(same, np.zeros((0, 1), dtype=bool))
        standing = self.standing(kernel)
        done = self.many.settle(standing, self.levels_after(self.to), causes=False)
        none = silent(standing, done) & ~done.refused
        for before, after in zip(self.many.sped_up(standing), done.sped, strict=True):
            # How fast timings run is a trace as well.
            none = none & ~(before ^ after) if self.sped_up else none & ~(before | after)
        there = unpacked(none, len(self.levels), (number, self.width)) & (self.to != same)
        quiet = np.array([there[n] & there[back, self.to[n]] for n, back in enumerate(self._back)])
        home = same
        while True:
            least = home
            for index in range(number):
                least = np.where(quiet[index], np.minimum(least, least[self.to[index]]), least)
            if (least == home).all():
                return Here(home, quiet)
            home = least


def folds_of(engine: Engine, sped_up: bool, timed: Iterable[int] | None) -> Folds | None:
    """Fold a machine; None if it cannot be, with these timings followed."""
    return Folds(engine, sped_up) if Folds.serves(engine, timed) else None


def kernel_of(config: Config) -> Kernel:
    """Give the kernel of a configuration."""
    return config.places, config.running, config.full


def silent(before: Standing, done: Done) -> Bits:
    """Tell where an instant did nothing but change levels."""
    did: Bits = NO
    for old, new in zip(before.columns(), done.standing.columns(), strict=True):
        did = did | (old ^ new)
    for table in done.tables():
        did = did | any_of(table.values())
    return ~(did | any_of(done.commands.values()))

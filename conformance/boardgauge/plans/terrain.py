"""Where a good board can go, no length followed: the map on which it is looked up how far it is to where a fault acts.

Law of this module: the map is of the good board alone, so one serves every fault. A faulty board that stands just like
the good one goes its ways, but for those on which its fault acts.
"""

from __future__ import annotations

from collections.abc import Callable

from attrs import define, field

from boardgauge.machine.config import Config
from boardgauge.machine.explore import Exploration, Step
from boardgauge.machine.input_ways import levels_read
from boardgauge.machine.logic import facts_of
from boardgauge.machine.quick import QuickEngine
from boardgauge.machine.table import Machine, Timing
from boardgauge.pairing.stepping import Standing, Stepper
from boardgauge.plans.hand import OFF_FOR, Hand
from boardgauge.plans.instants import Instants
from boardgauge.plans.side import Instant

Alike = Callable[[Config], Config | None]


@define(eq=False)
class Terrain:
    """The map of one good board. ``places`` are numbered in the order in which they are reached.

    ``onward`` has for each place the steps from it, each with where it leads and about how long it takes,
    ``back`` for each place those from which a step leads to it.
    """

    engine: QuickEngine
    hand: Hand
    instants: Instants
    explored: Exploration
    """What exploring its machine came to."""
    places: tuple[Config, ...] = field(init=False)
    number: dict[Config, int] = field(init=False)
    onward: list[list[tuple[Step, int, int]]] = field(init=False)
    back: list[list[tuple[int, int]]] = field(init=False)
    complete: bool = field(init=False)
    read: tuple[bool, ...] = field(init=False)
    """Which levels anything but a setting or a speed-up reads."""

    _steps: dict[int, list[tuple[Step, int, int, int]]] = field(factory=dict)
    _over: list[list[tuple[int, Step, int]]] = field(init=False)
    """For each place what may be over by itself next, one thing alone, and where that leads."""
    _stepper: Stepper = field(init=False)

    def __attrs_post_init__(self) -> None:
        found = self.explored
        self.places, self.complete = found.configs, found.complete
        self.read = levels_read(self.engine.machine)
        self.number = {config: number for number, config in enumerate(found.configs)}
        self.onward = [[] for _ in found.configs]
        self.back = [[] for _ in found.configs]
        self._over = [[] for _ in found.configs]
        self._stepper = Stepper(self.engine, "nominal")
        for edge in found.edges:
            cost = self._cost(edge.step)
            self.onward[edge.source].append((edge.step, edge.target, cost))
            self.back[edge.target].append((edge.source, cost))
            if edge.step.power is None and len(ends := _over(edge.step)) == 1:
                self._over[edge.source].append((ends[0], edge.step, edge.target))

    def steps(self, place: int) -> list[tuple[Step, int, int, int]]:
        """Give the steps from a place: each with where it leads, how long it takes, and the number of its instant.

        The supply goes away in no instant (-1).
        """
        found = self._steps.get(place)
        if found is None:
            rows = self.onward[place]
            found = self._steps[place] = [(*row, self._instant(self.places[place], *row[:2])) for row in rows]
        return found

    def sooner(self, place: int, standing: Standing, time: int, times: Callable[[Step, int], int | None]) -> int:
        """Give what is left of a ``time`` that is reckoned from a place, where boards have stood in it for a while.

        What is over next may have come far by now. ``times`` gives the time from where a step leads.
        """
        for end, step, target in self._over[place]:
            onward = times(step, target)
            if onward is not None and onward < time:
                for row in standing.left:
                    if end == (row.timing if row.region < 0 else ~row.region):
                        left = -(-row.board // self._stepper.rate(standing.config, row.timing)) + row.real
                        time = min(time, left + onward)
        return time

    def _instant(self, before: Config, step: Step, target: int) -> int:
        if step.power is False:
            return -1
        return self.instants.number(Instant.of_step(before, step, self.places[target]))

    def _cost(self, step: Step) -> int:
        machine, hand = self.engine.machine, self.hand
        if step.power is not None:
            return OFF_FOR + hand.switched_on() if step.power else 0
        ends = [*step.expired, *(machine.regions[region].timings[0] for region in step.dropped)]
        times = [least_of(machine.timings[index]) for index in ends]
        times += [hand.settling(machine.levels[index].input) for index, _ in step.levels]
        return max(times, default=0)


def _over(step: Step) -> list[int]:
    """Give what is over in a step: timings, and the counts of which an event is too old as ``~region``."""
    return [*step.expired, *(~region for region in step.dropped)] if not step.levels else []


def stepped(engine: QuickEngine, config: Config, step: Step) -> Config:
    """Give a configuration after a step. Raises CannotSettle."""
    if step.power is False:
        return engine.lose_power(config)
    facts = facts_of(step.expired, step.power is True)
    return engine.work_out(config, step.levels_from(config.levels), facts, step.dropped).config


def least_of(timing: Timing) -> int:
    """Give how long a timing lasts at least, at nominal times, wherever its setting stands."""
    return min(duration.nominal for duration in timing.choices)


def alike(good: Machine, faulty: Machine) -> Alike | None:
    """Give what a faulty board is in when it stands just like the good one, from what that is in.

    None where the boards cannot be compared so: the faulty one lacks a rule or a timing, or reads its inputs otherwise.
    It may have more of them; these stand still then.
    """
    if [(row.input, row.comparison) for row in good.levels] != [(row.input, row.comparison) for row in faulty.levels]:
        return None
    timings = {key: row.index for key, row in zip(_keys(faulty), faulty.timings, strict=True)}
    regions = {row.rule: row for row in faulty.regions}
    keys = _keys(good)
    if not timings.keys() >= set(keys):
        return None
    for row in good.regions:
        its = regions.get(row.rule)
        if its is None or its.kind != row.kind or (row.kind == "sequence" and its.places != row.places):
            return None
    bits = [(index, 1 << timings[key]) for index, key in enumerate(keys)]
    to = [(row.index, regions[row.rule].index, len(regions[row.rule].places)) for row in good.regions]
    still = [0] * len(faulty.regions)

    def moved(running: int) -> int:
        return sum(bit for index, bit in bits if running >> index & 1) if running else 0

    def stands(config: Config) -> Config | None:
        places = list(still)
        for mine, its, many in to:
            if config.places[mine] >= many:
                return None
            places[its] = config.places[mine]
        return config._replace(places=tuple(places), running=moved(config.running), full=moved(config.full))

    return stands


def _keys(machine: Machine) -> list[tuple[str, str, int]]:
    """Give what tells the timings of a machine apart: name, role, and which of those that share them."""
    named = [(row.name, row.role) for row in machine.timings]
    return [(*name, named[:index].count(name)) for index, name in enumerate(named)]

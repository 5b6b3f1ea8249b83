"""Explore a machine without time: every configuration it can be in, and how it gets from one to the next.

Law of this module: inputs may do anything and any timing that runs may end; nothing here knows how long. So what is
found is all that a board can do, and some that no choice of durations allows. One cause at a time is explored, and on
request every two at once. Where a bound was hit the result says so. The order of declaration never matters.

What only lengthens or shortens (settings, speed-ups) and what only watches (requirements, stretches not judged) is left
out: levels that nothing else reads stay at rest, and settings at their first position.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Sequence
from itertools import combinations, product

from attrs import define, field, frozen

from boardgauge.machine.config import Config, Outcome
from boardgauge.machine.input_ways import Ways, levels_read, ways_of_inputs
from boardgauge.machine.logic import facts_of
from boardgauge.machine.picture import CannotSettle
from boardgauge.machine.quick import QuickEngine
from boardgauge.machine.settle import Engine
from boardgauge.machine.table import Machine

MOST_CONFIGS = 50_000
"""How many configurations are kept before exploring stops, unless the caller says otherwise."""

_MOST_COMBINATIONS = 4096


@frozen
class Step:
    """What happens at one moment: inputs change, timings end, an event of a count is too old, the supply comes or goes.

    ``levels`` are (index, new value); ``expired`` timings and ``dropped`` count regions, both by index, rising.
    """

    levels: tuple[tuple[int, bool], ...] = ()
    expired: tuple[int, ...] = ()
    dropped: tuple[int, ...] = ()
    power: bool | None = None

    def levels_from(self, levels: Sequence[bool]) -> tuple[bool, ...]:
        """Give the levels after it, from those before it."""
        found = list(levels)
        for index, value in self.levels:
            found[index] = value
        return tuple(found)

    def with_(self, other: Step) -> Step:
        """Give both steps at one moment."""
        return Step(
            tuple(sorted(self.levels + other.levels)),
            tuple(sorted(self.expired + other.expired)),
            tuple(sorted(self.dropped + other.dropped)),
        )


POWER_LOSS = Step(power=False)


@frozen
class Edge:
    """One step of the exploration, from a configuration to another (numbers count into ``Exploration.configs``)."""

    source: int
    step: Step
    target: int


@frozen
class Finding:
    """A spec that does not come to rest: why, the shortest way there from a board without power, and which rules."""

    reason: str
    scenario: tuple[Step, ...]
    rules: tuple[str, ...] = ()


@frozen
class Exploration:
    """What was explored. ``complete``: no bound was hit, and every configuration reachable by single causes is here."""

    configs: tuple[Config, ...]
    edges: tuple[Edge, ...]
    findings: tuple[Finding, ...]
    complete: bool
    together: bool


@frozen
class Reach:
    """The configurations that can be reached; ``read`` tells of each level whether anything but a watch reads it."""

    configs: tuple[Config, ...]
    complete: bool
    read: tuple[bool, ...]
    findings: tuple[Finding, ...] = ()

    def having(self, levels: tuple[bool, ...]) -> tuple[Config, ...]:
        """Give the powered configurations with these inputs, written with all of ``levels``.

        Settings stand at their first position and no hidden timing runs: whoever asks sets those as they may be.
        """
        return tuple(
            config._replace(levels=levels)
            for config in self.configs
            if config.powered
            and all(a == b for a, b, read in zip(config.levels, levels, self.read, strict=True) if read)
        )


def reachable(engine: Engine, *, together: bool = False, limit: int = MOST_CONFIGS) -> Reach:
    """Give every configuration the machine of an engine can be in, whatever its inputs do.

    ``together``: take every two causes at one moment as well (slower). ``limit``: the most configurations kept.
    """
    found = _Explorer(engine.machine, together, limit, keep_edges=False).explore()
    return Reach(found.configs, found.complete, levels_read(engine.machine), found.findings)


def explore(machine: Machine, *, together: bool = False, limit: int = MOST_CONFIGS) -> Exploration:
    """Explore a machine: its configurations, the steps between them, and where it does not come to rest."""
    return _Explorer(machine, together, limit, keep_edges=True).explore()


def hidden_timings(machine: Machine) -> int:
    """Give the bits of the timings that only watch: those of requirements and of stretches not judged."""
    return sum(
        1 << row.index
        for row in machine.timings
        if row.role in {"requirement", "not judged"} or row.owner in machine.board.requirements
    )


# -- exploring -----------------------------------------------------------------------------------------------------


class _Stepper(QuickEngine):
    """A quick engine that remembers no outcomes: each is needed once."""

    def settle(
        self,
        config: Config,
        levels: tuple[bool, ...] | None = None,
        expired: tuple[int, ...] = (),
        dropped: tuple[int, ...] = (),
        power_up: bool = False,
    ) -> Outcome:
        return self.work_out(config, config.levels if levels is None else levels, facts_of(expired, power_up), dropped)


@define
class _Explorer:
    machine: Machine
    together: bool
    limit: int
    keep_edges: bool
    numbers: dict[Config, int] = field(factory=dict)
    reached_by: list[tuple[int, Step] | None] = field(factory=list)
    edges: list[Edge] = field(factory=list)
    findings: dict[str, Finding] = field(factory=dict)
    queue: deque[Config] = field(factory=deque)
    whole: bool = True
    engine: _Stepper = field(init=False)
    _ways: Ways = field(init=False)
    _input_of: dict[int, int] = field(init=False)
    _hidden: int = field(init=False)
    _timings: list[int] = field(init=False)
    _counts: list[int] = field(init=False)
    _first: tuple[int, ...] = field(init=False)
    _power_ups: tuple[Step, ...] = field(init=False)

    def explore(self) -> Exploration:
        off = self._plain(self.engine.off())
        self._number(off, None)
        self.queue.append(off)
        while self.queue:
            config = self.queue.popleft()
            steps = list(self._steps(config))
            for step in steps:
                self._take(config, step)
            if self.together and config.powered:
                for one, other in combinations(steps, 2):
                    if one.power is None and other.power is None and not _same_input(one, other, self._input_of):
                        self._take(config, one.with_(other))
        return Exploration(
            tuple(self.numbers), tuple(self.edges), tuple(self.findings.values()), self.whole, self.together
        )

    def __attrs_post_init__(self) -> None:
        machine = self.machine
        self.engine = _Stepper(machine)
        self._ways = ways_of_inputs(machine)
        self._input_of = {index: levels[0] for levels, _ in self._ways for index in levels}
        self._hidden = hidden_timings(machine)
        windows = {t for region in machine.regions if region.kind == "count" for t in region.timings}
        self._timings = sorted(
            (row.index for row in machine.timings if not self._hidden >> row.index & 1 and row.index not in windows),
            key=lambda index: (machine.timings[index].name, machine.timings[index].role),
        )
        self._counts = sorted(
            (region.index for region in machine.regions if region.kind == "count" and region.timings),
            key=lambda index: machine.regions[index].rule,
        )
        self._first = self.engine.off().settings
        self._power_ups = tuple(self._all_power_ups())

    def _all_power_ups(self) -> Iterator[Step]:
        count = 1
        for _, values in self._ways:
            count *= len(values)
        if count <= _MOST_COMBINATIONS:
            for chosen in product(*(values for _, values in self._ways)):
                pairs = [
                    (index, value)
                    for (indices, _), taken in zip(self._ways, chosen, strict=True)
                    for index, value in zip(indices, taken, strict=True)
                ]
                yield Step(tuple(sorted(pairs)), power=True)
            return
        self.whole = False
        yield Step(power=True)
        for indices, all_values in self._ways:
            for one in all_values:
                yield Step(tuple(sorted(zip(indices, one, strict=True))), power=True)

    def _steps(self, config: Config) -> Iterator[Step]:
        if not config.powered:
            yield from self._power_ups
            return
        for indices, all_values in self._ways:
            now = tuple(config.levels[index] for index in indices)
            for values in all_values:
                if values != now:
                    pairs = [(i, new) for i, old, new in zip(indices, now, values, strict=True) if old != new]
                    yield Step(tuple(sorted(pairs)))
        for timing in self._timings:
            if config.running >> timing & 1:
                yield Step(expired=(timing,))
        for region in self._counts:
            if config.places[region]:
                yield Step(dropped=(region,))
        yield POWER_LOSS

    def _take(self, config: Config, step: Step) -> None:
        try:
            after = self._after(config, step)
        except CannotSettle as refusal:
            reason = str(refusal)
            if reason not in self.findings:
                self.findings[reason] = Finding(reason, (*self._way_to(config), step), refusal.rules)
            return
        target = self._plain(after)
        number = self.numbers.get(target)
        source = self.numbers[config]
        if number is None:
            if len(self.numbers) >= self.limit:
                self.whole = False
                return
            number = self._number(target, (source, step))
            self.queue.append(target)
        if self.keep_edges:
            self.edges.append(Edge(source, step, number))

    def _after(self, config: Config, step: Step) -> Config:
        if step.power is False:
            return self.engine.lose_power(config)
        levels = step.levels_from(config.levels)
        return self.engine.settle(config, levels, step.expired, step.dropped, step.power is True).config

    def _plain(self, config: Config) -> Config:
        """Leave out what no rule reads."""
        return config._replace(
            running=config.running & ~self._hidden,
            full=config.full & ~self._hidden,
            settings=self._first,
            chosen=self.engine.settings.nothing_chosen,
        )

    def _number(self, config: Config, by: tuple[int, Step] | None) -> int:
        self.numbers[config] = len(self.reached_by)
        self.reached_by.append(by)
        return len(self.reached_by) - 1

    def _way_to(self, config: Config) -> tuple[Step, ...]:
        way: list[Step] = []
        by = self.reached_by[self.numbers[config]]
        while by is not None:
            number, step = by
            way.append(step)
            by = self.reached_by[number]
        return tuple(reversed(way))


def _same_input(one: Step, other: Step, input_of: dict[int, int]) -> bool:
    return bool({input_of[i] for i, _ in one.levels} & {input_of[i] for i, _ in other.levels})

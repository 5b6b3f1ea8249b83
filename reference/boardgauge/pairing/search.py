"""Look for scenarios on which two boards may be told apart, the shortest first.

Law of this module: it goes through what a person can do at the bench (switch on, change one input, wait until something
runs out on either board, switch off and on) with both boards side by side, fewest steps first, then least time. What it
finds are candidates. Not finding any proves nothing.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Iterator
from itertools import count

from attrs import define, field, frozen

from boardgauge.machine.picture import CannotSettle
from boardgauge.machine.run import Value
from boardgauge.machine.scenario import Power, Scenario, ScenarioStep, SetInputs, Wait, with_waits_joined
from boardgauge.pairing.pair import Pair
from boardgauge.pairing.stepping import Length, Standing, Stepper

S = 1_000_000
OFF_FOR = 3 * S
MOST_STATES = 2_000


@frozen
class Candidate:
    """A scenario in the first board's words, on whose way the two showed differently, or ``wanted`` came about."""

    scenario: Scenario
    differ: tuple[str, ...]
    steps: int
    time: int
    running: int
    """How long a wait came before the difference (microseconds)."""


@frozen
class _Both:
    first: Standing
    second: Standing
    levels: tuple[bool, ...]


@define(eq=False)
class _Node:
    both: _Both
    steps: int
    time: int
    parent: _Node | None
    done: tuple[ScenarioStep, ...]
    differ: tuple[str, ...] = ()
    waited: int = 0


Wanted = Callable[[frozenset[str], frozenset[str]], bool]
"""Asked of every step: (inputs changed in it, outputs and lamps that then changed on the second board)."""


@define
class Search:
    """One search. ``wanted`` asks for ways on which something comes about, in place of a difference."""

    pair: Pair
    length: Length = "nominal"
    positions: dict[str, str] = field(factory=dict)
    most: int = MOST_STATES
    wanted: Wanted | None = None
    of_a_kind: int = 1
    """So many states that differ only in how long things have run are gone on from."""
    all_inputs: bool = False
    """Also change inputs that only settings and speed-ups read."""
    explored: int = 0
    _first: Stepper = field(init=False)
    _second: Stepper = field(init=False)
    _gap: int = field(init=False)
    _values: dict[str, tuple[Value, ...]] = field(init=False)

    def __attrs_post_init__(self) -> None:
        self._first = Stepper(self.pair.first, self.length, self.positions)
        self._second = Stepper(self.pair.second, self.length, self.positions)
        read = {self.pair.levels[index].input for indices, _ in self.pair.ways() for index in indices}
        self._values = {n: v for n, v in self.pair.values().items() if self.all_inputs or n in read}
        boards = (self.pair.first.machine.board, self.pair.second.machine.board)
        rows = [row for board in boards for row in board.inputs.values()]
        least = max([0, *(row.filter.greatest for row in rows), *(row.responds_within for row in rows)])
        least += max(board.same_moment for board in boards)
        self._gap = -(-(least + S) // S) * S

    def candidates(self) -> Iterator[Candidate]:
        """Give candidates, the shortest first, until there is nothing left or the bound is reached."""
        order = count()
        heap: list[tuple[int, int, int, _Node]] = []
        met: dict[object, int] = {}
        known: set[_Both] = set()
        for node in self._starts():
            heapq.heappush(heap, (node.steps, node.time, next(order), node))
        while heap and self.explored < self.most:
            node = heapq.heappop(heap)[3]
            if node.differ:
                yield self._candidate(node)
            if node.both in known:
                continue
            known.add(node.both)
            kind = (node.both.first.config, node.both.second.config)
            met[kind] = met.get(kind, 0) + 1
            if met[kind] > self.of_a_kind:
                continue
            self.explored += 1
            for after in self._onward(node):
                if after.differ or after.both not in known:
                    heapq.heappush(heap, (after.steps, after.time, next(order), after))

    # -- steps -------------------------------------------------------------------------------------------------------

    def _starts(self) -> Iterator[_Node]:
        rest = self.pair.at_rest()
        off = _Both(self._first.off(), self._second.off(), rest)
        sensors = {n: v for n, v in self.pair.values().items() if not isinstance(v[0], bool)}
        begin: dict[str, Value] = {**self.pair.held, **{n: sorted(v)[len(v) // 2] for n, v in sensors.items()}}
        ways: list[dict[str, Value]] = [{}]
        ways += [{name: value} for name, values in self._values.items() for value in values]
        for way in ways:
            levels = list(rest)
            for name, value in {**begin, **way}.items():
                for index, new in self.pair.reads(name, value, rest):
                    levels[index] = new
            start = {**begin, **way}
            node = _Node(off, 0, 0, None, (SetInputs(start),) if start else ())
            try:
                yield self._switched_on(node, tuple(levels), (Wait(S), Power(True)), 1 if not way else 2, S)
            except CannotSettle:
                continue

    def _onward(self, node: _Node) -> Iterator[_Node]:
        both = node.both
        ends = (self._first.next_end(both.first), self._second.next_end(both.second))
        wait = min((end for end in ends if end is not None), default=None)
        try:
            if wait is not None:
                yield self._gone_on(node, both, wait + self._gap, (Wait(wait + self._gap),), 1, waited=wait)
            yield self._switched_on(
                node,
                both.levels,
                (Power(False), Wait(OFF_FOR), Power(True)),
                3,
                OFF_FOR,
                _Both(self._first.without_power(both.first), self._second.without_power(both.second), both.levels),
            )
        except CannotSettle:
            pass
        for name, values in self._values.items():
            for value in values:
                changes = self.pair.reads(name, value, both.levels)
                levels = list(both.levels)
                for index, new in changes:
                    levels[index] = new
                if tuple(levels) == both.levels:
                    continue
                now = _Both(both.first, both.second, tuple(levels))
                try:
                    yield self._gone_on(node, now, self._gap, (SetInputs({name: value}), Wait(self._gap)), 2, name)
                except CannotSettle:
                    continue

    def _switched_on(
        self,
        node: _Node,
        levels: tuple[bool, ...],
        done: tuple[ScenarioStep, ...],
        steps: int,
        time: int,
        both: _Both | None = None,
    ) -> _Node:
        both = both or node.both
        parts = self.pair.parts(levels)
        first, _ = self._first.instant(both.first, parts[0], True)
        second, _ = self._second.instant(both.second, parts[1], True)
        now = _Both(first, second, levels)
        after = self._gone_on(node, now, self._gap, (*done, Wait(self._gap)), steps)
        after.time += time
        return after

    def _gone_on(
        self,
        node: _Node,
        both: _Both,
        time: int,
        done: tuple[ScenarioStep, ...],
        steps: int,
        name: str = "",
        waited: int = 0,
    ) -> _Node:
        """Take both through a stretch of time, and note where they show differently."""
        parts = self.pair.parts(both.levels)
        differ: tuple[str, ...] = ()
        changed: set[str] = set()
        first, second = both.first, both.second
        left, turns = time, 0
        before = self.pair.shows(self.pair.second, node.both.second.config)
        while True:
            first, _ = self._first.instant(first, parts[0])
            second, _ = self._second.instant(second, parts[1])
            ends = [end for end in (self._first.next_end(first), self._second.next_end(second)) if end is not None]
            step = min([left, *ends])
            if step:
                differ = differ or self.pair.differ(first.config, second.config)
                shows = self.pair.shows(self.pair.second, second.config)
                names = (*self.pair.outputs, *self.pair.lamps)
                changed |= {n for n, a, b in zip(names, before, shows, strict=True) if a != b}
                before = shows
            if left == 0 and (not ends or min(ends) > 0):
                break
            turns = turns + 1 if step == 0 else 0
            if turns > 100:
                raise CannotSettle("the timings keep ending without any time passing")
            first, second, left = self._first.after(first, step), self._second.after(second, step), left - step
        if self.wanted is not None:
            told = self.wanted(frozenset([name] if name else []), frozenset(changed))
            differ = tuple(sorted(changed)) if told else ()
        after = _Both(first, second, both.levels)
        return _Node(after, node.steps + steps, node.time + time, node, done, differ, waited)

    # -- scenarios ---------------------------------------------------------------------------------------------------

    def _candidate(self, node: _Node) -> Candidate:
        done: list[ScenarioStep] = []
        at: _Node | None = node
        while at is not None:
            done = [*at.done, *done]
            at = at.parent
        start: dict[str, Value] = {}
        if isinstance(done[0], SetInputs):
            start = dict(done[0].values)
            done = done[1:]
        scenario = Scenario(self.pair.first.machine.board.id, "", with_waits_joined(done), start, dict(self.positions))
        return Candidate(scenario, node.differ, node.steps, node.time, node.waited)

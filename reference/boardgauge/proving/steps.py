"""What may happen in a place of an exploration, and how long its clocks may then have run.

Law of this module: a clock that is due where it would be part of an instant is part of it, or not yet due.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import product

from attrs import define, field

from boardgauge.machine.config import Outcome
from boardgauge.machine.input_ways import levels_watched, ways_together
from boardgauge.machine.settle import Engine
from boardgauge.proving.at_one_moment import Moments, moments_of_all
from boardgauge.proving.beginnings import Levels, power_ups
from boardgauge.proving.clockwork import Node, Sources
from boardgauge.proving.folded_steps import FoldedSteps
from boardgauge.proving.folding import Folds, kernel_of
from boardgauge.proving.noticing import Noticing
from boardgauge.proving.space import Step
from boardgauge.proving.together import End, Happens, Moment, Together, clocks_of, ends_of, settled


@define
class Steps:
    """Finds the steps of a machine with the timings ``followed`` that have a clock; folded, if it has ``folds``.

    ``all_power_ups`` tells whether every way to switch it on is looked at.
    """

    engine: Engine
    followed: frozenset[int]
    folds: Folds | None
    noticing: Noticing | None = None
    all_power_ups: bool = field(init=False)
    _together: Together = field(init=False)
    _instants: Moments | None = field(init=False)
    _power_ups: list[Levels] = field(init=False)
    _folded: FoldedSteps | None = field(init=False)

    def __attrs_post_init__(self) -> None:
        machine = self.engine.machine
        self._folded = None if self.folds is None else FoldedSteps(self.folds, self.followed, self.noticing)
        always, first = levels_watched(machine)
        self._together = Together(self.engine, ways_together(machine, always))
        self._instants = None if self._folded is not None else moments_of_all(self.engine)
        either = tuple(a or b for a, b in zip(always, first, strict=True))
        self._power_ups, self.all_power_ups = power_ups(ways_together(machine, either))

    def of(self, node: Node) -> list[Step]:
        """Give what may happen to a node."""
        if not node.config.powered:
            rows: list[Moment] = [(Happens(levels, power=True), frozenset()) for levels in self._power_ups]
        elif self._folded is not None:
            return list(self._folded_steps(node, self._folded))
        else:
            rows = self._unfolded(node)
        ends = list(ends_of(node))
        steps = []
        for happens, beside in rows:
            most = []
            for clock, end in zip(node.clocks, ends, strict=True):
                # Were this one due now, it would be part of the instant; where that is the same, it may come next.
                most.append(clock.most - 1 if end in beside else clock.most)
            steps.append(Step(happens, clocks_of(node, happens), tuple(most)))
        return steps

    def outcome(self, node: Node, step: Step) -> Outcome:
        """Give what a step does: of a folded one all that the next node and what is looked for hang on. Raises
        CannotSettle."""
        if self._folded is not None and step.before is not None:
            return self._folded.outcome(step.before, step.what, step.does, step.home)
        return settled(self.engine, node.config, step.what)

    @property
    def whole(self) -> bool:
        """Whether all that may happen was looked at so far: every way to switch on, and all of every moment."""
        folded = self._folded is None or self._folded.whole
        return self.all_power_ups and folded and self._together.whole

    def _unfolded(self, node: Node) -> list[Moment]:
        """Give what may happen to a node, from all instants of its kernel if they can be looked at."""
        instants, kernel = self._instants, kernel_of(node.config)
        if instants is None or not instants.serves(kernel):
            return self._together.moments(node)
        ends = list(ends_of(node))
        return [
            (what._replace(over=over), frozenset(end for end in ends if end[:2] in beside and end not in over))
            for what, beside in instants.of(kernel, node.config.levels)
            for over in _each_window(what.over, ends)
        ]

    def _folded_steps(self, node: Node, folded: FoldedSteps) -> Iterator[Step]:
        ends = list(ends_of(node))
        for step in folded.steps(node.config):
            what, beside, to = step.what, step.beside, step.to
            before = node.config._replace(levels=step.levels)
            if not self.followed:
                # There is no clock to ask for what an instant did to it.
                outcome = Outcome(to, (), (), (), (), (), (), step.broken, (), (), 1)
                yield Step(what, (), (), outcome, (Node(to), Sources()), before, step.noted)
                continue
            for over in _each_window(what.over, ends):
                most = [
                    clock.most - 1 if end not in over and (end.timing, end.region) in beside else clock.most
                    for clock, end in zip(node.clocks, ends, strict=True)
                ]
                happens = what._replace(over=over)
                gone = clocks_of(node, happens)
                yield Step(happens, gone, tuple(most), None, None, before, step.noted, step.does, to.levels)


def _each_window(over: tuple[End, ...], ends: Sequence[End]) -> Iterator[tuple[End, ...]]:
    """Of a count that has several events with a clock each, any may be too old: give each choice."""
    choices = []
    for end in over:
        mine = [other for other in ends if other[:2] == end[:2]]
        choices.append(mine or [end])
    for chosen in product(*choices):
        yield tuple(sorted(chosen))

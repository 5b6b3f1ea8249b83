"""A scenario tried: one board does it, the other's spec judges.

Law of this module: what it gives was judged to deviate, beyond doubt, from a recording true to the microsecond.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from attrs import define, evolve, field, frozen

from boardgauge.judging.judge import Judge
from boardgauge.judging.judgement import Deviation
from boardgauge.language.model import Board
from boardgauge.machine.chance import Timings
from boardgauge.machine.compile import compile_board
from boardgauge.machine.picture import CannotSettle
from boardgauge.machine.run import Edges, Run, Value
from boardgauge.machine.scenario import Scenario, ScenarioStep, ScenarioStuck, SetInputs, Wait, play
from boardgauge.machine.settle import Engine
from boardgauge.pairing.search import Candidate
from boardgauge.traces.conditioning import condition
from boardgauge.traces.simulated import recording_of
from boardgauge.traces.wiring import default_wiring

S = 1_000_000
LENGTHS: tuple[Timings, ...] = ("nominal", "earliest", "latest")


@frozen
class Telling:
    """A scenario on which a bench can tell two boards apart.

    ``does`` ("first" or "second") is the board that did it, at the times ``timings``; the other's spec was broken, and
    ``deviation`` says how. ``always``: it was broken at nominal, earliest and latest times alike.
    """

    scenario: Scenario
    does: str
    timings: Timings
    deviation: Deviation
    run: Run = field(repr=False)
    steps: int
    always: bool


@define
class Bench:
    """Tries scenarios on two boards that call their shared terminals the same. ``held`` inputs stand still."""

    first: Board
    second: Board
    one_way: bool
    held: Mapping[str, Value] = field(factory=dict)
    tried: int = 0
    _engines: tuple[Engine, Engine] = field(init=False)
    _judges: tuple[Judge, Judge] = field(init=False)

    def __attrs_post_init__(self) -> None:
        machines = (compile_board(self.first), compile_board(self.second))
        self._engines = (Engine(machines[0]), Engine(machines[1]))
        self._judges = (Judge(self._engines[0]), Judge(self._engines[1]))

    def tell(self, candidate: Candidate) -> Telling | None:
        """Try a candidate; None if neither spec is broken."""
        for tail in (5 * S + candidate.running // 5, 60 * S + candidate.running):
            scenario = _longer(candidate.scenario, tail)
            for does in (1,) if self.one_way else (1, 0):
                found = {length: self._try(scenario, does, length) for length in LENGTHS}
                broken = [(length, row) for length, row in found.items() if row is not None]
                if broken:
                    length, (run, deviation) = broken[0]
                    return self._shortened(
                        scenario, does, length, run, deviation, candidate, len(broken) == len(LENGTHS)
                    )
        return None

    def _shortened(
        self,
        scenario: Scenario,
        does: int,
        length: Timings,
        run: Run,
        deviation: Deviation,
        candidate: Candidate,
        always: bool,
    ) -> Telling:
        """Leave off what comes after the deviation, as far as it is still found."""
        last = scenario.steps[-1]
        spare = run.end - deviation.time - S
        if isinstance(last, Wait) and 0 < spare < last.time:
            shorter = evolve(scenario, steps=(*scenario.steps[:-1], Wait(last.time - spare)))
            again = self._try(shorter, does, length)
            if again is not None:
                scenario, (run, deviation) = shorter, again
        words = ("first", "second")
        return Telling(scenario, words[does], length, deviation, run, candidate.steps, always)

    def _try(self, scenario: Scenario, does: int, length: Timings) -> tuple[Run, Deviation] | None:
        """Give what a board did and how it broke the other's spec, None if it did not."""
        self.tried += 1
        doer, other = (self.first, self.second) if does == 0 else (self.second, self.first)
        mine = self.for_board(scenario, doer)
        try:
            run = play(self._engines[does].machine, mine, length, engine=self._engines[does])
        except (ScenarioStuck, CannotSettle):
            return None
        lacking = {name: Edges(value) for name, value in self.held.items() if name not in doer.inputs}
        seen = evolve(run, inputs={**run.inputs, **lacking})
        wiring = evolve(default_wiring(other), settings=dict(self.for_board(scenario, other).positions))
        whole = evolve(doer, inputs={**other.inputs, **doer.inputs})
        judgement = self._judges[1 - does].judge(condition(recording_of(seen, whole, wiring), wiring, other))
        if judgement.verdict != "deviates":
            return None
        return run, judgement.deviations[0]

    @staticmethod
    def for_board(scenario: Scenario, board: Board) -> Scenario:
        """Give the scenario with what concerns a board."""
        positions = {name: place for name, place in scenario.positions.items() if name in board.settings}
        start = {name: value for name, value in scenario.start.items() if name in board.inputs}
        durations = dict(scenario.durations)
        if durations:
            known = {row.name for row in compile_board(board).timings}
            durations = {name: lengths for name, lengths in durations.items() if name in known}
        return evolve(
            scenario,
            board=board.id,
            start=start,
            positions=positions,
            steps=tuple(_own(scenario.steps, board)),
            durations=durations,
        )


def _own(steps: tuple[ScenarioStep, ...], board: Board) -> Iterator[ScenarioStep]:
    for step in steps:
        if isinstance(step, SetInputs):
            values = {name: value for name, value in step.values.items() if name in board.inputs}
            if values:
                yield SetInputs(values)
        else:
            yield step


def _longer(scenario: Scenario, time: int) -> Scenario:
    last = scenario.steps[-1]
    if isinstance(last, Wait):
        return evolve(scenario, steps=(*scenario.steps[:-1], Wait(last.time + time)))
    return evolve(scenario, steps=(*scenario.steps, Wait(time)))

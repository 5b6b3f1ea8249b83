"""A scenario: what somebody does to a board at the bench, step by step.

Law of this module: steps are done in order and take no time but that which they wait. Between two ``until`` steps all
that comes at the terminals is known ahead; an ``until`` goes by what the board does.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Literal

from attrs import field, frozen

from boardgauge.language.expressions import Trigger
from boardgauge.language.model import NOWHERE, Spot
from boardgauge.machine.chance import Timings
from boardgauge.machine.config import Config
from boardgauge.machine.logic import Happens, facts_of
from boardgauge.machine.run import POWER, Entry, Run, Value
from boardgauge.machine.settle import Engine
from boardgauge.machine.simulate import SimulatedBoard, Simulator
from boardgauge.machine.table import Machine
from boardgauge.machine.terminals import TooShort


@frozen
class SetInputs:
    """Bring inputs to values, all at once."""

    values: Mapping[str, Value]
    at: Spot = field(default=NOWHERE, eq=False)


@frozen
class Wait:
    """Wait a time (microseconds)."""

    time: int
    at: Spot = field(default=NOWHERE, eq=False)


@frozen
class Until:
    """Wait until something happens or holds, ``at_most`` a time; ``or_else`` says what then. ``text`` is as written."""

    trigger: Trigger
    text: str
    at_most: int
    or_else: Literal["stop", "go on"] = "stop"
    at: Spot = field(default=NOWHERE, eq=False)


@frozen
class Power:
    """Switch the supply."""

    on: bool
    at: Spot = field(default=NOWHERE, eq=False)


ScenarioStep = SetInputs | Wait | Until | Power


@frozen
class Scenario:
    """A scenario for one board.

    ``start`` has the inputs that do not stand at rest, ``positions`` the settings that a person chooses by name.
    ``durations`` (timing's name -> microseconds) says of some timings how long each lasts, time after time.
    """

    board: str
    title: str
    steps: tuple[ScenarioStep, ...]
    start: Mapping[str, Value] = field(factory=dict)
    positions: Mapping[str, str] = field(factory=dict)
    durations: Mapping[str, tuple[int, ...]] = field(factory=dict)
    at: Spot = field(default=NOWHERE, eq=False)


def with_waits_joined(steps: Iterable[ScenarioStep]) -> tuple[ScenarioStep, ...]:
    """Give steps with waits one after another made one, and waits of no time left out."""
    found: list[ScenarioStep] = []
    for step in steps:
        if isinstance(step, Wait) and found and isinstance(found[-1], Wait):
            found[-1] = Wait(found[-1].time + step.time)
        elif not isinstance(step, Wait) or step.time:
            found.append(step)
    return tuple(found)


class ScenarioStuck(Exception):
    """A scenario cannot go on as written. ``run`` is what the board did until then."""

    def __init__(self, at: Spot, message: str, run: Run) -> None:
        super().__init__(f"{at}: {message}")
        self.at = at
        self.message = message
        self.run = run


def play(
    machine: Machine, scenario: Scenario, timings: Timings = "nominal", seed: int = 0, engine: Engine | None = None
) -> Run:
    """Do a scenario with a simulated board.

    Raises ScenarioStuck where what a step waits for does not come, or an input is changed back sooner than its filter
    lets through after the board acted on it; CannotSettle where the spec does not come to rest.
    """
    board = Simulator(machine, timings, seed, scenario.positions, engine, scenario.durations).board()
    return _Player(board, scenario).play()


class _Player:
    def __init__(self, board: SimulatedBoard, scenario: Scenario) -> None:
        self.board = board
        self.scenario = scenario
        self.time = 0
        self.coming: dict[str, list[tuple[int, Value]]] = {n: [(0, v)] for n, v in scenario.start.items()}

    def play(self) -> Run:
        at = self.scenario.at
        for step in self.scenario.steps:
            at = step.at
            match step:
                case SetInputs(values=values):
                    for name, value in values.items():
                        self.coming.setdefault(name, []).append((self.time, value))
                case Power(on=on):
                    self.coming.setdefault(POWER, []).append((self.time, on))
                case Wait(time=time):
                    self.time += time
                case Until():
                    self._until(step)
        self._go_on(at)
        self.board.advance(self.time)
        return self.board.run()

    def _go_on(self, at: Spot) -> None:
        try:
            self.board.feed(self.coming)
        except TooShort as error:
            raise ScenarioStuck(at, str(error), self.board.run()) from None
        self.coming = {}

    def _until(self, step: Until) -> None:
        engine = self.board.engine
        happens = engine.logic.happens(step.trigger)
        self._go_on(step.at)
        # What the steps just before bring about in this very moment is waited for too.
        self.board.advance(self.time - 1)

        def watch(entry: Entry, before: Config) -> bool:
            return _happened(engine, happens, entry, before)

        found = self.board.advance(self.time, watch) or _holds(engine, happens, self.board.config)
        found = found or self.board.advance(self.time + step.at_most, watch)
        since, self.time = self.time, self.board.now
        if not found and step.or_else == "stop":
            message = (
                f"{step.text!r} did not come within {_seconds(step.at_most)} (waited for from {_seconds(since)} on)"
            )
            raise ScenarioStuck(step.at, message, self.board.run())


def _happened(engine: Engine, happens: Happens, entry: Entry, before: Config) -> bool:
    facts = facts_of(entry.causes.expired, entry.causes.power is True)
    if entry.outcome is None:
        # On loss of power nothing ends; only what holds without power can be seen then.
        return _holds(engine, happens, entry.config)
    return happens(engine.picture(entry.config), engine.picture(before), facts)


def _holds(engine: Engine, happens: Happens, config: Config) -> bool:
    picture = engine.picture(config)
    return happens(picture, picture, 0)


def _seconds(time: int) -> str:
    return f"{time / 1_000_000:g} s"

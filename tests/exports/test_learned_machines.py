"""A Mealy machine learned from the simulated board alone is that built from the compiled machine.

The untimed view: an input is a poke at the bench and a wait until nothing is due any more, an output what then shows.
The learner (L*, of ``aalpy``) knows nothing of specs and machines.
"""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from aalpy.automata import MealyMachine, MealyState
from aalpy.base import SUL
from aalpy.learning_algs import run_Lstar
from aalpy.oracles import WMethodEqOracle
from aalpy.utils import bisimilar

from boardgauge.boards import board_path
from boardgauge.language import read_board, read_board_text
from boardgauge.language.model import Board
from boardgauge.machine.compile import compile_board
from boardgauge.machine.config import Config
from boardgauge.machine.input_ways import ways_of_inputs
from boardgauge.machine.settle import Engine
from boardgauge.machine.simulate import SimulatedBoard, Simulator
from boardgauge.machine.table import Machine

S = 1_000_000
LIGHT = """
language = 1
[board]
id = "corridor"
title = "Corridor light (invented)"
tolerance = "± 5 %"
responds_within = "0.3 s"
[inputs.push]
kind = "button"
[inputs.night]
kind = "signal"
[rules.trips]
kind = "count"
counts = "(push pressed) begins while night"
limit = 2
forgets = "night ends"
[rules.alternate]
kind = "toggle"
flips = "(push pressed) begins while not night"
[rules.wait]
kind = "delay"
begins = "night begins"
lasts = "20 s"
if_begun_again = "starts over"
[rules.shut]
kind = "lockout"
trips = "trips reached"
clears = "not night"
[outputs.left]
on = "alternate and not wait"
[outputs.right]
on = "shut"
[lamps.led]
lines = [
  { when = "shut", shows = "steady" },
  { when = "night", shows = "1 s lit, 1 s dark" },
  { when = "otherwise", shows = "dark" },
]
"""


def pokes_of(machine: Machine) -> dict[str, tuple[str, bool]]:
    found = {}
    for indices, _ in ways_of_inputs(machine):
        (index,) = indices
        for value in (False, True):
            found[f"{machine.levels[index].input} {'on' if value else 'off'}"] = (machine.levels[index].input, value)
    return found | {"power off": ("power", False), "power on": ("power", True)}


def shown(engine: Engine, config: Config) -> str:
    return f"{engine.outputs(config)} {engine.lamp_lines(config)}"


class Bench(SUL):  # type: ignore[misc]  # the library has no types
    """The simulated board as a box with terminals."""

    def __init__(self, engine: Engine) -> None:
        super().__init__()
        self.engine = engine
        self.pokes = pokes_of(engine.machine)
        self.board: SimulatedBoard | None = None
        self.held: dict[str, bool] = {}

    def pre(self) -> None:
        self.board = Simulator(self.engine.machine, "nominal", engine=self.engine).board()
        self.held = {level.input: level.at_rest for level in self.engine.machine.levels} | {"power": False}

    def post(self) -> None:
        self.board = None

    def step(self, letter: str) -> str:
        assert self.board is not None
        name, value = self.pokes[letter]
        if self.held[name] != value:
            self.held[name] = value
            self.board.feed({name: [(self.board.now + S, value)]})
            self.board.advance(self.board.now + 10 * S)
            while (due := self.board.due()) is not None:
                self.board.advance(due)
        return shown(self.engine, self.board.config)


def quiet(engine: Engine, config: Config) -> Config:
    """Let every time that runs end; one after the other, as none of these boards has two that matter at once."""
    while config.powered:
        running = [t.index for t in engine.machine.timings if config.running >> t.index & 1]
        if not running:
            return config
        first = min(running, key=lambda index: engine.machine.timings[index].choices[0].nominal)
        config = engine.settle(config, None, (first,)).config
    return config


def built(engine: Engine) -> MealyMachine:
    """Build the machine from the table: its configurations at rest, and what a poke makes of them."""
    pokes = pokes_of(engine.machine)
    index = {level.input: level.index for level in engine.machine.levels}
    states: dict[Config, MealyState] = {}

    def state(config: Config) -> MealyState:
        if config not in states:
            states[config] = MealyState(f"s{len(states)}")
            waiting.append(config)
        return states[config]

    waiting: list[Config] = []
    start = state(engine.off())
    while waiting:
        config = waiting.pop()
        for letter, (name, value) in pokes.items():
            after = quiet(engine, poked(engine, config, index, name, value))
            states[config].transitions[letter] = state(after)
            states[config].output_fun[letter] = shown(engine, after)
    return MealyMachine(start, list(states.values()))


def poked(engine: Engine, config: Config, index: dict[str, int], name: str, value: bool) -> Config:
    if name == "power":
        if value == config.powered:
            return config
        if value:
            return engine.settle(config, config.levels, power_up=True).config
        return engine.lose_power(config)._replace(levels=config.levels)
    levels = list(config.levels)
    levels[index[name]] = value
    if tuple(levels) == config.levels:
        return config
    if not config.powered:
        return config._replace(levels=tuple(levels))
    return engine.settle(config, tuple(levels)).config


def boards() -> Iterator[Board]:
    yield read_board(board_path("iec-sr"))
    yield read_board(board_path("iec-ton"))
    yield read_board_text(LIGHT, "corridor.toml")


@pytest.mark.parametrize("board", list(boards()), ids=lambda board: board.id)
def test_the_learned_machine_is_the_built_one(board: Board) -> None:
    engine = Engine(compile_board(board))
    bench = Bench(engine)
    letters = list(bench.pokes)
    model = built(engine)
    # Complete up to as many states as the built machine has.
    oracle = WMethodEqOracle(letters, bench, len(model.states))
    learned = run_Lstar(letters, bench, oracle, "mealy", print_level=0)
    assert bisimilar(learned, model)
    assert learned.size > 1


def test_a_machine_with_one_output_changed_is_not_the_learned_one() -> None:
    engine = Engine(compile_board(read_board(board_path("iec-sr"))))
    bench = Bench(engine)
    letters = list(bench.pokes)
    learned = run_Lstar(letters, bench, WMethodEqOracle(letters, bench, 9), "mealy", print_level=0)
    model = built(engine)
    state = model.states[-1]
    state.output_fun[letters[0]] += " and more"
    assert not bisimilar(learned, model)

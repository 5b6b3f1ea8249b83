"""Law: whatever may happen in a place, in any of the ways of the inputs that it stands for, a step of it stands for: to
the same place, with the same done to every clock that is followed, the same broken, and no later than it.
"""

from __future__ import annotations

from collections.abc import Iterator

from hypothesis import given, settings
from hypothesis import strategies as st

from boardgauge.language import read_board_text
from boardgauge.language.model import Board
from boardgauge.machine.compile import compile_board
from boardgauge.machine.config import Config, Outcome
from boardgauge.machine.picture import CannotSettle
from boardgauge.machine.settle import Engine
from boardgauge.proving.clockwork import Node
from boardgauge.proving.folded_steps import FoldedSteps
from boardgauge.proving.folding import Folds, kernel_of
from boardgauge.proving.timed import explore_timed
from boardgauge.proving.together import End as Over
from boardgauge.proving.together import Happens, Together, settled
from proving.drawn import asked

Told = tuple[object, ...]


def told(folds: Folds, followed: frozenset[int], what: Happens, outcome: Outcome, to: Config) -> Told:
    """Give what an instant does, as far as a folded step tells it."""
    regions = folds.machine.regions
    watched = {row.index for row in regions if row.timings and row.timings[0] in followed}
    return (
        folds.home(to),
        frozenset((end.timing, end.region) for end in what.over if end.timing in followed),
        frozenset((timing, cause) for timing, cause in outcome.begun if timing in followed),
        frozenset((region, cause) for region, cause in outcome.counted if region in watched),
        frozenset(outcome.emptied) & watched,
        frozenset(outcome.forgot) & watched,
        outcome.broken,
    )


def members(folds: Folds, config: Config) -> Iterator[Config]:
    """Give every way of the inputs that a place stands for."""
    home = folds.here(kernel_of(config)).home
    for number in (home == home[folds.number[config.levels]]).nonzero()[0].tolist():
        yield config._replace(levels=folds.levels[number])


def check(board: Board, followed: frozenset[int], sped_up: bool, places: int = 25) -> int:
    """Hold the steps of some places against all that may happen in them; give how many things were held."""
    engine = Engine(compile_board(board))
    followed &= frozenset(range(len(engine.machine.timings)))
    folds = Folds(engine, sped_up)
    steps, together = FoldedSteps(folds, followed), Together(engine, folds.ways, 1 << 20)
    space = explore_timed(engine, None, None, places, None, 1, sped_up, frozenset(), folds=folds)
    held = 0
    for place in [row.node.config for row in space.places if row.node.config.powered][:places]:
        there: dict[Told, list[frozenset[tuple[int, int]]]] = {}
        for step in steps.steps(place):
            before = place._replace(levels=step.levels)
            done = settled(engine, before, step.what)
            to = folds.after(before, step.what)
            assert folds.home(to)._replace(settings=(), chosen=()) == step.to._replace(settings=(), chosen=())
            assert done.broken == step.broken
            said = told(folds, followed, step.what, done, to)
            handed = steps.outcome(before, step.what, step.does, step.to.levels)
            assert told(folds, followed, step.what, handed, handed.config) == said
            there.setdefault(said, []).append(step.beside)
        for before in members(folds, place):
            for what, due_too in together.moments(Node(before)):
                try:
                    done = settled(engine, before, what)
                except CannotSettle:
                    continue
                to = folds.after(before, what)
                if not sped_up and any(engine.sped_up(to, row.index) for row in engine.machine.speed_ups):
                    continue
                beside = {(t, r) for t, r, _ in due_too if t in followed}
                said = told(folds, followed, what, done, to)
                nothing = (place, frozenset(), frozenset(), frozenset(), frozenset(), frozenset(), ())
                assert said == nothing or any(found <= beside for found in there.get(said, [])), (before, what)
                held += 1
    return held


@settings(deadline=None, max_examples=settings().max_examples * 3 // 10)
@given(asked(), st.frozensets(st.integers(0, 6)), st.booleans())
def test_every_step_is_stood_for(board: Board, followed: frozenset[int], sped_up: bool) -> None:
    """On drawn boards, whichever timings are followed."""
    check(board, followed, sped_up)


BEAT = """
language = 1
[board]
id = "beat"
title = "A delay that a beat begins again (invented)"
tolerance = "exactly"
[inputs.a]
kind = "call"
[rules.beat]
kind = "delay"
begins = "power_up or beat expires"
lasts = "3 s"
if_begun_again = "starts over"
[rules.held]
kind = "delay"
begins = "beat expires"
lasts = "10 s"
if_begun_again = "starts over"
[outputs.out]
on = "held or a"
"""


def test_what_only_begins_a_clock_again_is_a_step() -> None:
    """The end of a timing that is not followed leads back to where it came from, and sets a followed one to nought."""
    board = read_board_text(BEAT, "beat.toml")
    engine = Engine(compile_board(board))
    held = next(t.index for t in engine.machine.timings if t.name == "held")
    beat = next(t.index for t in engine.machine.timings if t.name == "beat")
    assert check(board, frozenset({held}), False)
    config = settled(engine, engine.off(), Happens(power=True)).config
    config = settled(engine, config, Happens(over=(Over(beat),))).config
    folds = Folds(engine, False)
    steps = FoldedSteps(folds, frozenset({held})).steps(folds.home(config))
    assert any(step.what == Happens(over=(Over(beat),)) and step.to == folds.home(config) for step in steps)

"""Law: of very many instants settled at once each comes out as the engine settles it alone, refusals and causes too."""

from __future__ import annotations

import random
from collections.abc import Sequence
from itertools import product

import numpy as np
import pytest
from attrs import evolve
from hypothesis import given, settings
from hypothesis import strategies as st

from boardgauge.boards import board_path
from boardgauge.language import read_board, read_board_text
from boardgauge.language.model import Board
from boardgauge.machine.compile import compile_board
from boardgauge.machine.config import THE_INSTANT, Cause, Config, Outcome
from boardgauge.machine.input_ways import levels_watched, ways_together
from boardgauge.machine.picture import CannotSettle
from boardgauge.machine.settle import Engine
from boardgauge.proving.many import Done, ManyInstants
from boardgauge.proving.many_pictures import Standing
from boardgauge.proving.words import packed, unpacked
from proving.drawn import asked

Instant = tuple[Config, tuple[bool, ...], tuple[int, ...], tuple[int, ...]]


def instants(engine: Engine, seed: int, number: int) -> list[Instant]:
    """Walk through a machine at random; give the instants met, up to three things in each."""
    chance = random.Random(seed)
    machine = engine.machine
    ways = ways_together(machine, levels_watched(machine)[0])
    windows = {r.timings[0] for r in machine.regions if r.kind == "count" and r.timings}
    counts = [r for r in machine.regions if r.kind == "count" and r.timings]
    found: list[Instant] = []
    config = engine.off()
    while len(found) < number:
        levels = list(config.levels)
        chosen = list(range(len(ways)))
        chance.shuffle(chosen)
        for index in chosen[: chance.choice((0, 1, 1, 2, 3)) if config.powered else len(ways)]:
            for level, value in zip(ways[index][0], chance.choice(ways[index][1]), strict=True):
                levels[level] = value
        if not config.powered:
            try:
                config = engine.settle(config, tuple(levels), power_up=True).config
            except CannotSettle:
                return found
            continue
        running = [t.index for t in machine.timings if config.running >> t.index & 1 and t.index not in windows]
        expired = tuple(sorted(chance.sample(running, min(len(running), chance.choice((0, 0, 1, 1, 2))))))
        kept = [row.index for row in counts if config.places[row.index]]
        dropped = tuple(kept[: chance.choice((0, 0, 1))])
        found.append((config, tuple(levels), expired, dropped))
        try:
            config = engine.settle(*found[-1]).config
        except CannotSettle:
            continue
        if chance.random() < 0.02:
            config = engine.off()
    return found


def at_once(many: ManyInstants, rows: Sequence[Instant]) -> Done:
    """Settle them at once, each a bit."""
    machine = many.machine
    column = lambda told: packed(np.array([told(row) for row in rows], dtype=bool))  # noqa: E731 - a name for a column
    configs = Standing(
        tuple(column(lambda r, i=i: r[0].levels[i]) for i in range(len(machine.levels))),
        tuple(
            tuple(column(lambda r, i=region.index, p=p: r[0].places[i] == p) for p in range(len(region.places)))
            for region in machine.regions
        ),
        tuple(column(lambda r, t=t: r[0].running >> t & 1) for t in range(len(machine.timings))),
        tuple(column(lambda r, t=t: r[0].full >> t & 1) for t in range(len(machine.timings))),
    )
    levels = [column(lambda r, i=i: r[1][i]) for i in range(len(machine.levels))]
    expired = {t: column(lambda r, t=t: t in r[2]) for t in range(len(machine.timings))}
    dropped = {
        region.index: column(lambda r, i=region.index: i in r[3])
        for region in machine.regions
        if region.kind == "count"
    }
    return many.settle(configs, levels, expired, dropped)


def bit(bits: object, row: int) -> bool:
    """Give one truth."""
    return bool(unpacked(np.atleast_1d(np.asarray(bits)))[row % 64 if np.ndim(bits) == 0 else row])


def cause_of(done: Done, what: tuple[str, int], row: int) -> Cause:
    """Give what set something going in one instant; all that changed together is told by its kind alone."""
    for (kind, index), bits in done.causes.get(what, {}).items():
        if bit(bits, row):
            return Cause("inputs" if kind.startswith("input") else "outputs", (index,))
    return THE_INSTANT


def plainly(cause: Cause) -> Cause:
    """Give a cause as told at once."""
    return cause if len(cause.which) < 2 else Cause(cause.kind, (-1,))


def check(board: Board, seed: int, number: int = 150) -> None:
    """Hold each of many instants of a board against the engine."""
    engine = Engine(compile_board(board))
    rows = instants(engine, seed, number)
    if rows:
        hold(engine, rows)


def hold(engine: Engine, rows: Sequence[Instant]) -> list[Outcome | None]:
    """Hold each of some instants against the engine; give what that says of them, None where it refuses."""
    done = at_once(ManyInstants(engine), rows)
    found: list[Outcome | None] = []
    for row, instant in enumerate(rows):
        try:
            outcome = engine.settle(*instant)
        except CannotSettle:
            assert bit(done.refused, row)
            found.append(None)
            continue
        found.append(outcome)
        assert not bit(done.refused, row)
        config, machine = outcome.config, engine.machine
        places = [[bit(b, row) for b in place] for place in done.standing.places]
        assert tuple(place.index(True) for place in places) == config.places
        assert all(sum(place) == 1 for place in places)
        assert [bit(b, row) for b in done.standing.running] == [
            bool(config.running >> t.index & 1) for t in machine.timings
        ]
        assert [bit(b, row) for b in done.standing.full] == [bool(config.full >> t.index & 1) for t in machine.timings]
        for told, table in (
            (outcome.begun, done.begun),
            (outcome.paused, done.paused),
            (outcome.counted, done.counted),
        ):
            assert {t for t, _ in told} == {t for t, bits in table.items() if bit(bits, row)}
        for said, table in (
            (outcome.emptied, done.emptied),
            (outcome.forgot, done.forgot),
            (outcome.broken, done.broken),
            (outcome.together, done.together),
        ):
            assert set(said) == {t for t, bits in table.items() if bit(bits, row)}
        assert set(outcome.commands) == {key for key, bits in done.commands.items() if bit(bits, row)}
        assert [bit(b, row) for b in done.sped] == [engine.sped_up(config, i) for i in range(len(machine.speed_ups))]
        for timing, cause in outcome.begun:
            assert cause_of(done, ("timing", timing), row) == plainly(cause)
        for region, cause in outcome.counted:
            assert cause_of(done, ("count", region), row) == plainly(cause)
    return found


@settings(deadline=None)
@given(asked(), st.integers(0, 1 << 30))
def test_each_of_many_instants_is_as_the_engine_settles_it(board: Board, seed: int) -> None:
    """On drawn boards, whatever happens together."""
    check(board, seed)


@pytest.mark.parametrize(
    "name", ["quillmere", "tarnbeck", "hearthgate", "cold-room-adaptive", "sump-pumps", "relay-summing"]
)
def test_each_of_many_instants_of_a_board_of_the_library_too(name: str) -> None:
    """Accumulators, sequences, speed-ups and sensors among them."""
    check(read_board(board_path(name)), 1, 400)


CIRCLE = """
language = 1
[board]
id = "circle"
title = "Delays that read one another (invented)"
tolerance = "exactly"
[inputs.a]
kind = "call"
[inputs.b]
kind = "call"
[rules.d]
kind = "delay"
begins = "q begins"
lasts = "5 s"
if_begun_again = "runs on"
[outputs.q]
on = "a and not (d and b)"
"""


def test_what_contradicts_itself_is_refused_alone() -> None:
    """Of the four ways that two inputs may be, the one in which the delay begins only if it does not is refused."""
    engine = Engine(compile_board(read_board_text(CIRCLE, "circle.toml")))
    off = engine.settle(engine.off(), (False, False), power_up=True).config
    rows: list[Instant] = [(off, levels, (), ()) for levels in product((False, True), repeat=2)]
    assert [outcome is None for outcome in hold(engine, rows)] == [False, False, False, True]


HEAD = """
language = 1
[board]
id = "tricky"
title = "Tricky (invented)"
tolerance = "exactly"
[inputs.a]
kind = "call"
[inputs.b]
kind = "call"
"""
OWN_CURE = """
[rules.cured]
kind = "mode"
begins = "l"
ends = "not a"
[rules.l]
kind = "lockout"
trips = "a and not cured"
clears = "cured and b"
[rules.seen]
kind = "count"
counts = "l begins"
limit = 2
[outputs.q]
on = "seen reached"
"""
GONE = """
[rules.y]
kind = "mode"
begins = "a ends"
ends = "b"
[conditions.busy]
is = "a or y"
[rules.many]
kind = "count"
counts = "busy ends"
limit = 3
[outputs.q]
on = "many reached"
"""


def one_instant(text: str, *levels: tuple[bool, bool]) -> Outcome | None:
    """Switch a board on with two calls as they are first, and hold the next instant; give what the engine says."""
    engine = Engine(compile_board(read_board_text(HEAD + text, "tricky.toml")))
    first = engine.settle(engine.off(), levels[0], power_up=True).config
    # Beside an instant in which nothing happens.
    return hold(engine, [(first, levels[1], (), ()), (first, levels[0], (), ())])[0]


def test_a_lockout_cured_as_it_trips_has_tripped_all_the_same() -> None:
    """It trips, and clears in the instant that follows at the same moment."""
    outcome = one_instant(OWN_CURE, (False, True), (True, True))
    assert outcome is not None
    assert outcome.config.places == (1, 0, 1)


def test_an_event_that_does_not_last_is_refused() -> None:
    """What was counted would not have happened in the settled picture."""
    assert one_instant(GONE, (True, False), (False, False)) is None


def test_what_is_counted_and_forgotten_at_one_moment_was_not_counted() -> None:
    """The call is counted, and forgotten in the instant that follows at the same moment."""
    text = OWN_CURE.replace('counts = "l begins"', 'counts = "a begins"\nforgets = "l ends"')
    outcome = one_instant(text, (False, True), (True, True))
    assert outcome is not None
    assert outcome.forgot
    assert outcome.counted == ()


HELD = """
[rules.first]
kind = "delay"
begins = "a begins"
lasts = "5 s"
if_begun_again = "runs on"
[rules.run]
kind = "mode"
begins = "a"
ends = "first or not a"
at_most = "9 s"
[outputs.one]
on = "b"
[outputs.two]
on = "b"
"""


def test_what_held_before_is_not_set_going_by_what_changed_together_elsewhere() -> None:
    """A mode that a condition begins as a delay is over: the instant, though beside it two outputs change at once."""
    engine = Engine(compile_board(read_board_text(HEAD + HELD, "held.toml")))
    first = engine.settle(engine.off(), (True, False), power_up=True).config
    over = engine.machine.delays[0].timing
    rows: list[Instant] = [(first, (True, False), (over,), ()), (first, (True, True), (), ())]
    outcome = hold(engine, rows)[0]
    assert outcome is not None
    ((_, cause),) = outcome.begun
    assert cause == THE_INSTANT


def test_a_board_without_inputs_is_settled_too() -> None:
    """A board without inputs has one way for them to be."""
    board = evolve(read_board(board_path("relay-supply-on-delay")), requirements={})
    check(board, 3, 20)

"""Law: folding leaves nothing out that a board can do, and adds nothing that shows."""

from __future__ import annotations

from collections.abc import Sequence

from attrs import evolve
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from boardgauge.boards import board_path
from boardgauge.language import read_board, read_board_text
from boardgauge.language.model import Board
from boardgauge.machine.compile import compile_board
from boardgauge.machine.config import Config
from boardgauge.machine.settle import Engine
from boardgauge.proving.clockwork import Node
from boardgauge.proving.folding import Folds
from boardgauge.proving.space import Space, way_to
from boardgauge.proving.timed import explore_timed
from boardgauge.proving.together import Happens, settled
from proving.drawn import ONE_MODE, asked
from proving.seconds import Seconds, bare

MOST = 800


def explored(
    engine: Engine, folds: Folds | None, sped_up: bool, joined: int | None, timed: frozenset[int] | None
) -> Space:
    return explore_timed(engine, None, None, MOST, None, joined, sped_up, timed, folds=folds)


def homes(space: Space, folds: Folds) -> set[Config]:
    return {folds.home(place.node.config) for place in space.places}


@settings(deadline=None, max_examples=settings().max_examples // 5)
@given(asked(), st.booleans(), st.sampled_from((None, 1)), st.data())
def test_folded_places_stand_for_every_place_and_for_no_other(
    board: Board, sped_up: bool, joined: int | None, data: st.DataObject
) -> None:
    """Whatever timings are followed: what is found unfolded is found, and what is found is found unfolded."""
    engine = Engine(compile_board(board))
    every = range(len(engine.machine.timings))
    timed = data.draw(st.one_of(st.none(), st.frozensets(st.sampled_from(every)) if every else st.just(frozenset())))
    folds = Folds(engine, sped_up)
    plain = explored(engine, None, sped_up, joined, timed)
    assume(plain.complete)
    folded = explored(engine, folds, sped_up, joined, timed)
    assert folded.complete
    assert homes(plain, folds) <= homes(folded, folds)
    if joined is None:
        assert homes(folded, folds) <= homes(plain, folds)


def breaks(engine: Engine, start: Node, happenings: Sequence[Happens], watch: int) -> bool:
    """Go a way with the engine alone; tell whether its last instant breaks what is watched."""
    config, broken = start.config, False
    for what in happenings:
        if what.power is False:
            config, broken = engine.lose_power(config), False
        else:
            outcome = settled(engine, config, what)
            config, broken = outcome.config, watch in outcome.broken
    return broken


@settings(deadline=None, max_examples=settings().max_examples // 5)
@given(asked(), st.booleans(), st.data())
def test_a_requirement_is_broken_folded_where_it_is_unfolded(board: Board, sped_up: bool, data: st.DataObject) -> None:
    """What breaks it is found in one as in the other; the machine goes a way found folded, and breaks it there."""
    engine = Engine(compile_board(board))
    every = range(len(engine.machine.timings))
    timed = data.draw(st.one_of(st.none(), st.frozensets(st.sampled_from(every))))
    for number in range(len(engine.machine.watches)):
        found = lambda node, outcome, n=number: n in outcome.broken  # noqa: E731 - a name for what is asked
        plain = explore_timed(engine, found, None, MOST, None, None, sped_up, timed)
        assume(plain.complete or plain.stop is not None)
        folded = explore_timed(engine, found, None, MOST, None, None, sped_up, timed, folds=Folds(engine, sped_up))
        assert (folded.stop is None) == (plain.stop is None)
        if folded.stop is not None:
            assert breaks(engine, *way_to(folded, folded.stop.came), number)


@settings(deadline=None, max_examples=settings().max_examples // 5)
@given(asked())
def test_folded_zones_find_what_a_search_by_seconds_finds(board: Board) -> None:
    """Every place that a plain search second by second comes to is found folded, with and without lengths."""
    engine = Engine(compile_board(bare(board)))
    plain = Seconds(engine).configs()
    assume(plain is not None)
    assert plain is not None
    folds = Folds(engine, False)
    for joined, timed in ((None, None), (1, None), (1, frozenset[int]())):
        space = explored(engine, folds, False, joined, timed)
        if space.complete:
            settings_of = lambda c: c._replace(settings=(), chosen=())  # noqa: E731 - a name for what is left out
            assert {settings_of(folds.home(c)) for c in plain} <= {settings_of(p.node.config) for p in space.places}


@settings(deadline=None, max_examples=settings().max_examples // 5)
@given(asked(), st.booleans(), st.booleans())
def test_a_coarse_look_leaves_nothing_out(board: Board, sped_up: bool, folded: bool) -> None:
    """What is found with all that is followed is found with what stood still forgotten."""
    engine = Engine(compile_board(board))
    folds = Folds(engine, sped_up)
    plain = explored(engine, None, sped_up, None, None)
    assume(plain.complete)
    used = folds if folded else None
    coarse = explore_timed(engine, None, None, MOST, None, 1, sped_up, None, folds=used, coarse=True)
    assert homes(plain, folds) <= homes(coarse, folds)


def test_what_was_folded_away_is_gone_on_the_way() -> None:
    """The call ends with a door open that was shut as the supply came: that it opened is told."""
    door = '[inputs.door]\nkind = "call"\n[requirements.shut]\nnever = "motor ends while door"\n'
    engine = Engine(compile_board(read_board_text(ONE_MODE + door, "one.toml")))
    found = lambda node, outcome: bool(outcome.broken)  # noqa: E731 - a name for what is asked
    folded = explore_timed(engine, found, timed=frozenset(), folds=Folds(engine, False))
    assert folded.stop is not None
    start, happenings = way_to(folded, folded.stop.came)
    assert breaks(engine, start, happenings, 0)
    assert len(happenings) == 3


def test_where_nothing_more_can_happen_there_is_nothing_to_fold() -> None:
    """Without inputs, after its one delay: off, on, and on for good."""
    engine = Engine(compile_board(evolve(read_board(board_path("relay-supply-on-delay")), requirements={})))
    folds = Folds(engine, False)
    assert len(explore_timed(engine, timed=frozenset(), folds=folds).places) == 3
    assert len(explore_timed(engine, folds=folds).places) == 3


def test_places_that_only_inputs_tell_apart_are_folded() -> None:
    """Three inputs of which one matters to what is remembered; a lamp looks at the others, and that leaves no trace."""
    lamp = """
[inputs.door]
kind = "call"
[inputs.night]
kind = "call"
[lamps.seen]
lines = [{ when = "door or night", shows = "steady" }, { when = "otherwise", shows = "dark" }]
"""
    engine = Engine(compile_board(read_board_text(ONE_MODE + lamp, "one.toml")))
    # Without power; without a call; with one, which has begun even where it stood as the supply came.
    assert len(explore_timed(engine, timed=frozenset()).places) == 1 + 4 + 4
    folded = explore_timed(engine, timed=frozenset(), folds=Folds(engine, False))
    assert len(folded.places) == 1 + 1 + 1
    assert folded.exact is False


FAST = """
[inputs.fast]
kind = "link"
[rules.lit]
kind = "delay"
begins = "run ends"
lasts = "10 s"
if_begun_again = "runs on"
[outputs.lamp]
on = "lit"
[speed_ups.test]
while = "fast fitted"
times_faster = 2
what = ["lit"]
[requirements.long]
never = "lamp ends less than 8 s after lamp begins"
"""


def test_how_fast_timings_run_is_a_trace() -> None:
    """A link that nothing reads but a speed-up: with it fitted the lamp is lit for half as long."""
    engine = Engine(compile_board(read_board_text(ONE_MODE + FAST, "fast.toml")))
    for sped_up in (False, True):
        folds = Folds(engine, sped_up)
        found = lambda node, outcome: bool(outcome.broken)  # noqa: E731 - a name for what is asked
        assert (explore_timed(engine, found, sped_up=sped_up, folds=folds).stop is not None) is sped_up

"""Law: exploring with zones finds every configuration that a plain search second by second finds, and, where it is
exact, none without moments at which it can be come to.
"""

from __future__ import annotations

from hypothesis import assume, given, reject, settings
from hypothesis import strategies as st

from boardgauge.language import UnusableSpec, read_board_text
from boardgauge.language.model import Board
from boardgauge.machine.compile import compile_board
from boardgauge.machine.config import Config
from boardgauge.machine.settle import Engine
from boardgauge.proving.moments import ruled_out_by
from boardgauge.proving.space import Space, way_to
from boardgauge.proving.timed import explore_timed
from oracle.chains import chain_texts, mixed_texts
from proving.seconds import Seconds, bare

TEXTS = st.one_of(chain_texts(), mixed_texts())


@st.composite
def usable(draw: st.DrawFn) -> Board:
    """Draw a small board that passes the checks."""
    try:
        return read_board_text(draw(TEXTS), "drawn.toml")
    except UnusableSpec:
        reject()


def configs_of(space: Space) -> set[Config]:
    """Give the configurations of a space."""
    return {place.node.config for place in space.places}


@settings(max_examples=settings().max_examples // 4, deadline=None)
@given(usable())
def test_zones_find_what_a_search_by_seconds_finds(board: Board) -> None:
    """With every zone apart, with zones joined, and with no timing followed."""
    engine = Engine(compile_board(bare(board)))
    plain = Seconds(engine).configs()
    assume(plain is not None)
    assert plain is not None
    apart = explore_timed(engine, limit=20_000)
    assume(apart.complete)
    assert plain <= configs_of(apart)
    assert configs_of(apart) <= configs_of(explore_timed(engine, of_a_place=1))
    assert configs_of(apart) <= configs_of(explore_timed(engine, of_a_place=1, timed=frozenset()))


@settings(max_examples=settings().max_examples // 4, deadline=None)
@given(usable())
def test_every_way_through_exact_zones_has_its_moments(board: Board) -> None:
    """Where the zones are exact, no way to a place is ruled out by the lengths of the timings on it."""
    engine = Engine(compile_board(bare(board)))
    space = explore_timed(engine, limit=3_000)
    assume(space.exact)
    for place in space.places[:: max(1, len(space.places) // 40)]:
        assert ruled_out_by(engine, *way_to(space, place.came[-1])) == frozenset()

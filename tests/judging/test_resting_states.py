"""Laws: sorting out all combinations of states at once leaves out none that rests, and keeps none that does not."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from board_strategies import boards
from boardgauge.boards import board_path
from boardgauge.judging.resting import Resting, combinations
from boardgauge.language import read_board
from boardgauge.language.model import Board
from boardgauge.machine.compile import compile_board
from boardgauge.machine.config import Config
from boardgauge.machine.settle import Engine

MOST = 400
QUICK = settings(deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much])


def compare(engine: Engine, seed: int) -> None:
    """Hold every row of some against what the engine itself says of it."""
    machine = engine.machine
    random = np.random.default_rng(seed)
    levels = tuple(bool(value) for value in random.integers(0, 2, len(machine.levels)))
    places = np.stack([random.integers(0, len(region.places), MOST) for region in machine.regions], axis=1)
    bits = random.integers(0, 1 << len(machine.timings), (2, MOST))
    kept = Resting(engine).rows(levels, places, bits[0], bits[1])
    off = engine.off()
    for row, keeps in enumerate(kept.tolist()):
        own = tuple(places[row].tolist())
        config = Config(True, levels, own, int(bits[0, row]), int(bits[1, row]), off.settings, off.chosen)
        picture = engine.picture(config)
        over = [t for t in machine.timings if t.role == "for" and config.full >> t.index & 1]
        holds = all(engine.logic.condition(t.condition.condition)(picture) for t in over)  # type: ignore[union-attr]
        cut = any(
            config.running >> d.timing & 1
            and d.cut_by is not None
            and engine.logic.happens(d.cut_by)(picture, picture, 0)
            for d in machine.delays
        )
        assert keeps == (engine.rests(config) and holds and not cut)


@pytest.mark.parametrize("name", ["tarnbeck", "quillmere", "hearthgate", "sump-pumps", "extract-fan", "iec-sr"])
def test_the_rows_kept_are_those_that_rest_on_the_boards_of_the_library(name: str) -> None:
    compare(Engine(compile_board(read_board(board_path(name)))), 1)


@QUICK
@given(boards(), st.integers(0, 2**32))
def test_the_rows_kept_are_those_that_rest_on_any_board(board: Board, seed: int) -> None:
    machine = compile_board(board)
    assume(machine.regions and len(machine.timings) < 40)
    compare(Engine(machine), seed)


def test_combinations_come_in_the_order_of_their_digits() -> None:
    """The last digit turns fastest, as in ``itertools.product``."""
    rows = np.concatenate(list(combinations([2, 3])))
    assert rows.tolist() == [[0, 0], [0, 1], [0, 2], [1, 0], [1, 1], [1, 2]]

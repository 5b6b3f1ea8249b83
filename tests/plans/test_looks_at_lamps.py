"""A plan looks for a line of a lamp only where it can be read: else a board in order would be said to be open.

Law: a board in order, taken through looks of any length, shows all that its plan looks for.
"""

from __future__ import annotations

import pytest
from attrs import evolve
from hypothesis import given, settings
from hypothesis import strategies as st

from bench_plans import TARNBECK, carried, steps_of
from boardgauge.machine.compile import compile_board
from boardgauge.machine.settle import Engine
from boardgauge.plans.emitting import with_windows
from boardgauge.plans.plan import Observe, Plan
from boardgauge.rigs.board_rig import BoardRig
from boardgauge.traces.wiring import signals_of

ENGINE = Engine(compile_board(TARNBECK))


def looked(first: int, second: int, third: int) -> Plan:
    """Give a plan that waits for so many tenths of a second: in standby, with a call, and while it runs."""
    waits = [f'{{ wait = "0.9 s" }}, {{ wait = "{tenths / 10} s" }}' for tenths in (first, second, third)]
    running = '{ wait_for = { cc = "on" }, expected = "0 s to 60 s", at_most = "60 s" }'
    plan = steps_of(", ".join(('{ power = "on" }', waits[0], '{ set = { y = "on" } }', waits[1], running, waits[2])))
    sittings = tuple(with_windows(one, TARNBECK, ENGINE, signals_of(TARNBECK)) for one in plan.sittings)
    return evolve(plan, sittings=sittings)


def lamps(plan: Plan) -> list[dict[str, str]]:
    return [dict(step.lamps) for step in plan.sittings[0].steps if isinstance(step, Observe)]


@pytest.mark.parametrize(
    ("third", "shown"),
    [(10, {}), (40, {}), (80, {"led": "1 s lit, 1 s dark"}), (200, {"led": "1 s lit, 1 s dark"})],
)
def test_a_line_is_looked_for_where_it_lasts_two_turns(third: int, shown: dict[str, str]) -> None:
    """A second of a lamp that is lit for one and dark for one tells nothing of it; its grace of 3 s counts, too."""
    assert lamps(looked(10, 10, third))[-1] == shown


@settings(max_examples=15, deadline=None)
@given(st.integers(10, 150), st.integers(10, 100), st.integers(10, 200), st.integers(0, 10**6))
def test_a_board_in_order_shows_all_that_is_looked_for(
    tmp_path_factory: pytest.TempPathFactory, first: int, second: int, third: int, seed: int
) -> None:
    """Looks of a second to twenty, with whatever lengths its timings have."""
    run = carried(tmp_path_factory.mktemp("run"), looked(first, second, third), BoardRig(TARNBECK, seed=seed))
    assert run.coverage.missed == ()
    assert run.verdict == "conforms"


def test_long_looks_do_look_for_lamps() -> None:
    """The law above is not held by looking for nothing."""
    assert [one.get("led") for one in lamps(looked(150, 100, 200))] == [
        "steady", "100 ms lit, 100 ms dark", "1 s lit, 1 s dark"
    ]  # fmt: skip

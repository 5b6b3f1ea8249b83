"""What is looked at before anything is driven."""

from __future__ import annotations

from attrs import evolve

from bench_plans import TARNBECK, plan_of
from boardgauge.bench.preflight import refusals
from boardgauge.plans.plan import Plan
from boardgauge.rigs.board_rig import BoardRig
from boardgauge.rigs.interlocks import Interlocks


def _refused(plan: Plan, **changes: object) -> list[str]:
    facts = evolve(BoardRig(TARNBECK).facts, **changes)
    return [str(row) for row in refusals(TARNBECK, plan, facts, Interlocks(TARNBECK))]


def test_a_plan_that_the_rig_cannot_do_is_refused_with_its_places() -> None:
    """What is not driven, not seen and not wired is told before anything is touched."""
    plan = plan_of()
    assert _refused(plan) == []
    drives = {n: v for n, v in BoardRig(TARNBECK).facts.drives.items() if n not in ("lps", "power")}
    told = _refused(plan, drives=drives, sees=("fan", "led"))
    assert any("does not drive power" in row for row in told)
    assert any("the plan sets lps, which" in row and "plan.toml:3" in row for row in told)
    assert any("waits for cc" in row for row in told)
    assert any("looks at cc" in row for row in told)

"""Three ways to begin a defrost, as regulation tells them apart, on the small heat-pump boards of the library.

Source: 10 CFR 430 Subpart B, Appendix M1, §1.2, *time-temperature defrost-control* (from memory): it acts at a
cumulative compressor on-time such as 30, 45 or 90 min, counted under frosting conditions; one kind defrosts at the
count, another samples a temperature then and resets whether or not it defrosts. AHRI 210/240-2017 eq. 11.129 and
11.130, and Appendix M1 §3.9.2: the demand-defrost credit F = 1 + 0.03 · (1 − (Tt − 1.5) / (Tm − 1.5)), with Tt at least
1.5 h and Tm at most 12 h.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest

from boardgauge.machine.run import Run, Timeline, Value
from boards.library_runs import run_of

MIN = 60 * 1_000_000
H = 60 * MIN
COLD, WARM = Fraction(-6), Fraction(20)
Rows = tuple[tuple[int, Value], ...]


def run(name: str, end: int, coil: Rows, running: Rows, **others: Rows) -> Run:
    """Run a board at nominal times, powered from 0 on; MINUTES stands as delivered unless said."""
    inputs = {"power": ((0, True),), "coil": coil, "running": running, **others}
    return run_of(name, Timeline(inputs, end), "nominal", 0, {})


def defrosts(found: Run) -> list[int]:
    """Give when the valve came on."""
    return [time for time, value in found.outputs["valve"].changes if value]


@pytest.mark.parametrize(("minutes", "interval"), [("30", 30), ("45", 45), ("90", 90)])
def test_at_the_count_a_defrost_begins(minutes: str, interval: int) -> None:
    """After 30, 45 or 90 min of running under frost, to the microsecond."""
    inputs: dict[str, Rows] = {"power": ((0, True),), "coil": ((0, COLD),), "running": ((MIN, True),)}
    found = run_of("heat-pump-defrost", Timeline(inputs, 100 * MIN), "nominal", 0, {"interval": minutes})
    assert defrosts(found)[0] == MIN + interval * MIN


def test_the_count_is_of_running_under_frost() -> None:
    """It stands still while the coil is warm (20 to 50 min) and while the compressor rests (60 to 75 min)."""
    coil: Rows = ((0, COLD), (20 * MIN, WARM), (50 * MIN, COLD))
    running: Rows = ((0, True), (60 * MIN, False), (75 * MIN, True))
    assert defrosts(run("heat-pump-defrost", 100 * MIN, coil, running)) == [(45 + 30 + 15) * MIN]


def test_by_a_look_a_warm_coil_waits_a_whole_interval_more() -> None:
    """Warm at 45 min: no defrost, though cold a minute later; the next look, 45 min on, finds it cold."""
    coil: Rows = ((0, WARM), (46 * MIN, COLD))
    look = 3_000_000
    assert defrosts(run("heat-pump-defrost-sampled", 100 * MIN, coil, ((0, True),))) == [2 * (45 * MIN + look)]


def test_by_a_look_a_cold_spell_between_looks_is_not_seen() -> None:
    """Frost for 40 min between two looks counts for nothing, where the other kind has counted it."""
    coil: Rows = ((0, WARM), (1 * MIN, COLD), (41 * MIN, WARM), (46 * MIN, COLD), (52 * MIN, WARM))
    assert defrosts(run("heat-pump-defrost-sampled", 60 * MIN, coil, ((0, True),))) == []
    assert defrosts(run("heat-pump-defrost", 60 * MIN, coil, ((0, True),))) == [51 * MIN]


def credit(tt: Fraction, tm: Fraction) -> Fraction:
    """Give F for hours between defrosts: the least, and the greatest that the control allows."""
    tt, tm = max(tt, Fraction(3, 2)), min(tm, Fraction(12))
    return 1 + Fraction(3, 100) * (1 - (tt - Fraction(3, 2)) / (tm - Fraction(3, 2)))


@pytest.mark.parametrize(
    ("tt", "tm", "published"),
    [
        (1.5, 12, 1.03),
        (2, 6, 1.026667),
        (3, 6, 1.02),
        (4, 8, 1.018462),
        (6, 12, 1.017143),
        (6, 6, 1.0),
        (3, 12, 1.025714),
    ],
)
def test_the_credit_is_reckoned_as_published(tt: float, tm: float, published: float) -> None:
    """The equation, at the published pairs."""
    assert float(credit(Fraction(tt), Fraction(tm))) == pytest.approx(published, abs=5e-7)


def test_a_control_on_demand_has_both_times_of_the_credit() -> None:
    """Choked all the time it defrosts after 1.5 h, never choked after 6 h: with both, the whole credit of 1.03."""
    thaw = 10 * MIN
    choked = defrosts(run("heat-pump-defrost-demand", 4 * H, ((0, COLD),), ((0, True),), air=((MIN, True),)))
    free = defrosts(run("heat-pump-defrost-demand", 14 * H, ((0, COLD),), ((0, True),), air=((0, False),)))
    least, greatest = choked[1] - choked[0] - thaw, free[1] - free[0] - thaw
    assert (least, greatest) == (90 * MIN, 6 * H)
    assert credit(Fraction(least, H), Fraction(greatest, H)) == Fraction(103, 100)


def test_a_control_by_time_has_no_choice() -> None:
    """At the count, frost from the air or not, the least and the greatest time are one: no demand, no credit."""
    found = defrosts(run("heat-pump-defrost", 4 * H, ((0, COLD),), ((0, True),)))
    assert {b - a for a, b in pairwise(found)} == {45 * MIN + 10 * MIN}
    assert credit(Fraction(6), Fraction(6)) == 1

"""What sampling leaves open of a time, as published, and what the judge makes of it.

Source: an edge sampled every Δ lies anywhere in one Δ, a rectangular distribution: standard uncertainty Δ/√12 = 0.289 Δ
(JCGM 100, 4.3.7; from memory), 0.408 Δ for the interval between two such edges, its limits ± Δ; recomputed here over
all phases. ISO 14253-1 (from memory): with the expanded
uncertainty U, non-conformity is proved outside LSL - U and USL + U, conformity from LSL + U to USL - U. The judge
rejects by that rule, with U = Δ, the most that sampling can do of one edge, and no coverage factor; where a pulse or a
bounce that no sample shows could have been the beginning, the gap in which it hides counts as well. It accepts what is
recorded within the limits (simple acceptance, JCGM 106, 8.2; from memory), says "undecided" of the rest, and gives no
probability of conformity.
"""

from __future__ import annotations

from fractions import Fraction
from math import sqrt
from statistics import pstdev

import pytest

from boardgauge.cases import Case, Judged, Ours, Row
from boardgauge.cases.ours import board_of, trace_of

MS = 1000
STEP = 100 * MS
SPEC = """
language = 1
[board]
id = "small"
title = "a small board, invented"
responds_within = "0.2 s"
[inputs.a]
kind = "call"
[rules.d]
kind = "delay"
begins = "a begins"
lasts = "9.05 s to 10.95 s"
if_begun_again = "starts over"
[outputs.q]
on = "d"
"""


def case(on: int, off: int, spec: str = SPEC) -> Case:
    """Give a recording sampled every 0.1 s in which the delay shows from one time to another (microseconds)."""
    rows = (Row(on, "a", True), Row(on, "q", True), Row(off, "q", False))
    return Case("sampled", "sampled", (), spec, "judge", rows, 20_000_000, sampled_every=STEP)


def judged(spec: str, seconds: float) -> str:
    """Give the verdict over a delay that shows for so long."""
    found = Ours().judge(case(1_000_000, 1_000_000 + round(seconds * 1_000_000), spec))
    assert isinstance(found, Judged)
    return found.verdict


def test_an_edge_is_known_to_one_gap_between_samples() -> None:
    """Over all phases the true edge lies in the interval that is kept of it, which is one gap wide."""
    for phase in range(0, STEP, 7 * MS):
        sampled = case(1_000_000 + phase, 11_000_000)
        trace = trace_of(sampled, board_of(sampled))
        wave = trace.waves["a"]
        early, late = int(wave.earliest[0]), int(wave.latest[0])
        assert late - early == STEP
        assert early <= 1_000_000 + phase <= late


def test_the_standard_uncertainties() -> None:
    """One edge 0.289 Δ, the time between two 0.408 Δ, and never more than Δ off."""
    phases = [Fraction(2 * i + 1, 200) for i in range(100)]
    assert pstdev(map(float, phases)) == pytest.approx(0.289, abs=0.0005)
    between = [float(a - b) for a in phases for b in phases]
    assert pstdev(between) == pytest.approx(0.408, abs=0.0005)
    assert pstdev(between) == pytest.approx(1 / sqrt(6), abs=1e-4)
    assert max(map(abs, between)) < 1


FILTERED = SPEC.replace("responds_within", 'filter = "150 ms to 150 ms"\nresponds_within')
RUNS_ON = SPEC.replace("starts over", "runs on")


@pytest.mark.parametrize(
    ("spec", "seconds", "verdict"),
    [
        (SPEC, 8.9, "deviates"),
        (SPEC, 9.0, "undecided"),
        (SPEC, 9.1, "conforms"),
        (RUNS_ON, 10.9, "conforms"),
        (RUNS_ON, 11.0, "undecided"),
        (RUNS_ON, 11.1, "deviates"),
    ],
)
def test_the_three_zones(spec: str, seconds: float, verdict: str) -> None:
    """9.05 s to 10.95 s, sampled every 0.1 s: further out than Δ is proved wrong, less far is undecided.

    Nothing that was not seen shortens a delay that starts over, or lengthens one that runs on.
    """
    assert judged(spec, seconds) == verdict


@pytest.mark.parametrize(("seconds", "verdict"), [(8.7, "deviates"), (8.8, "undecided"), (11.1, "deviates")])
def test_a_filter_may_count_from_a_bounce_that_no_sample_shows(seconds: float, verdict: str) -> None:
    """What is broken up for less than the filter takes in is one change: it may have begun so far before."""
    assert judged(FILTERED, seconds) == verdict


@pytest.mark.parametrize("seconds", [11.1, 15.0])
def test_a_delay_that_starts_over_may_have_done_so_between_two_samples(seconds: float) -> None:
    """Without a filter a call may have gone and come back unseen, and begun it again: then nothing is too long."""
    assert judged(SPEC, seconds) == "undecided"
    assert judged(FILTERED, seconds) == "deviates"


@pytest.mark.parametrize(("seconds", "verdict"), [(8.7, "deviates"), (8.8, "undecided"), (8.9, "undecided")])
def test_a_delay_that_runs_on_may_have_begun_with_a_pulse_that_no_sample_shows(seconds: float, verdict: str) -> None:
    """As far before as the board may take to respond, and no further: then nothing more than Δ is too short."""
    assert judged(RUNS_ON, seconds) == verdict

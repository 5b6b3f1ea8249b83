"""What the boards of the library do when anything is done to them.

Law: whatever a simulated board of the library chooses within its spec, it breaks none of its requirements, and a judge
finds nothing against it.
"""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, note, settings
from hypothesis import strategies as st

from boardgauge.boards import board_names
from boardgauge.machine.chance import TIMINGS
from boards.library_runs import broken, judge_of, positions_of, run_of, timelines, trace_of

_QUICK = settings(max_examples=6, deadline=None, suppress_health_check=list(HealthCheck))


@pytest.mark.parametrize("name", board_names())
@_QUICK
@given(st.data(), st.sampled_from(TIMINGS), st.integers(0, 99))
def test_no_requirement_is_ever_broken(name: str, data: st.DataObject, timings: str, seed: int) -> None:
    """At nominal times, at either end of every range, and anywhere between."""
    positions = data.draw(positions_of(name))
    assert broken(name, run_of(name, data.draw(timelines(name)), timings, seed, positions)) == []


@pytest.mark.parametrize("name", board_names())
@_QUICK
@given(st.data(), st.sampled_from(TIMINGS), st.integers(0, 99))
def test_a_good_board_is_never_accused(name: str, data: st.DataObject, timings: str, seed: int) -> None:
    """The recording of a simulated run deviates from nothing; where nothing was uncertain it conforms."""
    positions = data.draw(positions_of(name))
    run = run_of(name, data.draw(timelines(name)), timings, seed, positions)
    judgement = judge_of(name).judge(trace_of(name, run, positions))
    note(f"{[(d.time, d.rule, d.observed, d.expected) for d in judgement.deviations[:2]]} {judgement.doubts}")
    assert judgement.verdict == "conforms"

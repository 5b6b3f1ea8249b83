"""Whatever happened to a recording, reading it gives a recording or one located message, and judging it a verdict.

In the suite the examples are the same every time, and the judge gives up early, so that it is quick. With Hypothesis's
profile ``long`` (pytest --hypothesis-profile=long) they are many and new, and the judge works as it always does.
"""

from __future__ import annotations

from functools import cache

import pytest
from hypothesis import HealthCheck, event, given, settings
from hypothesis import strategies as st

from boardgauge.boards import board_path, wiring_path
from boardgauge.judging import tracker, unknown
from boardgauge.judging.judge import Judge
from boardgauge.language import read_board
from boardgauge.traces import (
    BadWiring,
    UnreadableRecording,
    Wiring,
    condition,
    default_wiring,
    read_wiring,
    recording_from,
)
from robustness.mutated import originals, scrawled, still_read

VERDICTS = {"conforms", "deviates", "undecided"}
LONG = settings.get_current_profile_name() in {"long", "thorough"}
fuzzed = settings(
    max_examples=settings.default.max_examples if LONG and settings.default else 25,
    derandomize=not LONG,
    deadline=None,
    database=None,
    suppress_health_check=list(HealthCheck),
)


@pytest.fixture(autouse=True)
def _gives_up_early(monkeypatch: pytest.MonkeyPatch) -> None:
    if not LONG:
        monkeypatch.setattr(tracker, "MOST_FIRINGS", 1000)
        monkeypatch.setattr(tracker, "MOST_SUPPOSING", 500)
        monkeypatch.setattr(tracker, "FIRINGS_AN_EVENT", 5)
        monkeypatch.setattr(unknown, "MOST_TRIED", 1 << 14)


@cache
def judge(board: str) -> Judge:
    return Judge.of(read_board(board_path(board)))


@cache
def wirings() -> dict[str, tuple[str, Wiring]]:
    return {
        "its own": ("tarnbeck", read_wiring(wiring_path("tarnbeck"))),
        "line frequency": ("tarnbeck", read_wiring(wiring_path("tarnbeck-ac60"))),
        "a variant's": ("tarnbeck-thermistor", read_wiring(wiring_path("tarnbeck"))),
        "by name": ("extract-fan", default_wiring(judge("extract-fan").engine.machine.board)),
    }


def told(refusal: UnreadableRecording | BadWiring) -> str:
    """See that a refusal says something: the file and, of a recording, one line of text."""
    if isinstance(refusal, BadWiring):
        assert refusal.problems
        return "does not fit"
    assert str(refusal).startswith("mutated:")
    assert refusal.what
    assert "\n" not in str(refusal)
    return "unreadable"


def outcome(data: bytes, board: str, wiring: Wiring, start: str | None) -> str:
    """Read and judge; give what came of it. Any exception but the documented ones is a failure."""
    try:
        trace = condition(recording_from(data, "mutated"), wiring, judge(board).engine.machine.board)
    except UnreadableRecording as refusal:
        return told(refusal)
    except BadWiring as refusal:
        return told(refusal)
    judgement = judge(board).judge(trace, start)  # type: ignore[arg-type]
    assert judgement.verdict in VERDICTS
    assert judgement.start <= judgement.end
    assert (judgement.verdict == "deviates") == bool(judgement.deviations)
    assert judgement.as_json()
    return judgement.verdict


starts = st.sampled_from([None, None, None, "power-up", "unknown"])


@fuzzed
@given(scrawled(), st.sampled_from(["its own", "its own", "line frequency", "a variant's", "by name"]), starts)
def test_scrawled_bytes_are_read_or_refused(data: bytes, way: str, start: str | None) -> None:
    """Bytes changed anywhere give a verdict, a message with the place, or a wiring that does not fit."""
    event(outcome(data, *wirings()[way], start))


@fuzzed
@given(still_read(), starts)
def test_changed_lines_are_judged(data: bytes, start: str | None) -> None:
    """Lines left out, turned over, not known, or followed by years of nothing: the judge gives a verdict."""
    event(outcome(data, *wirings()["its own"], start))


@fuzzed
@given(st.binary(max_size=400))
def test_junk_is_refused(data: bytes) -> None:
    """Bytes without sense are refused."""
    event(outcome(data, *wirings()["its own"], None))


@pytest.mark.parametrize("name", sorted(originals()))
def test_originals_are_judged(name: str) -> None:
    """The recordings themselves, cut, are read."""
    assert outcome(originals()[name], *wirings()["its own"], None) in {*VERDICTS, "does not fit"}

"""The fixture's end of the line protocol: whatever comes in is answered, and whatever ends it leaves the rig safe."""

from __future__ import annotations

import os
import threading

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bench_plans import TARNBECK, Behind
from boardgauge.rigs.board_rig import BoardRig
from boardgauge.rigs.serving import Answering, serve


@settings(max_examples=200)
@given(
    st.lists(
        st.one_of(
            st.text(max_size=30),
            st.sampled_from(
                [
                    "hello 1",
                    "start",
                    "set y=1",
                    "set y=2",
                    "set cc=1",
                    "wait 100",
                    "wait -1",
                    "safe",
                    "pulse 9000 y=1/0",
                ]
            ),
        ),
        max_size=12,
    )
)
def test_whatever_comes_in_is_answered_once(lines: list[str]) -> None:
    """A line that holds anything gets an answer that ends with ok, error or safe; an empty one gets none."""
    answering = Answering(BoardRig(TARNBECK))
    for line in lines:
        said = answering.answer(line)
        if not line.split():
            assert said == []
            continue
        assert said[-1].split()[0] in ("ok", "error", "safe")
        assert all(row.split()[0] not in ("ok", "error", "safe") for row in said[:-1])
        assert all("\n" not in row for row in said)


def test_nothing_is_driven_before_start() -> None:
    """Set and wait before start are refused."""
    answering = Answering(BoardRig(TARNBECK))
    assert answering.answer("set y=1") == ["error order start comes first"]
    assert answering.answer("wait 5") == ["error order start comes first"]


@pytest.mark.parametrize("ends", ["input", "answers", "bye"])
def test_whatever_ends_who_serves_a_rig_it_leaves_it_safe(ends: str) -> None:
    """The end of its input, an answer that nobody reads, and goodbye; the rig is let go of as well."""
    rig = Behind(BoardRig(TARNBECK))
    (source, ours), (answers, sink) = os.pipe(), os.pipe()
    served = threading.Thread(target=serve, args=(rig, source, sink), daemon=True)
    with open(ours, "wb", buffering=0) as asked, open(answers, "rb") as answered:
        served.start()
        asked.write(b"start\nset power=1 y=1\n")
        while not answered.readline().startswith(b"ok 1"):
            pass
        assert rig.behind.levels["y"] is True
        if ends == "answers":
            answered.close()
            asked.write(b"wait 1000\n")
        elif ends == "bye":
            asked.write(b"bye\n")
        else:
            asked.close()
        served.join(60)
        assert not served.is_alive()
    os.close(source)
    os.close(sink)
    assert rig.calls[-1] == "close"
    assert "safe" in rig.calls[-3:]


def test_after_silence_everything_is_safe_until_the_next_start() -> None:
    """The watchdog makes safe, refuses to drive on, and lets a new start be made."""
    rig = BoardRig(TARNBECK)
    answering = Answering(rig)
    answering.answer("start")
    answering.answer("set power=1 y=1")
    assert rig.levels["y"] is True
    answering.silence()
    assert rig.levels == rig.facts.drives
    assert answering.answer("set y=1")[0].startswith("error watchdog")
    assert answering.answer("wait 100")[0].startswith("error watchdog")
    assert rig.levels == rig.facts.drives
    answering.answer("start")
    assert answering.answer("set y=1")[-1].startswith("ok")

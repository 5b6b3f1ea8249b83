"""What comes of a recording does not hang on where it is judged; a worker that dies costs its own recording alone."""

from __future__ import annotations

import os
import signal
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st

from boardgauge.command.program import main
from boardgauge.many import order, running
from boardgauge.many.job import Item, Job, Outcome
from boardgauge.many.judging_one import judge_item
from boardgauge.many.order import InOrder
from boardgauge.many.workers import died, in_workers
from many_recordings import GOOD, OTHER, PACKED, TOO_SOON, Stuck, a_job, items_of, who_judges


@pytest.fixture
def workers_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """No recording is judged in this process."""
    monkeypatch.setattr(running, "SOON", 0)


@given(st.permutations(range(12)), st.lists(st.integers(0, 11), max_size=6))
def test_outcomes_come_once_and_in_order(arrival: list[int], again: list[int]) -> None:
    """However outcomes arrive, some of them twice, each is given once and in its place."""
    ordered = InOrder()
    given_out = []
    for number in [*arrival, *again]:
        ordered.add(Outcome(number, f"{number}"))
        given_out += [outcome.number for outcome in ordered.ready()]
    assert given_out == list(range(12))


def test_what_is_left_comes_in_order() -> None:
    """A run that is broken off gives what came out of order, gaps or not, once."""
    ordered = InOrder()
    for number in (4, 0, 2):
        ordered.add(Outcome(number, f"{number}"))
    assert [outcome.number for outcome in ordered.ready()] == [0]
    assert [outcome.number for outcome in ordered.left()] == [2, 4]
    assert list(ordered.left()) == []


def test_workers_find_what_is_found_here(tmp_path: Path) -> None:
    """Two workers give the outcomes that this process gives, in the order of the recordings, bad files among them."""
    bad = tmp_path / "bad.vcd"
    bad.write_text("$timescale 1 ms $end\n")
    items = items_of([GOOD, bad, TOO_SOON, tmp_path / "nowhere.vcd", PACKED, OTHER])
    packed = a_job().packed()
    there = list(in_workers(packed, items, 2, InOrder()))
    assert there == [judge_item(packed, item) for item in items]
    assert [outcome.error is None for outcome in there] == [True, False, True, False, True, True]


def test_the_window_bounds_what_is_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """With a window of one recording after the other, all are judged and in order."""
    monkeypatch.setattr(order, "WINDOW", 1)
    names = [outcome.name for outcome in in_workers(a_job().packed(), items_of([GOOD, OTHER, PACKED]), 2, InOrder())]
    assert names == [str(GOOD), str(OTHER), str(PACKED)]


@pytest.mark.usefixtures("workers_at_once")
def test_the_command_prints_the_same(tmp_path: Path) -> None:
    """What is printed for many is what is printed for each alone, then the count; with workers and without."""
    files = [str(GOOD), str(TOO_SOON), str(tmp_path / "nowhere.vcd"), str(PACKED)]
    alone = [CliRunner().invoke(main, ["judge", "tarnbeck", file]) for file in files]
    for more in (["--jobs", "1"], ["--jobs", "2"]):
        result = CliRunner().invoke(main, ["judge", "tarnbeck", *files, *more])
        assert result.exit_code == 2
        assert result.stdout == "".join(one.stdout for one in alone) + (
            "2 conforms, 1 deviates, 1 could not be judged\n"
        )
        assert result.stderr == "".join(one.stderr for one in alone)


def test_one_recording_starts_no_worker(monkeypatch: pytest.MonkeyPatch) -> None:
    """One recording is judged in this process, however large; so are small ones while little time has gone."""
    monkeypatch.setattr("boardgauge.many.workers.in_workers", lambda *_: pytest.fail("workers"))
    monkeypatch.setattr(running, "SMALL", 0)
    assert len(list(running.judge_all(a_job(), items_of([GOOD]), 4, InOrder()))) == 1
    monkeypatch.setattr(running, "SMALL", 1_000_000)
    monkeypatch.setattr(running.time, "monotonic", lambda: 0.0)
    assert len(list(running.judge_all(a_job(), items_of([GOOD, OTHER]), None, InOrder()))) == 2


def test_large_recordings_go_to_workers(monkeypatch: pytest.MonkeyPatch) -> None:
    """From the first large one on, recordings go to workers; what was judged before is not judged again."""
    gone = []

    def noted(packed: bytes, items: list[Item], most: int, ordered: InOrder) -> Iterator[Outcome]:
        gone.extend(item.number for item in items)
        yield from ()

    monkeypatch.setattr("boardgauge.many.workers.in_workers", noted)
    monkeypatch.setattr(running.time, "monotonic", lambda: 0.0)
    monkeypatch.setattr(running, "SMALL", GOOD.stat().st_size)
    items = items_of([GOOD, PACKED, OTHER])
    assert [outcome.number for outcome in running.judge_all(a_job(), items, 2, InOrder())] == [0]
    assert gone == [1, 2]


@pytest.mark.parametrize("most", [1, 2])
def test_a_worker_that_dies(tmp_path: Path, most: int) -> None:
    """The recording that a worker died over is reported; all the others are judged."""
    stuck = tmp_path / "stuck"
    killer = threading.Thread(target=lambda: os.kill(who_judges(stuck), signal.SIGTERM))
    killer.start()
    items = [Stuck(0, (str(stuck),)), *items_of([GOOD, OTHER], 1)]
    found = list(in_workers(a_job().packed(), items, most, InOrder()))  # type: ignore[arg-type]
    killer.join()
    assert [outcome.name for outcome in found] == [str(stuck), str(GOOD), str(OTHER)]
    assert found[0].error is not None
    assert found[0].error.startswith(f"{stuck}: the process that judged it ")
    assert [outcome.judgement is not None for outcome in found[1:]] == [True, True]


def test_how_a_worker_died_is_told() -> None:
    """The signal that ended a worker is named, with what it may mean; else its status is told."""
    assert died(-9) == "the process that judged it was ended by SIGKILL, as it happens when memory runs out"
    assert died(-11) == "the process that judged it was ended by SIGSEGV"
    assert died(3) == "the process that judged it ended with status 3"


def test_a_fault_of_ours_costs_one_recording(monkeypatch: pytest.MonkeyPatch) -> None:
    """What cannot happen is told as ours with the recording's name, and the next recording is judged."""

    def fails(*_: object) -> None:
        raise ZeroDivisionError("of ours")

    packed = a_job().packed()
    first, second = items_of([GOOD, OTHER])
    with monkeypatch.context() as patch:
        patch.setattr("boardgauge.many.judging_one.condition", fails)
        error = judge_item(packed, first).error
        assert error is not None
        assert error.startswith(f"{GOOD}: a fault of Boardgauge itself, not of your files: ZeroDivisionError: of ours")
        patch.setenv("BOARDGAUGE_DEBUG", "1")
        assert "Traceback" in str(judge_item(packed, first).error)
    assert judge_item(packed, second).error is None


def test_a_packed_job_is_the_job() -> None:
    """What a worker unpacks is what was packed."""
    job = a_job(start="unknown", charts="png")
    assert Job.unpacked(job.packed()) == job

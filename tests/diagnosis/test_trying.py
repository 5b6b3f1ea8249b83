"""Who tries the faults changes nothing of what comes of them."""

from __future__ import annotations

import os
import signal

import pytest
from attrs import frozen

from boardgauge.boards import board_path
from boardgauge.diagnosis import trying
from boardgauge.diagnosis.trying import Trial
from boardgauge.faults import Fault, fault_of, faults_of
from boardgauge.faults.listing import unwatched
from boardgauge.language import read_board
from boardgauge.language.quantities import S
from boardgauge.machine.compile import compile_board
from boardgauge.machine.run import Timeline
from boardgauge.machine.simulate import Simulator
from boardgauge.traces import Trace, condition
from boardgauge.traces.simulated import recording_of

BOARD = read_board(board_path("relay-on-delay"))
GOOD = unwatched(BOARD)
LIFE = Timeline({"power": ((S, True),), "control": ((3 * S, True), (40 * S, False), (50 * S, True))}, 80 * S)


def _trace(fault: str) -> Trace:
    return condition(recording_of(Simulator(compile_board(fault_of(BOARD, fault).board)).run(LIFE), BOARD), None, BOARD)


def test_workers_find_what_one_process_finds(monkeypatch: pytest.MonkeyPatch) -> None:
    """With two workers from the first fault on the outcomes are the same, in the same order, of the same faults."""
    trace, faults = _trace("out.late-on"), faults_of(BOARD)
    here = Trial(GOOD, trace).of(faults)
    monkeypatch.setattr(trying, "PATIENCE", -1.0)
    seen: list[tuple[int, int]] = []
    there = Trial(GOOD, trace, None, 2, lambda done, total: seen.append((done, total))).of(faults)
    assert there == here
    assert seen == [(number, len(faults)) for number in range(len(faults))]
    explained = [(a.explanation, b.explanation) for a, b in zip(here, there, strict=True)]
    assert sum(a is not None for a, _ in explained) >= 2
    assert all(b is not None and a.faults[0] is b.faults[0] for a, b in explained if a is not None)


@frozen
class _Deadly(Fault):
    """A fault that ends whatever process unpacks it."""

    def __reduce__(self) -> tuple[object, ...]:
        return os._exit, (3,)


def test_a_worker_that_dies_costs_no_fault(monkeypatch: pytest.MonkeyPatch) -> None:
    """What a worker had as it died, and all that no worker took, is tried here."""
    trace, faults = _trace("out.late-on"), list(faults_of(BOARD))
    here = Trial(GOOD, trace).of(faults)
    row = faults[3]
    faults[3] = _Deadly(row.id, row.name, row.group, row.of, row.clause, row.board, row.any_size, row.timings)
    monkeypatch.setattr(trying, "PATIENCE", -1.0)
    # As some libraries leave it: a pipe that nobody reads would end us, and the run of all the tests.
    signal.signal(signal.SIGPIPE, signal.SIG_DFL)
    there = Trial(GOOD, trace, None, 2).of(faults)
    assert signal.getsignal(signal.SIGPIPE) is signal.SIG_IGN
    assert [o.deviates for o in there] == [o.deviates for o in here]
    assert [o.explanation is None for o in there] == [o.explanation is None for o in here]

"""A rig run by a clock: its time is that of the clock, however often it is asked."""

from __future__ import annotations

from fractions import Fraction

import pytest

from bench_plans import TARNBECK
from boardgauge.rigs.board_rig import BoardRig
from boardgauge.rigs.paced import LONGEST, TICK, Paced
from boardgauge.rigs.rig import Change, RigFacts

S = 1_000_000


class Clock:
    """A clock that goes on only where somebody sleeps, and by a little with each look."""

    def __init__(self) -> None:
        self.now = 0

    def look(self) -> int:
        self.now += 10
        return self.now

    def sleep(self, microseconds: int) -> None:
        self.now += microseconds


def paced(speed: int | Fraction, seed: int = 3) -> tuple[Paced, Clock]:
    clock = Clock()
    rig = Paced(BoardRig(TARNBECK, seed=seed), Fraction(speed), clock=clock.look, sleep=clock.sleep)
    return rig, clock


def everything(rig: Paced, until: int) -> list[Change]:
    found: list[Change] = []
    while (report := rig.wait(until)).now < until:
        found += report.changes
    return found + list(report.changes)


@pytest.mark.parametrize("speed", [1, 60, Fraction(1, 2)])
def test_it_shows_what_the_board_shows_at_its_moments(speed: int | Fraction) -> None:
    """The changes are those of the rig behind, given the same moments; they come when the clock has reached them."""
    rig, clock = paced(speed)
    rig.start()
    first = rig.set({"power": True, "lps": True, "hps": True, "y": True})
    changes = everything(rig, 40 * S)
    assert clock.now * speed >= 40 * S
    behind = BoardRig(TARNBECK, seed=3)
    behind.start()
    behind.wait(first - 1)
    assert behind.set({"power": True, "lps": True, "hps": True, "y": True}) == first
    same: list[Change] = []
    while (report := behind.wait(40 * S)).now < 40 * S:
        same += report.changes
    assert changes == same + list(report.changes)


def test_no_wait_is_long_and_none_reports_the_future() -> None:
    """A wait for an hour comes back within a tenth of a second, at the time of the clock."""
    rig, clock = paced(1)
    rig.start()
    began = clock.now
    report = rig.wait(3600 * S)
    assert clock.now - began <= LONGEST + TICK + 100
    assert report.now <= clock.now - began + 20


def test_what_came_before_a_set_is_told_after_it() -> None:
    """A change between the last report and a set is in the next report, at its own moment."""
    rig, clock = paced(1)
    rig.start()
    rig.set({"power": True, "lps": True, "hps": True, "y": True})
    clock.now += 60 * S
    moment = rig.set({"y": False})
    found = everything(rig, moment + 2 * S)
    started = next(c for c in found if c.signal == "cc" and c.value)
    assert started.time < moment
    assert [c.time for c in found] == sorted(c.time for c in found)


def test_a_pulse_lasts_as_long_as_it_is_asked_to() -> None:
    """Its two moments are that far apart, and the clock has gone so far."""
    rig, clock = paced(1)
    rig.start()
    before = clock.now
    begins, ends = rig.pulse({"y": True}, {"y": False}, 28_000)
    assert ends - begins == 28_000
    assert clock.now - before >= 28_000


def test_it_is_not_virtual_and_has_a_watchdog() -> None:
    """All else is said of it as of the rig behind."""
    rig, _ = paced(1)
    assert (rig.facts.virtual, rig.facts.watchdog) == (False, 1_000_000)
    assert rig.facts.sees == rig.behind.facts.sees


def test_no_real_board_stands_on_a_simulated_rig_whatever_its_clock() -> None:
    """A simulated board by the clock is one all the same; and nothing real is there where time is virtual."""
    rig, _ = paced(60)
    assert not rig.facts.virtual
    assert rig.facts.simulated
    virtual = [RigFacts("x", kind, {}, (), virtual=True).simulated for kind in ("process", "library")]
    real = [RigFacts("x", kind, {}, ()).simulated for kind in ("process", "serial", "modbus", "person")]
    assert (virtual, real) == ([True] * 2, [False] * 4)

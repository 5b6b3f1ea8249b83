"""A rule-based state machine that pokes a firmware and has it judged.

Law of this module: an example is a board from its first power-up; it is judged once, at its end, and a firmware that
crashes fails the example as one that deviates does. The rig is opened once for all examples.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable

from boardgauge.firmware.firmware_bench import FirmwareBench
from boardgauge.hypothesis.strategies import (
    Change,
    after,
    changes,
    first_reading,
    last_wait,
    positions,
    telling_waits,
    waits,
)
from boardgauge.language.model import Board, InputKind
from boardgauge.language.quantities import MS, S
from boardgauge.language.quantity_writer import write_plain_time
from boardgauge.rigs.rig import POWER, Rig, RigFailure
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, precondition, rule


def firmware_machine(board: Board, open_rig: Callable[[], Rig]) -> type[RuleBasedStateMachine]:
    """Give a state machine for a firmware; its ``TestCase`` is what pytest runs.

    ``open_rig`` gives the rig, in virtual time; it is called again after the firmware crashed. An example sets the
    settings and switches the supply on, then flips contacts, changes what sensors read, and lets the supply fail for
    a second, with a wait after each; at its end it waits once more, for as long as the longest time of the spec, and
    all is judged.
    """
    held = _Held(board, open_rig)
    last = last_wait(board)
    gap = board.rides_through.greatest + S
    settles = max(100 * MS, board.responds_within)
    times = st.sampled_from(["0 s", *map(write_plain_time, telling_waits(board))])
    sensors = [name for name, row in board.inputs.items() if row.kind is InputKind.SENSOR]
    contacts = [name for name in board.inputs if name not in sensors]

    class FirmwareMachine(RuleBasedStateMachine):
        """Pokes the firmware; every method is one thing done at the bench."""

        def __init__(self) -> None:
            super().__init__()
            self.bench = held.bench()

        @initialize(chosen=positions(board))
        def switch_on(self, chosen: dict[str, str]) -> None:
            self.bench.begin(chosen, **{name: first_reading(board, name) for name in sensors})
            self._supply()

        @rule(name=st.sampled_from([*contacts, POWER]), then_wait=times)
        def flip(self, name: str, then_wait: str) -> None:
            if name == POWER:
                self.bench.power(False)
                self.bench.wait(gap)
                self._supply()
            else:
                self.bench.set({name: not self.bench.level(name)})
                self.bench.wait(after(board, name))
            self.bench.wait(then_wait)

        # Beside being of use, it is what a step can always be left out for: with one rule alone nothing shrinks.
        @rule(time=waits(board).map(write_plain_time))
        def wait(self, time: str) -> None:
            self.bench.wait(time)

        @precondition(lambda self: bool(sensors))
        @rule(reading=changes(board, sensors) if sensors else st.none(), then_wait=times)
        def read(self, reading: Change, then_wait: str) -> None:
            name, value = reading
            self.bench.set({name: value})
            self.bench.wait(after(board, name))
            self.bench.wait(then_wait)

        def _supply(self) -> None:
            # A board reads its inputs as the supply comes; what changes in the microseconds after that proves nothing.
            self.bench.power(True)
            self.bench.wait(settles)

        def teardown(self) -> None:
            if self.bench.checked:
                return
            try:
                self.bench.wait(last)
                self.bench.check(undecided=True)
            except RigFailure:
                held.let_go()
                raise

    FirmwareMachine.TestCase.settings = settings(
        max_examples=150,
        stateful_step_count=12,
        deadline=None,
        # Which lines of the judge a failing example runs through tells nobody what is wrong with the firmware.
        phases=[phase for phase in Phase if phase is not Phase.explain],
        suppress_health_check=[HealthCheck.too_slow],
        # A firmware that crashed fails what comes after it too; one shortest example tells all there is to know.
        report_multiple_bugs=False,
    )
    return FirmwareMachine


class _Held:
    """The bench, with its rig open until the firmware crashes or the process ends."""

    def __init__(self, board: Board, open_rig: Callable[[], Rig]) -> None:
        self._board = board
        self._open = open_rig
        self._bench: FirmwareBench | None = None

    def bench(self) -> FirmwareBench:
        if self._bench is None:
            self._bench = FirmwareBench(self._board, self._open())
        self._bench.checked = True
        return self._bench

    def let_go(self) -> None:
        if self._bench is not None:
            with contextlib.suppress(RigFailure):
                self._bench.rig.safe()
            self._bench.rig.close()
            self._bench = None

    def __del__(self) -> None:
        self.let_go()

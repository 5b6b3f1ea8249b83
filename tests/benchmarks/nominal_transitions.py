"""One nominal run of the heat-pump board in the general state-machine library ``transitions``.

Law of this module: the same tally as ``nominal_plain``. What the board keeps is one small machine each, what comes at a
terminal is a trigger, and an instant is a look of all the machines until none moves: as the library is meant to be
used.
"""

from __future__ import annotations

from typing import Any

from nominal_edges import (
    BYPASS,
    CC,
    COLD,
    COOLS,
    DEFROST,
    HOUR,
    HPS,
    INTERVALS,
    J0,
    J1,
    LED,
    LP_TRIP,
    LPS,
    NEVER,
    PAUSE,
    POWER,
    POWER_UP,
    QUICK,
    RESTART,
    SLOW,
    TAKES_IN,
    TALLY,
    WARM,
    Y,
)
from transitions import Machine


class _Line:
    """An input terminal: settled, or changed and not yet taken in."""

    def __init__(self) -> None:
        self.at = NEVER
        rows = [
            {"trigger": "edge", "source": "settled", "dest": "changed", "before": "begin"},
            {"trigger": "edge", "source": "changed", "dest": "settled", "before": "end"},
            {"trigger": "take_in", "source": "*", "dest": "settled", "before": "end"},
        ]
        Machine(self, ["settled", "changed"], initial="settled", transitions=rows, auto_transitions=False)

    def begin(self, time: int) -> None:
        self.at = time + TAKES_IN

    def end(self, time: int) -> None:
        self.at = NEVER


class _Lamp:
    """The lamp as seen: what its parts add up to."""

    def __init__(self) -> None:
        self.since = self.quick = self.slow = self.flashes = 0
        self.groups = [0] * 16
        rows = [
            {"trigger": "lights", "source": "*", "dest": "lit", "before": "dark_was"},
            {"trigger": "darkens", "source": "*", "dest": "dark", "before": "lit_was"},
        ]
        Machine(self, ["dark", "lit"], initial="dark", transitions=rows, auto_transitions=False)

    def dark_was(self, time: int) -> None:
        length, self.since = time - self.since, time
        if length > PAUSE:
            self.groups[min(self.flashes, 15)] += 1
            self.flashes = 0

    def lit_was(self, time: int) -> None:
        length, self.since = time - self.since, time
        if length <= QUICK:
            self.quick += 1
        elif length > SLOW:
            self.slow += 1
        else:
            self.flashes += 1


def _look(source: str, dest: str, condition: str, after: str | None = None) -> dict[str, str | None]:
    return {"trigger": "look", "source": source, "dest": dest, "conditions": condition, "after": after}


_PARTS: dict[str, tuple[list[str], list[dict[str, str | None]]]] = {
    "lp": (["clear", "locked"], [_look("clear", "locked", "lp_locks")]),
    "hp": (
        ["clear", "waits"],
        [
            _look("waits", "clear", "call_over"),
            _look("clear", "waits", "hp_trips", "hp_tripped"),
            {"trigger": "started", "source": "*", "dest": "clear"},
        ],
    ),
    "hard": (["clear", "locked"], [_look("clear", "locked", "third_trip")]),
    "cc": (["off", "on"], [_look("on", "off", "must_stop", "stopped"), _look("off", "on", "may_start", "started")]),
    "defrost": (
        ["off", "on"],
        [_look("off", "on", "frosted", "defrost_begun"), _look("on", "off", "defrost_over", "defrost_ended")],
    ),
}


class _Part:
    """One thing that the board keeps: asks and tells the board."""

    state: str
    look: Any
    started: Any
    lose_power: Any

    def __init__(self, board: Board, name: str) -> None:
        states, rows = _PARTS[name]
        bound = [
            {key: getattr(board, v) if key in {"conditions", "after"} and v else v for key, v in row.items()}
            for row in rows
        ]
        bound.append({"trigger": "lose_power", "source": "*", "dest": states[0]})
        Machine(
            self,
            states,
            initial=states[0],
            transitions=bound,
            auto_transitions=False,
            ignore_invalid_triggers=True,
        )


class Board:
    """The machines of the board, and what they look at."""

    def __init__(self) -> None:
        self.lines: list[Any] = [_Line() for _ in range(CC)]
        self.lamp: Any = _Lamp()
        self.raw, self.levels = [False] * CC, [False] * CC
        self.shown, self.commands, self.seen = [False] * 5, [0] * 5, 0
        self.lp, self.hp, self.hard = _Part(self, "lp"), _Part(self, "hp"), _Part(self, "hard")
        self.cc, self.defrost = _Part(self, "cc"), _Part(self, "defrost")
        self.parts = (self.lp, self.hp, self.hard, self.cc, self.defrost)
        self.now, self.powered = 0, False
        self.off()

    # -- what the machines ask -----------------------------------------------------------------------------------

    def lp_trip(self) -> bool:
        return self.lp_open != NEVER and self.now >= self.lp_open + LP_TRIP

    def lp_locks(self) -> bool:
        return self.levels[Y] and self.lp_trip()

    def call_over(self) -> bool:
        return not self.levels[Y]

    def hp_trips(self) -> bool:
        return self.levels[Y] and self.cc.state == "on" and not self.levels[HPS] and not self.lp_trip()

    def third_trip(self) -> bool:
        return len(self.trips) >= 3

    def locked_out(self) -> bool:
        return self.lp.state == "locked" or self.hard.state == "locked"

    def must_stop(self) -> bool:
        return not self.levels[Y] or not self.levels[HPS] or self.locked_out()

    def may_start(self) -> bool:
        return self.levels[Y] and self.levels[HPS] and not self.locked_out() and self.now >= self.ready

    def frosted(self) -> bool:
        return self.adding and self.cold_run >= self.target

    def defrost_over(self) -> bool:
        warm = self.levels[WARM] and not self.levels[COLD]
        return warm or self.levels[COOLS] or self.cc.state == "off" or self.now >= self.defrost_end

    # -- what they tell ------------------------------------------------------------------------------------------

    def hp_tripped(self) -> None:
        self.trips = [t for t in self.trips if self.now - t < HOUR] + [self.now]

    def stopped(self) -> None:
        self.ready = self.now + RESTART

    def started(self) -> None:
        self.bypass = self.now + BYPASS
        self.hp.started()

    def defrost_begun(self) -> None:
        self.adding, self.defrost_end = False, self.now + DEFROST

    def defrost_ended(self) -> None:
        self.cold_run = 0

    # -- instants ------------------------------------------------------------------------------------------------

    def off(self) -> None:
        self.powered = self.adding = False
        for part in self.parts:
            part.lose_power()
        self.ready = self.bypass = self.defrost_end = self.lp_open = self.due = self.timing = NEVER
        self.trips: list[int] = []
        self.cold_run = self.since = 0
        self.show()
        for line in self.lines:
            line.take_in(0)

    def up(self, time: int) -> None:
        self.powered, self.levels, self.ready = True, list(self.raw), time + POWER_UP
        self.target = INTERVALS[self.levels[J0] + 2 * self.levels[J1]]
        self.settle(time)

    def show(self) -> None:
        cc, defrost, hard = self.cc.state == "on", self.defrost.state == "on", self.locked_out()
        rv = self.powered and (self.levels[COOLS] or defrost) and not hard
        for index, value in enumerate((cc, cc and not defrost, rv, defrost, hard)):
            if value != self.shown[index]:
                self.shown[index] = value
                self.commands[index] += 1

    def settle(self, now: int) -> None:
        self.now, levels = now, self.levels
        while True:
            before = [part.state for part in self.parts]
            open_ = not levels[LPS] and self.cc.state == "on" and self.defrost.state == "off" and now >= self.bypass
            self.lp_open = min(self.lp_open, now) if open_ else NEVER
            if not levels[Y]:
                self.trips = []
            for part in (self.lp, self.hp, self.hard, self.cc):
                part.look()
            if self.adding:
                self.cold_run += now - self.since
            cold = levels[COLD] and not levels[WARM] and not levels[COOLS]
            self.adding = cold and self.cc.state == "on" and self.defrost.state == "off"
            self.since = now
            self.defrost.look()
            if before == [part.state for part in self.parts]:
                break
        self.show()
        dues = [NEVER]
        if self.cc.state == "off":
            dues.append(self.ready)
        else:
            dues.append(self.bypass)
        dues.append(min(NEVER, self.lp_open + LP_TRIP))
        if self.defrost.state == "on":
            dues.append(self.defrost_end)
        if self.adding:
            dues.append(now + self.target - self.cold_run)
        self.timing = min(due for due in dues if due > now)
        self.look_ahead()

    def look_ahead(self) -> None:
        self.due = min(self.timing, *(line.at for line in self.lines))

    def instant(self, now: int) -> None:
        for index, line in enumerate(self.lines):
            if line.at <= now:
                line.take_in(now)
                self.levels[index] = self.raw[index]
        self.settle(now)


def nominal_run(edges: list[tuple[int, int, int]]) -> dict[str, int]:
    """Step one nominal run over edges (time, signal, value); give its tally."""
    board = Board()
    for time, signal, value in edges:
        while time >= board.due:
            board.instant(board.due)
        if signal == LED:
            if value:
                board.lamp.lights(time)
            else:
                board.lamp.darkens(time)
        elif signal >= CC:
            board.seen += 1
        elif signal == POWER:
            if not value:
                board.off()
            elif not board.powered:
                board.up(time)
        elif board.raw[signal] != bool(value):
            board.raw[signal] = bool(value)
            if board.powered:
                board.lines[signal].edge(time)
                board.look_ahead()
    lamp = board.lamp
    return dict(zip(TALLY, (*board.commands, board.seen, lamp.quick, lamp.slow, *lamp.groups[1:8]), strict=True))

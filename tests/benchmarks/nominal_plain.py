"""One nominal run of the heat-pump board as a plain Python function, written for speed.

Law of this module: the same tally as ``nominal_c`` and ``nominal_transitions``; see ``nominal_edges``.
"""

from __future__ import annotations

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


class _Board:
    """What the board is in; ``settle`` is one instant."""

    def __init__(self) -> None:
        self.levels = [False] * CC
        self.shown = [False] * 5
        self.commands = [0] * 5
        self.off()

    def off(self) -> None:
        self.powered = self.cc = self.lp_locked = self.hp_waits = self.hp_locked = self.defrost = self.adding = False
        self.ready = self.bypass = self.defrost_end = self.lp_open = NEVER
        self.trips: list[int] = []
        self.cold_run = self.since = 0
        self.show(False, False, False, False)

    def up(self, now: int, levels: list[bool]) -> int:
        self.powered, self.levels, self.ready = True, levels, now + POWER_UP
        self.target = INTERVALS[levels[J0] + 2 * levels[J1]]
        return self.settle(now)

    def show(self, cc: bool, rv: bool, defrost: bool, alarm: bool) -> None:
        for index, value in enumerate((cc, cc and not defrost, rv, defrost, alarm)):
            if value != self.shown[index]:
                self.shown[index] = value
                self.commands[index] += 1

    def settle(self, now: int) -> int:
        """Move until nothing moves; give when something is due next."""
        levels = self.levels
        y, o, lps, hps, cold, warm = levels[Y], levels[COOLS], levels[LPS], levels[HPS], levels[COLD], levels[WARM]
        while True:
            before = (self.cc, self.lp_locked, self.hp_waits, self.hp_locked, self.defrost)
            if not lps and self.cc and not self.defrost and now >= self.bypass:
                if self.lp_open == NEVER:
                    self.lp_open = now
            else:
                self.lp_open = NEVER
            lp_trip = self.lp_open != NEVER and now >= self.lp_open + LP_TRIP
            if lp_trip and y:
                self.lp_locked = True
            if not y:
                self.hp_waits, self.trips = False, []
            elif self.cc and not hps and not lp_trip and not self.hp_waits:
                self.hp_waits = True
                self.trips = [t for t in self.trips if now - t < HOUR] + [now]
                self.hp_locked = self.hp_locked or len(self.trips) >= 3
            hard = self.lp_locked or self.hp_locked
            if self.cc and (not y or not hps or hard):
                self.cc, self.ready = False, now + RESTART
            elif not self.cc and y and hps and not hard and now >= self.ready:
                self.cc, self.hp_waits, self.bypass = True, False, now + BYPASS
            if self.adding:
                self.cold_run += now - self.since
                self.since = now
            self.adding = self.cc and not self.defrost and not o and cold and not warm
            self.since = now
            if self.adding and self.cold_run >= self.target:
                self.defrost, self.adding, self.defrost_end = True, False, now + DEFROST
            elif self.defrost and ((warm and not cold) or o or not self.cc or now >= self.defrost_end):
                self.defrost, self.cold_run = False, 0
            if before == (self.cc, self.lp_locked, self.hp_waits, self.hp_locked, self.defrost):
                break
        self.show(self.cc, (o or self.defrost) and not hard, self.defrost, hard)
        due = NEVER
        if not self.cc and now < self.ready:
            due = self.ready
        if self.cc and now < self.bypass:
            due = self.bypass
        if self.lp_open != NEVER and now < self.lp_open + LP_TRIP:
            due = min(due, self.lp_open + LP_TRIP)
        if self.defrost:
            due = min(due, self.defrost_end)
        if self.adding:
            due = min(due, now + self.target - self.cold_run)
        return due


def nominal_run(edges: list[tuple[int, int, int]]) -> dict[str, int]:
    """Step one nominal run over edges (time, signal, value); give its tally."""
    board = _Board()
    raw, settles = [0] * CC, [NEVER] * CC
    due = timing = NEVER
    unsettled = 0
    seen = quick = slow = flashes = lamp_since = 0
    groups = [0] * 16
    for time, signal, value in edges:
        if time >= due:
            while time >= due:
                now = due
                if unsettled:
                    for index, at in enumerate(settles):
                        if at <= now:
                            settles[index] = NEVER
                            unsettled -= 1
                            board.levels[index] = bool(raw[index])
                timing = board.settle(now) if board.powered else NEVER
                due = min(timing, *settles) if unsettled else timing
        if signal == LED:
            length, lamp_since = time - lamp_since, time
            if value:
                if length > PAUSE:
                    groups[min(flashes, 15)] += 1
                    flashes = 0
            elif length <= QUICK:
                quick += 1
            elif length > SLOW:
                slow += 1
            else:
                flashes += 1
        elif signal >= CC:
            seen += 1
        elif signal != POWER:
            raw[signal] = value
            if not board.powered:
                continue
            if board.levels[signal] != value:
                settles[signal] = time + TAKES_IN
                unsettled += 1
                due = min(due, time + TAKES_IN)
            elif settles[signal] != NEVER:
                settles[signal] = NEVER
                unsettled -= 1
                due = min(timing, *settles) if unsettled else timing
        elif value and not board.powered:
            settles, unsettled = [NEVER] * CC, 0
            due = timing = board.up(time, [bool(v) for v in raw])
        elif not value:
            board.off()
            settles, unsettled = [NEVER] * CC, 0
            due = timing = NEVER
    return dict(zip(TALLY, (*board.commands, seen, quick, slow, *groups[1:8]), strict=True))

"""What a person wrote on the sheet of a plan, as a trace that a judge can read.

Law of this module: nothing is claimed that the person cannot have seen. Every written time is off by up to a reaction,
either way; an output is known while it was watched or looked at, and not known otherwise.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from fractions import Fraction

import numpy as np
from attrs import define, evolve, field, frozen

from boardgauge.language.model import Board
from boardgauge.language.quantities import MS, S
from boardgauge.language.quantity_writer import write_pattern
from boardgauge.machine.lamp_wave import parts
from boardgauge.machine.run import POWER, Edges, Value
from boardgauge.plans.carrying import wiring_of
from boardgauge.plans.pace import asks_for_a_time, by_hand, rig_only
from boardgauge.plans.plan import Observe, Set, Sitting, Wait, WaitFor
from boardgauge.traces.conditioning import condition
from boardgauge.traces.recording import Channel, Recording, channel_of
from boardgauge.traces.trace import Trace
from boardgauge.traces.wave import NONE, Wave

REACTION = 500 * MS
"""How far a time that a person wrote down may be off, either way (common practice with a stopwatch, no source)."""


@frozen
class Written:
    """What a person wrote at a step: ``time`` on the running stopwatch (microseconds; None where it never came), and,
    of a look, what was seen otherwise than it should be (outputs, and what lamps showed; "" where it was as it should).
    """

    time: int | None = None
    outputs: Mapping[str, bool] = field(factory=dict)
    lamps: Mapping[str, str] = field(factory=dict)


@frozen
class Sheet:
    """What a person wrote for one sitting, by the number of the step (from 0)."""

    sitting: Sitting
    written: Mapping[int, Written]


class NotAllWritten(ValueError):
    """A sheet lacks a time, or its times are not in order; the message says at which step."""


def check_sheet(sheet: Sheet, reaction: int = REACTION) -> None:
    """Raise NotAllWritten where a sheet lacks a time, or one comes before an earlier one."""
    last = 0
    for number, step in enumerate(sheet.sitting.steps):
        if not asks_for_a_time(sheet.sitting, number):
            continue
        place = f"sitting {sheet.sitting.id}, step {number + 1}"
        row = sheet.written.get(number)
        if row is None:
            raise NotAllWritten(f"{place}: nothing is written")
        if row.time is None:
            if not isinstance(step, WaitFor):
                raise NotAllWritten(f"{place}: only what is waited for may not come")
            continue
        if row.time + 2 * reaction < last:
            raise NotAllWritten(f"{place}: its time is before that of an earlier step")
        last = max(last, row.time)


@define
class _Known:
    """One signal as it is known: (earliest, latest, value) changes in order; None for not known."""

    rows: list[tuple[int, int, bool | None]] = field(factory=list)

    def add(self, earliest: int, latest: int, value: bool | None) -> None:
        if self.rows and self.rows[-1][2] == value:
            return
        floor = self.rows[-1][1] if self.rows else 0
        if value is not None and self.rows and self.rows[-1][2] is not None:
            earliest, latest = max(earliest, self.rows[-1][0]), max(latest, floor)
        else:
            earliest = latest = max(latest if value is not None else earliest, floor)
        self.rows.append((earliest, latest, value))


def trace_of_sheet(sheet: Sheet, board: Board, reaction: int = REACTION) -> Trace:
    """Give the trace of what a person did and saw. Raises NotAllWritten."""
    check_sheet(sheet, reaction)
    sheet = evolve(sheet, sitting=by_hand(sheet.sitting))
    known: dict[str, _Known] = {name: _Known() for name in (*board.outputs, *board.lamps)}
    driven: dict[str, list[tuple[int, Value]]] = {}
    times = _following(sheet)
    now = end = last = 0
    for number, step in enumerate(sheet.sitting.steps):
        row = sheet.written.get(number, Written())
        # The order of the steps is known, whatever the stopwatch says: each lies no earlier than the one before.
        last = max(last, row.time or 0)
        at = now if row.time is None else last
        match step:
            case Set(inputs=inputs, power=power) if not rig_only(sheet.sitting, number):
                changes: dict[str, Value] = dict(inputs)
                if power is not None:
                    changes[POWER] = power
                    for lane in known.values():
                        lane.add(at - reaction, at - reaction, None)
                for name, value in changes.items():
                    driven.setdefault(name, []).append((at, value))
                now = at
            case Wait(time=time):
                now += time if not rig_only(sheet.sitting, number) else 0
            case WaitFor():
                now = _waited(known[step.signal], step, now, None if row.time is None else at, times[number], reaction)
            case Observe():
                _looked(known, step, row, board, at, reaction)
                now = at + step.held
        end = max(end, now)
    return _trace(sheet, board, driven, known, end + reaction + S, reaction)


def _following(sheet: Sheet) -> list[int]:
    """Give for each step what the stopwatch showed at the next one that has a time."""
    found = [1 << 60] * len(sheet.sitting.steps)
    for number in range(len(found) - 2, -1, -1):
        row = sheet.written.get(number + 1)
        found[number] = found[number + 1] if row is None or row.time is None else row.time
    return found


def _waited(lane: _Known, step: WaitFor, since: int, seen: int | None, following: int, reaction: int) -> int:
    """Note what waiting for a change tells: not there yet while it was watched, then there.

    ``following`` is what the stopwatch showed at the next step: what it may have brought about is not claimed.
    """
    until = since + step.at_most if seen is None else seen
    if until - reaction > since + reaction:
        lane.add(since + reaction, since + reaction, not step.level)
    if seen is None or following - reaction <= seen + reaction + 1:
        lane.add(until - reaction, until - reaction, None)
        return until
    lane.add(max(0, seen - reaction), seen + reaction, step.level)
    lane.add(seen + reaction + 1, seen + reaction + 1, None)
    return seen


def _looked(known: Mapping[str, _Known], step: Observe, row: Written, board: Board, at: int, reaction: int) -> None:
    begin, over = at + reaction, at + step.held - reaction
    if over <= begin:
        return
    for name, level in {**step.outputs, **row.outputs}.items():
        known[name].add(begin, begin, level)
        known[name].add(over, over, None)
    for name, shows in {**step.lamps, **row.lamps}.items():
        lamp = board.lamps[name]
        pattern = next((line.shows for line in lamp.lines if write_pattern(line.shows) == shows), None)
        if pattern is None:
            continue
        time = begin
        for lit, length in parts(lamp, pattern):
            if time >= over:
                break
            known[name].add(time, time, lit)
            if length is None:
                break
            time += length
        known[name].add(over, over, None)


def _trace(
    sheet: Sheet,
    board: Board,
    driven: Mapping[str, list[tuple[int, Value]]],
    known: Mapping[str, _Known],
    end: int,
    reaction: int,
) -> Trace:
    wiring = wiring_of(board, sheet.sitting)
    signals: dict[str, Edges] = {}
    for name in (POWER, *board.inputs):
        rests = name != POWER and board.inputs[name].rests_on
        start = sheet.sitting.start.get(name, rests)
        signals[name] = Edges(start, tuple(driven.get(name, ())))
    channels: dict[str, Channel] = {}
    for wire in wiring.wires:
        if wire.signal in signals:
            channels[wire.channel] = _channel(wire.channel, signals[wire.signal])
    file = f"sitting {sheet.sitting.id}, as written"
    trace = condition(Recording(file, "VCD", 0, end, channels), wiring, board)
    waves = {name: _spread(wave, reaction) for name, wave in trace.waves.items()}
    waves.update({name: _wave(name, lane) for name, lane in known.items()})
    unwired = tuple(name for name in trace.unwired if name not in known)
    written = repr((sheet.sitting, sorted(sheet.written.items()), reaction)).encode()
    return evolve(trace, waves=waves, late=reaction, unwired=unwired, sha256=hashlib.sha256(written).hexdigest())


def _channel(name: str, edges: Edges) -> Channel:
    points = [(0, edges.initial), *edges.changes]
    merged: dict[int, Value] = dict(points)
    times = np.array(list(merged), dtype=np.int64)
    return channel_of(name, times, np.array([float(Fraction(v)) for v in merged.values()], dtype=np.float64))


def _spread(wave: Wave, reaction: int) -> Wave:
    early = np.maximum.accumulate(np.maximum(wave.earliest - reaction, 0)) if len(wave) else wave.earliest
    late = np.maximum.accumulate(wave.latest + reaction) if len(wave) else wave.latest
    return Wave(wave.signal, wave.channel, wave.initial, early, late, wave.recorded, wave.values, early, late)


def _wave(name: str, lane: _Known) -> Wave:
    if not lane.rows:
        return Wave(name, name, None, NONE, NONE, NONE, np.empty(0, dtype=np.int8), NONE, NONE)
    rows = [row for row in lane.rows if row is not lane.rows[0] or row[2] is not None]
    early = np.maximum.accumulate(np.array([row[0] for row in rows], dtype=np.int64))
    late = np.maximum.accumulate(np.array([row[1] for row in rows], dtype=np.int64))
    values = np.array([-1 if row[2] is None else int(row[2]) for row in rows], dtype=np.int8)
    middle = np.maximum.accumulate((early + late) // 2)
    return Wave(name, name, None, early, late, middle, values, early, late)

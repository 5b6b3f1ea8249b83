"""From a recording to a trace: what the channels say in the board's words.

Law of this module: nothing is excused. A level becomes a state, and a recorded time an interval, by the wiring and
the way the recording was made; the board's filter and timings are not looked at.
"""

from __future__ import annotations

import numpy as np
from attrs import evolve

from boardgauge.language.model import Board
from boardgauge.language.problems import Problem, nearest_of
from boardgauge.traces.bounce import without_bounce
from boardgauge.traces.errors import BadWiring
from boardgauge.traces.lamp_parts import parts_of
from boardgauge.traces.line_faults import few
from boardgauge.traces.missing import missing_channels, nothing_shown
from boardgauge.traces.pickup import Mispicked, Picked, picked_up
from boardgauge.traces.recording import Channel, Recording
from boardgauge.traces.remarks import Finding, Remark, remark_of
from boardgauge.traces.sensor import Reading
from boardgauge.traces.sensor_pickup import is_sensor, lost_in_words, reading_of, sensor_misfits
from boardgauge.traces.spread import Spread
from boardgauge.traces.trace import Hiding, Trace
from boardgauge.traces.wave import Levels, Wave, constant, merged, wave_of
from boardgauge.traces.wiring import LINE_FREQUENCIES, Wire, Wiring, default_wiring, signals_of


def condition(recording: Recording, wiring: Wiring | None, board: Board) -> Trace:
    """Make the trace of a recording for a board; without a wiring, channels go by their names.

    Raises BadWiring if the wiring does not fit the board, or no channel of the recording is wired beside the supply, or
    a measured channel is used as on/off without a threshold.
    """
    wiring = wiring or default_wiring(board)
    problems = list(_misfits(wiring, board))
    if wiring.rows == "changes":
        recording = evolve(recording, samples=None)
    spread = Spread(
        start=recording.start,
        samples=recording.samples,
        before=wiring.skew,
        after=wiring.skew + recording.rounded,
        clock_error=wiring.clock_error,
    )
    ours = [wire for wire in wiring.wires if wire.signal in signals_of(board)]
    found = [(wire, channel) for wire in ours if (channel := recording.find(wire.channel)) is not None]
    if not problems and (nothing := nothing_shown(evolve(wiring, wires=tuple(ours)), board, recording)) is not None:
        raise BadWiring([nothing])
    misspelt, missing = missing_channels(ours, recording, board)
    problems += misspelt
    levels: dict[str, Levels] = {}
    picked: dict[str, Picked] = {}
    readings: dict[str, Reading] = {}
    for wire, channel in found:
        if is_sensor(wire, board):
            if not problems:
                row = board.inputs[wire.signal]
                readings[wire.signal] = reading_of(wire, channel, row, recording.start, recording.end, spread)
            continue
        if wire.signal in board.inputs and (hertz := pulses_at_line_frequency(wire, channel)):
            message = f"it pulses {hertz} times a second, as a line-frequency signal does that is on"
            problems.append(
                Problem(wire.at, f"channels.{wire.channel}", message, f"line_frequency = {hertz} in a wiring")
            )
            continue
        try:
            picked[wire.signal] = picked_up(channel, wire, recording, _longest_part(wire, board))
        except Mispicked as error:
            problems.append(Problem(wire.at, f"channels.{wire.channel}", error.what, error.expected))
            continue
        levels[wire.signal] = _states(picked[wire.signal].levels, wire, board)
    if problems:
        raise BadWiring(problems)
    power = levels.get("power")
    waves: dict[str, Wave] = {"power": constant("power", True)}
    remarks: list[Remark] = list(missing)
    hiding: dict[str, Hiding] = {}
    for wire, _ in found:
        if (own := levels.get(wire.signal)) is None:
            continue
        driven = wire.signal in board.outputs or wire.signal in board.lamps
        if driven and power is not None and _unpowered_reads_on(wire, board):
            own = _off_without(own, power)
        if wire.signal != "power":
            # A board may act as a contact touches; what it drives has changed when its own contact has settled.
            own, bursts = without_bounce(own, wire.bounce, at_touch=not driven)
            remarks += [remark_of(finding, wire.signal, wire.channel, known=True) for finding in bursts]
        threshold = wire.threshold is not None and wire.line_frequency is None
        remarks += [
            remark_of(finding, wire.signal, wire.channel, known=True if threshold else None)
            for finding in picked[wire.signal].findings
        ]
        waves[wire.signal] = wave_of(wire.signal, wire.channel, recording.start, own, spread)
        if picked[wire.signal].hides:
            hiding[wire.signal] = _hiding(picked[wire.signal], waves[wire.signal], recording.start, recording.end)
    remarks += [remark for reading in readings.values() for remark in _lost(reading, board)]
    waves["power"] = _no_later_than_shown(waves["power"], [waves[name] for name in board.outputs if name in waves])
    used = {channel.name for _, channel in found}
    shown = {"power", *board.outputs, *board.lamps}
    return Trace(
        board=board.id,
        file=recording.file,
        sha256=recording.sha256,
        start=recording.start,
        end=recording.end,
        waves=waves,
        readings=readings,
        samples=spread.samples,
        late=spread.after + max((_lateness(wire, picked) for wire, _ in found if wire.signal in shown), default=0),
        least_pulse=wiring.least_pulse,
        clock_error=wiring.clock_error,
        unwired=tuple(name for name in signals_of(board) if name not in readings and (name not in levels)),
        ignored=tuple(name for name in recording.channels if name not in used),
        settings=dict(wiring.settings),
        remarks=tuple(sorted(remarks, key=lambda remark: (remark.start, remark.signal))),
        hiding=hiding,
    )


MOST_PULSES = 100
"""So many pulses in a row at a line frequency are no chatter."""


def pulses_at_line_frequency(wire: Wire, channel: Channel) -> int:
    """Give the line frequency (Hz) at which a digital channel pulses for long, 0 if it does not or is said to.

    Held against a spec such a channel would accuse any board, so it is not taken for a level.
    """
    if wire.line_frequency is not None or wire.threshold is not None or len(channel.times) < 2 * MOST_PULSES:
        return 0
    periods = np.diff(channel.times[channel.values == 1])
    for hertz in LINE_FREQUENCIES:
        near = np.abs(periods - 1_000_000 / hertz) < 1_000_000 / hertz / 20
        # The longest run of periods that are near: the distances between those that are not.
        borders = np.flatnonzero(np.concatenate(([True], ~near, [True])))
        if int(np.diff(borders).max()) > MOST_PULSES:
            return hertz
    return 0


def _misfits(wiring: Wiring, board: Board) -> list[Problem]:
    problems: list[Problem] = []
    if wiring.boards and board.id not in wiring.boards:
        names = " or ".join(wiring.boards)
        problems.append(Problem(wiring.at, "board", f"this wiring is for {names}", f"one for {board.id}"))
    signals = signals_of(board)
    for wire in wiring.wires:
        key = f"channels.{wire.channel}"
        if wire.signal not in signals:
            if len(wiring.boards) > 1:
                continue  # another of its boards has it
            message = f"{board.id} has no input, output or lamp {wire.signal!r}"
            problems.append(Problem(wire.at, f"{key}.signal", message, None, nearest_of(wire.signal, signals)))
            continue
        problems += sensor_misfits(wire, board)
        sensor = is_sensor(wire, board)
        if sensor and (
            wire.brightness or wire.inverted or wire.threshold is not None or wire.line_frequency or wire.bounce
        ):
            message = f"{wire.signal} is a sensor: it takes scale, offset, resolution and what belongs to a curve only"
            problems.append(Problem(wire.at, key, message))
        if not sensor and (wire.scale != 1 or wire.offset != 0):
            problems.append(Problem(wire.at, key, f"{wire.signal} is no sensor: scale and offset mean nothing for it"))
    for name, position in wiring.settings.items():
        setting = board.settings.get(name)
        if setting is None:
            nearest = nearest_of(name, board.settings)
            problems.append(Problem(wiring.at, f"settings.{name}", f"{board.id} has no such setting", None, nearest))
            continue
        known = [p.name for p in setting.positions if p.name is not None]
        if position not in known:
            expected = ", ".join(known) or "none: its inputs choose it"
            nearest = nearest_of(position, known)
            problems.append(
                Problem(wiring.at, f"settings.{name}", f"there is no position {position!r}", expected, nearest)
            )
    return problems


def _lost(reading: Reading, board: Board) -> list[Remark]:
    """Give the remarks on a sensor that was beyond its curve."""
    if reading.by is None:
        return []
    row, curve = board.inputs[reading.signal], reading.by.curve
    found = [Finding(one.kind, one.start, one.end, lost_in_words(one, row, curve)) for one in reading.lost]
    return [remark_of(finding, reading.signal, reading.channel, known=False) for finding in few(found)]


def _no_later_than_shown(power: Wave, outputs: list[Wave]) -> Wave:
    """Let the supply come (and go) no later than an output that, as far as was measured, came (or went) with it.

    What an output shows follows the supply; so where the two may be in either order, only one order makes sense.
    """
    late, own_late = power.latest.copy(), power.own_latest.copy()
    for place in np.flatnonzero((power.earliest != power.latest) & (power.values >= 0)).tolist():
        early, until, value = power.earliest[place], power.latest[place], power.values[place]
        for wave in outputs:
            # What was off by the last sample that still shows the supply went before it.
            first = int(np.searchsorted(wave.latest, early, side="left" if value else "right"))
            last = int(np.searchsorted(wave.earliest, until, side="right"))
            for index in np.flatnonzero(wave.values[first:last] == value) + first:
                late[place] = min(late[place], wave.latest[index])
                own_late[place] = min(own_late[place], max(wave.own_latest[index], power.own_earliest[place]))
    return evolve(power, latest=late, own_latest=own_late)


def _longest_part(wire: Wire, board: Board) -> int:
    """Give the longest that a lamp stays lit or dark while its pattern goes on; 0 for what is no lamp."""
    lamp = board.lamps.get(wire.signal)
    if lamp is None:
        return 0
    parts = [parts_of(line.shows, lamp) for line in lamp.lines]
    return max((longest for row in parts for _, longest in (*row.lit, *row.dark)), default=0)


def _turned(wire: Wire, board: Board) -> bool:
    """Tell whether level 0 is the state "on"."""
    output = board.outputs.get(wire.signal)
    return wire.inverted != (output is not None and output.contact == "normally closed")


def _unpowered_reads_on(wire: Wire, board: Board) -> bool:
    return (wire.unpowered == "high") != _turned(wire, board)


def _lateness(wire: Wire, picked: dict[str, Picked]) -> int:
    """How much later than it happened a change may be recorded, for reasons of this wire."""
    return wire.bounce + (2 * picked[wire.signal].hides if wire.signal in picked else 0)


def _hiding(picked: Picked, wave: Wave, start: int, end: int) -> Hiding:
    """Give what the pickup of a signal hides; nothing where its level is not known anyway."""
    begins, ends = np.append(np.int64(start), wave.latest), np.append(wave.earliest, np.int64(end))
    values = np.append(np.int8(-1 if wave.initial is None else wave.initial), wave.values)
    steady = (values >= 0) & (ends > begins)
    return Hiding(picked.hides, begins[steady], ends[steady], picked.hidden_from, picked.hidden_to)


def _states(levels: Levels, wire: Wire, board: Board) -> Levels:
    if not _turned(wire, board):
        return levels
    return evolve(levels, truths=np.where(levels.truths < 0, -1, 1 - levels.truths).astype(np.int8))


def _off_without(own: Levels, power: Levels) -> Levels:
    """Take the level an unpowered pin shows as off while there is no power (as not known while that is not known)."""
    times = merged(own.times, power.times)
    truths, powered = own.before(times), power.before(times)
    masked = np.where((truths == 1) & (powered != 1), np.where(powered == 0, 0, -1), truths).astype(np.int8)
    lead, tail = times.copy(), times.copy()
    for levels in (own, power):
        if len(levels.times):
            index = np.searchsorted(levels.times, times)
            hit = index < len(levels.times)
            hit[hit] = levels.times[index[hit]] == times[hit]
            lead[hit] = np.minimum(lead[hit], levels.lead[index[hit]])
            tail[hit] = np.maximum(tail[hit], levels.tail[index[hit]])
    return Levels(times, masked, lead, tail).changes()

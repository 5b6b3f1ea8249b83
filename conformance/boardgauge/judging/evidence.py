"""Lay out what a trace says, in order, for the tracker.

Law of this module: nothing is decided here that the trace leaves open. Input changes keep their intervals and what the
board's filter leaves open; outputs keep theirs; the supply's short gaps are marked as such. One thing is taken for
granted: between two samples that both show the supply on, it was on. (Could it have been gone in between, no sampled
recording would say anything.)
"""

from __future__ import annotations

from bisect import bisect_left
from enum import IntEnum
from fractions import Fraction
from typing import Literal

from attrs import field, frozen

from boardgauge.judging.clocks import Clock, Levels, clocks_of
from boardgauge.judging.filtering import filtered_at_once
from boardgauge.language import expressions as ex
from boardgauge.language.model import Input
from boardgauge.language.units import difference_in_unit, in_unit
from boardgauge.machine.inputs import Change, RawEdge, moments, pulses_in_gaps
from boardgauge.machine.table import Level, Machine
from boardgauge.traces.lamps import LampWatch
from boardgauge.traces.trace import Trace
from boardgauge.traces.wave import Wave, constant


class Kind(IntEnum):
    """What an event is about; at one moment they come in this order."""

    POWER = 0
    INPUT = 1
    OUTPUT = 2
    END = 3


@frozen
class Happening:
    """One event of the trace: known to lie in [earliest, latest], and handled at ``latest`` (inputs at ``earliest``).

    ``which``: for INPUT the number of the change, for OUTPUT the index of the output. ``value``: the new value of an
    output or of the supply. ``maybe``: the board may have ridden through this change of the supply.
    """

    time: int
    kind: Kind
    which: int
    earliest: int
    latest: int
    value: bool | None = None
    maybe: bool = False


@frozen
class Evidence:
    """A trace laid out for one machine. ``initial`` are the levels and ``shown`` the outputs at the start."""

    trace: Trace
    happenings: tuple[Happening, ...]
    changes: tuple[Change, ...]
    initial: tuple[bool | None, ...]
    shown: tuple[bool | None, ...]
    powered: bool | None
    clocks: dict[tuple[int, ...], Clock]
    lamps: tuple[LampWatch | None, ...]
    responds: tuple[int, ...]
    start: int
    end: int
    levels: Levels = field(repr=False)
    alone: tuple[bool, ...] = ()
    """Of each change: whether no other level and no supply changes before the board must have acted on it."""
    following: tuple[int, ...] = ()
    """Of each change: the number of the next one of its level, -1 if there is none."""
    blind: frozenset[int] = frozenset()
    """The levels that the recording does not show, all of the time or some of it."""


Reading = Literal["recorded", "measured", "blind"]
"""How a trace is read: every change at its recorded time; every change in its interval; and, beside that, with the
pulses that may hide between samples."""


def lay_out(machine: Machine, trace: Trace, reading: Reading = "blind") -> Evidence:
    """Give the evidence of a trace."""
    given = trace.nominal() if reading == "recorded" else trace
    board = machine.board
    inputs = [board.inputs[level.input] for level in machine.levels]
    responds = tuple(row.responds_within for row in inputs)
    initial: list[bool | None] = []
    changes: list[Change] = []
    blind: set[int] = set()
    for level, row in zip(machine.levels, inputs, strict=True):
        wave = _wave(given, level, row)
        initial.append(wave.initial)
        # A sensor near its limit is not known either, but there the spec leaves it to the board which side it is on.
        sensed = level.comparison is not None and level.input in given.readings
        if not sensed and (wave.initial is None or (wave.values < 0).any()):
            blind.add(level.index)
        changes += filtered_at_once(level.index, wave, row.filter, given.end)
        if reading == "blind" and (gaps := given.gaps(row.filter.least, level.input)):
            edges = [RawEdge(*change) for change in wave.changes()]
            changes += pulses_in_gaps(level.index, wave.initial, edges, gaps, max(1, row.filter.least))
    happenings = [*_power(given, board.rides_through.least, board.rides_through.greatest)]
    ordered = tuple(moments(changes, board.same_moment, sorted(h.earliest for h in happenings)))
    # A speed-up counts from its terminal, not from when the board takes its input in.
    levels = Levels.of(machine.levels, initial, ordered, [0] * len(responds))
    for number, change in enumerate(ordered):
        happenings.append(Happening(change.earliest, Kind.INPUT, number, change.earliest, change.latest, change.value))
    shown: list[bool | None] = []
    for output in machine.outputs:
        drive = given.waves.get(output.output)
        shown.append(None if drive is None else drive.initial)
        for early, late, new in () if drive is None else drive.changes():
            happenings.append(Happening(late, Kind.OUTPUT, output.index, early, late, new))
    happenings.sort(key=lambda h: (h.time, h.kind, h.latest, h.which))
    happenings.append(Happening(given.end, Kind.END, 0, given.end, given.end))
    lamps = tuple(LampWatch(given, lamp) if lamp.id in given.waves else None for lamp in board.lamps.values())
    return Evidence(
        given,
        tuple(happenings),
        ordered,
        tuple(initial),
        tuple(shown),
        given.power.initial,
        clocks_of(machine, levels),
        lamps,
        responds,
        given.start,
        given.end,
        levels,
        _alone(ordered, responds, happenings),
        _following(ordered),
        frozenset(blind),
    )


def _alone(changes: tuple[Change, ...], responds: tuple[int, ...], happenings: list[Happening]) -> tuple[bool, ...]:
    """Tell of each change whether nothing else changes at the terminals until it must have been acted on.

    Later changes of the same level do no harm: they are acted on after it in any case.
    """
    supply = sorted(h.earliest for h in happenings if h.kind == Kind.POWER)
    slowest = max(responds, default=0)
    found = []
    for index, change in enumerate(changes):
        until = change.latest + responds[change.level]
        alone = change.moment < 0 and not change.hidden
        at = bisect_left(supply, change.earliest)
        alone = alone and not (at < len(supply) and supply[at] <= until)
        before, after = index - 1, index + 1
        while alone and before >= 0 and changes[before].earliest + slowest >= change.earliest:
            other = changes[before]
            alone = other.level == change.level or other.latest + responds[other.level] < change.earliest
            before -= 1
        while alone and after < len(changes) and changes[after].earliest <= until:
            alone = changes[after].level == change.level
            after += 1
        found.append(alone)
    return tuple(found)


def _following(changes: tuple[Change, ...]) -> tuple[int, ...]:
    later: dict[int, int] = {}
    found = [-1] * len(changes)
    for index in range(len(changes) - 1, -1, -1):
        found[index] = later.get(changes[index].level, -1)
        later[changes[index].level] = index
    return tuple(found)


def _wave(trace: Trace, level: Level, row: Input) -> Wave:
    limit = level.comparison
    wave = trace.waves.get(level.input) if limit is None else crossings(trace, limit, row)
    return constant(level.input, None) if wave is None else wave


def crossings(trace: Trace, comparison: ex.Comparison, row: Input) -> Wave | None:
    """Give whether a sensor is beyond a limit of the board, over time; None if it was not recorded."""
    reading = trace.readings.get(comparison.name)
    if reading is None or row.unit is None:
        return None
    limit = in_unit(comparison.limit, row.unit).number
    until = None if comparison.until is None else in_unit(comparison.until, row.unit).number
    accuracy = Fraction(0) if row.accuracy is None else difference_in_unit(row.accuracy, row.unit).number
    return reading.crossings(comparison.op, limit, comparison.until_op, until, accuracy, off=_unpowered(trace))


def _unpowered(trace: Trace) -> list[tuple[int, int]]:
    """Give the stretches without supply: a comparison with two limits remembers nothing through them."""
    return [(a, b) for a, b, on in trace.power.stretches(trace.start, trace.end) if on is False]


def _power(trace: Trace, least: int, greatest: int) -> list[Happening]:
    """Give the changes of the supply; a gap shorter than ``least`` is none, one up to ``greatest`` may be one."""
    edges = trace.power.changes()
    found: list[Happening] = []
    index = 0
    while index < len(edges):
        early, late, value = edges[index]
        if value is False and index + 1 < len(edges) and edges[index + 1][2] is True:
            back_early, back_late, _ = edges[index + 1]
            if greatest and back_late - early < least:
                index += 2
                continue
            maybe = bool(greatest) and back_early - late <= greatest
            found.append(Happening(late, Kind.POWER, 0, early, late, False, maybe))
            found.append(Happening(back_late, Kind.POWER, 0, back_early, back_late, True, maybe))
            index += 2
            continue
        found.append(Happening(late, Kind.POWER, 0, early, late, value))
        index += 1
    return found

"""Lay out what a trace says, in order, for the tracker.

Law of this module: nothing is decided here that the trace leaves open. Input changes keep their intervals and what the
board's filter leaves open; outputs keep theirs; the supply's short gaps are marked as such. One thing is taken for
granted: between two samples that both show the supply on, it was on. (Could it have been gone in between, no sampled
recording would say anything.)
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise
from typing import Literal

import numpy as np
from attrs import field, frozen

from boardgauge.judging.arranging import alone, following, in_moments, perhaps_together
from boardgauge.judging.clocks import LONG, Clock, clocks_of
from boardgauge.judging.columns import Changes, Happening, Happenings, Kind, Shown
from boardgauge.judging.deadlines import Deadlines
from boardgauge.judging.filtering import filtered_at_once, steady_from
from boardgauge.judging.flicker import flickering
from boardgauge.judging.levels import Levels
from boardgauge.language import expressions as ex
from boardgauge.language.model import Input
from boardgauge.language.units import difference_in_unit, in_unit
from boardgauge.machine.inputs import Change, RawEdge, pulses_in_gaps
from boardgauge.machine.table import Level, Machine
from boardgauge.traces.lamps import LampWatch, watch_of
from boardgauge.traces.trace import Trace
from boardgauge.traces.wave import Wave, constant


@frozen
class Evidence:
    """A trace laid out for one machine. ``initial`` are the levels and ``shown`` the outputs at the start."""

    trace: Trace
    happenings: Sequence[Happening]
    changes: Sequence[Change]
    initial: tuple[bool | None, ...]
    shown: tuple[bool | None, ...]
    powered: bool | None
    clocks: dict[tuple[int, ...], Clock]
    lamps: tuple[LampWatch | None, ...]
    responds: tuple[int, ...]
    start: int
    end: int
    levels: Levels = field(repr=False)
    alone: Sequence[bool] = ()
    """Of each change: whether no other level and no supply changes before the board must have acted on it."""
    following: Sequence[int] = ()
    """Of each change: the number of the next one of its level, -1 if there is none."""
    blind: frozenset[int] = frozenset()
    """The levels that the recording does not show, all of the time or some of it."""
    deadlines: tuple[Deadlines | None, ...] = ()
    """Of each lamp that is watched, by when it must have shown something else."""
    moment_last: dict[int, int] = field(factory=dict, repr=False)
    """When the last change of each moment came at the earliest."""
    supposes: bool = False
    """Whether there are pulses among the changes that nobody saw."""
    steady: tuple[int, ...] = ()
    """Of each level: when what it is at the start can have come at the latest."""


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
    changes: list[Changes] = []
    blind: set[int] = set()
    steady: list[int] = []
    supply = _power(given, board.rides_through.least, board.rides_through.greatest)
    comes_on = [(row.earliest, row.latest) for row in supply if row.value]
    for level, row in zip(machine.levels, inputs, strict=True):
        wave = _wave(given, level, row)
        initial.append(wave.initial)
        steady.append(steady_from(wave, row.filter, given.start))
        # A sensor near its limit is not known either, but there the spec leaves it to the board which side it is on.
        sensed = level.comparison is not None and level.input in given.readings
        if not sensed and (wave.initial is None or (wave.values < 0).any()):
            blind.add(level.index)
        wide = given.gaps(row.filter.least, level.input) if reading == "blind" else []
        wider = wave
        if reading == "blind":
            wider = flickering(wave, given.samples, given.least_pulse or 0, wide, row.filter)
        changes.append(filtered_at_once(level.index, wider, row.filter, given.end, comes_on))
        if wide:
            edges = [RawEdge(*change) for change in wave.changes()]
            hidden = pulses_in_gaps(level.index, wave.initial, edges, wide, max(1, row.filter.least))
            changes.append(Changes.of(hidden))
    cuts = np.sort(np.array([h.earliest for h in supply], dtype=np.int64))
    ordered = in_moments(Changes.joined(changes), board.same_moment, cuts, _unknown(given.power))
    ordered = perhaps_together(ordered, board.same_moment, responds, blind)
    # A speed-up counts from its terminal, not from when the board takes its input in.
    levels = Levels.of(machine.levels, initial, ordered, [0] * len(responds))
    shown: list[bool | None] = []
    drives: list[Shown] = []
    for output in machine.outputs:
        drive = given.waves.get(output.output)
        shown.append(None if drive is None else drive.initial)
        if drive is not None:
            drives.append(Shown(output.index, drive.earliest, drive.latest, drive.values))
    lamps = tuple(watch_of(given, lamp) if lamp.id in given.waves else None for lamp in board.lamps.values())
    return Evidence(
        given,
        Happenings.of(supply, ordered, drives, given.end),
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
        alone(ordered, responds, cuts).tolist(),
        following(ordered).tolist(),
        frozenset(blind),
        tuple(None if watch is None else Deadlines(watch) for watch in lamps),
        _moment_last(ordered),
        bool(ordered.hidden.any()),
        tuple(steady),
    )


def _moment_last(changes: Changes) -> dict[int, int]:
    # In order of their earliest times: the last one counts.
    marked = changes.moment >= 0
    return dict(zip(changes.moment[marked].tolist(), changes.earliest[marked].tolist(), strict=True))


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
    off, perhaps, sees = _unpowered(trace), _unknown(trace.power), row.filter.greatest
    return reading.crossings(comparison.op, limit, comparison.until_op, until, accuracy, off, sees, perhaps)


def _unpowered(trace: Trace) -> list[tuple[int, int]]:
    """Give the stretches without supply: a comparison with two limits remembers nothing through them."""
    return [(a, b) for a, b, on in trace.power.stretches(trace.start, trace.end) if on is False]


def _unknown(power: Wave) -> list[tuple[int, int]]:
    """Give the stretches in which nobody knows the supply."""
    rows = [(-LONG, -LONG, power.initial), *power.changes(), (LONG, LONG, None)]
    return [(early, late) for (early, _, value), (_, late, _) in pairwise(rows) if value is None]


def _power(trace: Trace, least: int, greatest: int) -> list[Happening]:
    """Give the changes of the supply; a gap shorter than ``least`` is none, one up to ``greatest`` may be one.

    A gap that goes over into a stretch in which the supply is not known, or into the end, may be over at once or last.
    """
    edges = trace.power.changes()
    before = [trace.power.initial, *(value for _, _, value in edges)]
    found: list[Happening] = []
    index = 0
    while index < len(edges):
        early, late, value = edges[index]
        if value is not False:
            found.append(Happening(late, Kind.POWER, 0, early, late, value))
            index += 1
            continue
        back_early, back_late, back = edges[index + 1] if index + 1 < len(edges) else (trace.end, trace.end, None)
        if before[index] is True and back is True and greatest and back_late - early < least:
            index += 2
            continue
        maybe = bool(greatest) and before[index] is not False and back_early - late <= greatest
        found.append(Happening(late, Kind.POWER, 0, early, late, False, maybe))
        index += 1
        if back is True:
            found.append(Happening(back_late, Kind.POWER, 0, back_early, back_late, True, maybe))
            index += 1
    return found

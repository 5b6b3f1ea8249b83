"""Run the reference machine on the inputs of a recording, each timing lasting as long as the outputs show it did.

Law of this module: the machine decides what happens, the recording only how long inside the spec's ranges. As far as
the outputs agree the run is one the board may have done, hidden timings at their nominal; where they no longer agree it
ends, and says when. Nothing is judged by it: a drawing wants one story, a verdict all of them.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import zip_longest

import numpy as np
from attrs import define, field, frozen

from boardgauge.language.model import InputKind, Output
from boardgauge.language.units import in_unit
from boardgauge.machine.picture import CannotSettle
from boardgauge.machine.run import POWER, Entry, Run, Timeline, Value
from boardgauge.machine.settle import Engine
from boardgauge.machine.simulate import Simulator
from boardgauge.machine.terminals import MissingValue
from boardgauge.traces.trace import Trace

_MOST_RUNS = 120
_Edge = tuple[int, int, bool]
_NEAR = 2_000
"""Edges that lie closer to each other than this need no fitting."""


@frozen
class Fitted:
    """A run that agrees with a recording up to ``until``; times count from the start of the recording.

    ``unsupplied``: it ends there because the supply is no longer known.
    """

    run: Run
    until: int
    whole: bool
    unsupplied: bool = False


def fitted_run(engine: Engine, trace: Trace) -> Fitted | None:
    """Fit a run to a recording that begins with the board's power-up; None where it does not, or nothing agrees."""
    timeline = _timeline(engine, trace)
    if timeline is None:
        return None
    fitted = _Fitting(engine, trace, timeline).fitted()
    lost = next((time - trace.start for time, value in trace.waves[POWER].recorded_changes() if value is None), None)
    if fitted is None or lost is None or lost >= (timeline.end if fitted.whole else fitted.until):
        return fitted
    return Fitted(fitted.run, lost, False, unsupplied=True)


def _timeline(engine: Engine, trace: Trace) -> Timeline | None:
    board = engine.machine.board
    power = trace.waves[POWER]
    if POWER in trace.unwired or power.initial is not False:
        return None
    inputs: dict[str, tuple[tuple[int, Value], ...]] = {}
    for name in (POWER, *board.inputs):
        if name in trace.waves:
            wave = trace.waves[name]
            changes: list[tuple[int, Value]] = [] if wave.initial is None else [(0, wave.initial)]
            changes += [
                (max(0, time - trace.start), value) for time, value in wave.recorded_changes() if value is not None
            ]
            inputs[name] = _distinct(changes)
    for row in board.inputs.values():
        if row.kind is InputKind.SENSOR:
            if row.id not in trace.readings:
                return None
            inputs[row.id] = _crossed(engine, trace, row.id)
    return Timeline(inputs, trace.end - trace.start)


def _distinct(changes: list[tuple[int, Value]]) -> tuple[tuple[int, Value], ...]:
    kept: list[tuple[int, Value]] = []
    for time, value in changes:
        if not kept or kept[-1][1] != value:
            kept.append((time, value))
    return tuple(kept)


def _crossed(engine: Engine, trace: Trace, name: str) -> tuple[tuple[int, Value], ...]:
    """Give the numbers of a sensor where they come to lie on another side of some limit."""
    unit = engine.machine.board.inputs[name].unit
    limits = sorted(
        {
            float(in_unit(limit, unit).number if unit else limit.number)
            for level in engine.machine.levels
            if level.input == name and level.comparison is not None
            for limit in (level.comparison.limit, level.comparison.until)
            if limit is not None
        }
    )
    reading = trace.readings[name]
    values, times = reading.values, reading.times
    known = ~np.isnan(values)
    values, times = values[known], times[known]
    if not len(values):
        return ()
    sides = np.searchsorted(limits, values, side="left") + np.searchsorted(limits, values, side="right")
    news = np.append([True], sides[1:] != sides[:-1])
    found: list[tuple[int, Value]] = []
    for time, value in zip(times[news].tolist(), values[news].tolist(), strict=True):
        found.append((0 if not found else max(0, time - trace.start), Fraction(value)))
    return tuple(found)


@frozen
class _Miss:
    """The first output edge on which run and recording do not agree; ``seen`` is None where the board shows none."""

    time: int
    output: str
    simulated: int | None
    seen: tuple[int, int] | None


@define
class _Fitting:
    """One recording while it is fitted: how long each timing is to last, time after time."""

    engine: Engine
    trace: Trace
    timeline: Timeline
    lengths: dict[str, list[int]] = field(factory=dict)
    at_limit: set[tuple[str, int]] = field(factory=set)
    """Runs of a timing that could not be brought nearer: what is left is the board's haste and its lag."""

    def fitted(self) -> Fitted | None:
        best: Fitted | None = None
        for _ in range(_MOST_RUNS):
            simulator = Simulator(self.engine.machine, "nominal", 0, self.trace.settings, self.engine, self.lengths)
            try:
                run = simulator.run(self.timeline)
            except (CannotSettle, MissingValue, ValueError):
                return best
            miss = self._first_miss(run)
            if miss is None:
                return Fitted(run, self.timeline.end, True)
            if best is None or miss.time > best.until:
                best = Fitted(run, miss.time, False)
            if not self._refit(run, miss):
                break
        return None if best is None or best.until <= 0 else best

    def _first_miss(self, run: Run) -> _Miss | None:
        machine, zero = self.engine.machine, self.trace.start
        masked = [t.index for t in machine.timings if t.role == "not judged"]
        quiet = [(s.origin, s.end) for s in run.stretches if s.timing in masked]
        missed: list[_Miss] = []
        for output in machine.board.outputs.values():
            if output.id not in self.trace.waves:
                continue
            wave = self.trace.waves[output.id]
            shown = [(time, time, bool(value)) for time, value in run.outputs[output.id].changes]
            seen = [(early - zero, late - zero, value) for early, late, value in wave.changes() if value is not None]
            slack = self._haste(output.lag)
            shown, seen = (
                [e for e in edges if not any(a <= e[1] and e[0] <= b + slack for a, b in quiet)]
                for edges in (shown, seen)
            )
            missed += self._parting(run, output, shown, seen)
        return min(missed, key=lambda miss: miss.time, default=None)

    def _parting(self, run: Run, output: Output, shown: Sequence[_Edge], seen: Sequence[_Edge]) -> Iterator[_Miss]:
        """Give where the edges of one output first part, if they do."""
        for edge, met in zip_longest(shown, seen):
            if edge is None:
                yield _Miss(met[0], output.id, None, met[:2])
                return
            if met is None or met[2] != edge[2]:
                yield _Miss(edge[0] if met is None else min(edge[0], met[0]), output.id, edge[0], None)
                return
            slack = self._slack(run, edge[0], output.lag)
            if not met[0] - max(slack, output.lag) <= edge[0] <= met[1] + slack:
                yield _Miss(min(edge[0], met[0]), output.id, edge[0], met[:2])
                return

    def _haste(self, lag: int) -> int:
        board = self.engine.machine.board
        return board.responds_within + lag + board.filter.greatest + _NEAR

    def _slack(self, run: Run, shown: int, lag: int) -> int:
        """Give how far an edge may lie from the simulated one: what the board's own haste makes of it is not fitted."""
        entry = _entry(run, shown, lag)
        timing = None if entry is None else self._free(entry)
        if entry is None or timing is None:
            return self._haste(lag)
        number = self._number(run, entry, timing)
        return self._haste(lag) if (self.engine.machine.timings[timing].name, number) in self.at_limit else _NEAR

    def _free(self, entry: Entry) -> int | None:
        """Give a timing that ended in an instant and may last otherwise."""
        rows = [self.engine.machine.timings[timing] for timing in entry.causes.expired]
        free = [row.index for row in rows if any(choice.shortest < choice.longest for choice in row.choices)]
        return free[0] if free else None

    def _number(self, run: Run, entry: Entry, timing: int) -> int:
        """Give how many runs of a timing came before the one that ended in an instant."""
        mine = [s for s in run.stretches if s.timing == timing and s.end <= entry.time]
        whole = self.engine.machine.timings[timing].role != "target"
        return sum(1 for s in mine if whole or s.how == "expired") - 1

    def _refit(self, run: Run, miss: _Miss) -> bool:
        """Let the timing that brought an edge about last as long as the recording shows; False if it is no way out."""
        machine = self.engine.machine
        if miss.simulated is None or miss.seen is None:
            return False
        lag = machine.board.outputs[miss.output].lag
        entry = _entry(run, miss.simulated, lag)
        timing = None if entry is None else self._free(entry)
        if entry is None or timing is None:
            return False
        row, number = machine.timings[timing], self._number(run, entry, timing)
        if number < 0 or (row.name, number) in self.at_limit:
            return False
        duration = row.choices[self.engine.settings.choice(entry.config.chosen, timing)]
        said = self.lengths.setdefault(row.name, [])
        while len(said) <= number + 1:
            said.append(duration.nominal)
        rates = [machine.speed_ups[i].times_faster for i in row.speed_ups if self.engine.sped_up(entry.config, i)]
        nearest = min(max(miss.simulated, miss.seen[0] - lag), miss.seen[1])
        wanted = said[number] + (nearest - miss.simulated) * max(rates, default=1)
        changed = min(max(wanted, duration.shortest), duration.longest)
        if changed != wanted or changed == said[number]:
            self.at_limit.add((row.name, number))
        said[number] = changed
        return True


def _entry(run: Run, shown: int, lag: int) -> Entry | None:
    return next((e for e in reversed(run.story) if shown - lag <= e.time <= shown), None)

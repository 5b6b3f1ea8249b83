"""From a way through a space to a scenario that a bench can do.

Law of this module: what comes out has been tried: the reference machine, simulated, does what is claimed of it. What
cannot be shown so is not shown.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction

from attrs import define, frozen

from boardgauge.language.quantities import S
from boardgauge.language.units import in_unit
from boardgauge.machine.chance import Timings
from boardgauge.machine.input_ways import comes_out, readings_of
from boardgauge.machine.run import Run, Value
from boardgauge.machine.scenario import (
    Power,
    Scenario,
    ScenarioStep,
    ScenarioStuck,
    SetInputs,
    Wait,
    play,
    with_waits_joined,
)
from boardgauge.machine.settle import Engine
from boardgauge.machine.table import Machine
from boardgauge.proving.clockwork import Node
from boardgauge.proving.moments import Way
from boardgauge.proving.together import Happens

GAPS = (S, S // 5, 1)
"""Two things are kept so far apart, if it can be: a person does them one after the other."""
AFTERWARDS = 2 * S

Shows = Callable[[Run], bool]
"""Tells whether a run shows what is claimed."""


@frozen
class Witness:
    """A scenario, the timings at which the simulated board shows what is claimed, and what it did."""

    scenario: Scenario
    timings: Timings
    run: Run


def witness(
    engine: Engine, whole: Engine, start: Node, happenings: Sequence[Happens], title: str, shows: Shows
) -> Witness | None:
    """Give a scenario for the whole board on which it shows what is claimed, by a way through a part of it.

    ``engine`` is that of the part explored, ``whole`` that of the board. None if no choice of moments was found.
    """
    way = Way(engine, start, tuple(happenings))
    if not way.follows():
        return None
    for timings in ("nominal", "earliest", "latest"):
        for gap in GAPS:
            moments = way.moments(gap, timings)
            if moments is None:
                continue
            scenario = scenario_at(engine.machine, whole.machine, start, happenings, moments, title)
            found = _tried(whole, scenario, timings, shows)
            if found is not None:
                return found
    for gap in GAPS:
        moments = way.moments(gap, None)
        if moments is not None:
            durations = way.durations(moments)
            scenario = scenario_at(engine.machine, whole.machine, start, happenings, moments, title, durations)
            found = _tried(whole, scenario, "nominal", shows)
            if found is not None:
                return found
    return None


def _tried(whole: Engine, scenario: Scenario | None, timings: Timings, shows: Shows) -> Witness | None:
    if scenario is None:
        return None
    try:
        run = play(whole.machine, scenario, timings, engine=whole)
    except ScenarioStuck:
        return None
    return Witness(scenario, timings, run) if shows(run) else None


# -- what is done at the terminals -----------------------------------------------------------------------------------


@define
class _Readings:
    """Turns levels into values at the terminals of the whole board."""

    part: Machine
    whole: Machine

    def values(self, start: Node, happenings: Sequence[Happens]) -> list[dict[str, Value]] | None:
        """Give for each step the inputs it brings to a value; None if no reading of a sensor does it."""
        levels = list(start.config.levels)
        found: list[dict[str, Value]] = []
        for what in happenings:
            before = list(levels)
            for index, value in what.levels:
                levels[index] = value
            values: dict[str, Value] = {}
            for name in {self.part.levels[index].input for index, _ in what.levels}:
                value_ = self._value(name, before, levels)
                if value_ is None:
                    return None
                values[name] = value_
            found.append(values)
        return found

    def _value(self, name: str, before: list[bool], levels: list[bool]) -> Value | None:
        rows = [row for row in self.part.levels if row.input == name]
        if rows[0].comparison is None:
            return levels[rows[0].index]
        unit = self.part.board.inputs[name].unit or ""
        # The whole board may hold the sensor against more limits: a reading right between all of them is safest.
        for reading in readings_of(self.whole.board, [row for row in self.whole.levels if row.input == name]):
            if all(
                row.comparison is not None
                and comes_out(row.comparison, before[row.index], reading) == levels[row.index]
                for row in rows
            ):
                return in_unit(reading, unit).number
        return None


def scenario_at(
    part: Machine,
    machine: Machine,
    start: Node,
    happenings: Sequence[Happens],
    moments: Sequence[int],
    title: str,
    durations: dict[str, tuple[int, ...]] | None = None,
) -> Scenario | None:
    """Give the scenario of a way through a part of a machine, at these moments; None if no reading of a sensor does."""
    values = _Readings(part, machine).values(start, happenings)
    if values is None:
        return None
    board = machine.board
    begin: dict[str, Value] = dict(values[0])
    for name, row in board.inputs.items():
        if row.unit is not None and name not in begin:
            begin[name] = _middle(machine, name)
    steps: list[ScenarioStep] = [Wait(S), Power(True)]
    for step in range(1, len(happenings)):
        wait = moments[step] - moments[step - 1]
        what = happenings[step]
        steps.append(Wait(wait))
        if values[step]:
            steps.append(SetInputs(values[step]))
        if what.power is not None:
            steps.append(Power(what.power))
    steps.append(Wait(AFTERWARDS))
    positions = dict(_positions(part, start))
    return Scenario(board.id, title, with_waits_joined(steps), begin, positions, durations or {})


def _middle(machine: Machine, name: str) -> Fraction:
    rows = [row for row in machine.levels if row.input == name]
    unit = machine.board.inputs[name].unit or ""
    readings = [in_unit(reading, unit).number for reading in readings_of(machine.board, rows)] if rows else []
    return readings[0] if readings else Fraction(20)


def _positions(machine: Machine, start: Node) -> Iterator[tuple[str, str]]:
    settings = machine.board.settings
    for name, place in zip(settings, start.config.settings, strict=True):
        position = settings[name].positions[place].name
        if position is not None:
            yield name, position

"""A recipe: all that is done to a board in an exercise, so that the same can be done again.

Law of this module: a recipe is inputs over time and nothing else; what a board does with it is simulated afresh each
time that it is asked. Times are microseconds from the beginning of the run.
"""

from __future__ import annotations

from collections.abc import Iterator

from attrs import evolve, frozen

from boardgauge.language.quantities import S
from boardgauge.machine.chance import Timings
from boardgauge.machine.config import Config
from boardgauge.machine.run import POWER, Entry, Run, Timeline, Value
from boardgauge.machine.settle import Engine
from boardgauge.machine.simulate import Simulator
from boardgauge.sheets.study import Study


@frozen
class Change:
    """One change at a terminal (or of ``power``)."""

    time: int
    name: str
    value: Value


@frozen
class Recipe:
    """What is done: ``changes`` in order of time.

    Times are told from ``zero`` on; the answer begins at ``asked``; the run ends at ``end``.
    """

    changes: tuple[Change, ...]
    zero: int
    asked: int
    end: int

    def timeline(self) -> Timeline:
        """Give it as the simulator takes it."""
        inputs: dict[str, list[tuple[int, Value]]] = {}
        for change in self.changes:
            inputs.setdefault(change.name, []).append((change.time, change.value))
        return Timeline({name: tuple(rows) for name, rows in inputs.items()}, self.end)

    def run(self, study: Study, timings: Timings = "nominal", engine: Engine | None = None) -> Run:
        """Do it with a fresh board. Raises CannotSettle, TooShort."""
        used = engine or study.engine
        return Simulator(used.machine, timings, engine=used).run(self.timeline())

    def told(self, study: Study) -> Iterator[Change]:
        """Give the changes from ``zero`` on that change something, in order."""
        now: dict[str, Value] = {POWER: False}
        rest = {level.input: level.at_rest for level in study.machine.levels if level.comparison is None}
        for change in self.changes:
            old = now.get(change.name, rest.get(change.name))
            if change.time >= self.zero and change.value != old:
                yield change
            now[change.name] = change.value


def changes_of(run: Run, until: int) -> list[Change]:
    """Give what was done in a run before a time."""
    signals = {**run.inputs, POWER: run.power}
    found = [Change(0, name, edges.initial) for name, edges in signals.items() if edges.initial or name not in (POWER,)]
    found += [
        Change(time, name, value) for name, edges in signals.items() for time, value in edges.changes if time < until
    ]
    return sorted(found, key=lambda one: (one.time, one.name))


def answer(run: Run, recipe: Recipe) -> tuple[tuple[Entry, Config], ...]:
    """Give the instants from ``asked`` on, each with what the board was in before it."""
    found = []
    for number, entry in enumerate(run.story):
        if entry.time >= recipe.asked:
            before = run.story[number - 1].config if number else entry.config
            found.append((entry, before))
    return tuple(found)


@frozen
class Window:
    """When an output changes: at nominal times, and between which limits, from ``zero`` on."""

    output: str
    value: bool
    nominal: int
    earliest: int
    latest: int


def windows(study: Study, recipe: Recipe) -> tuple[Window, ...]:
    """Give the changes of the outputs from ``asked`` on, with their limits.

    The limits are those of a board that is as early, and as late, as it may be throughout. Where such a board does
    other things than the nominal one, an output is left out.
    """
    # A late board does the last of it later.
    longer = evolve(recipe, end=recipe.end + (recipe.end - recipe.asked) // 2 + 30 * S)
    runs = (recipe.run(study), longer.run(study, "earliest"), longer.run(study, "latest"))
    found = []
    for row in study.machine.outputs:
        changes = [[one for one in run.outputs[row.output].changes if one[0] >= recipe.asked] for run in runs]
        changes = [rows[: len(changes[0])] for rows in changes]
        if len({tuple(value for _, value in rows) for rows in changes}) != 1:
            continue
        for (time, value), (first, _), (last, _) in zip(*changes, strict=True):
            low, high = sorted((first, last))
            found.append(Window(row.output, bool(value), time, min(low, time), max(high, time)))
    return tuple(sorted(found, key=lambda one: (one.nominal, one.output)))

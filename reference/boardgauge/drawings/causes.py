"""Find what brought each change of a run about: the edge, or the end of a timing, that it follows from.

Law of this module: the machine is asked, not guessed at. Where several things came at one moment, each is tried alone,
and is the cause of what it brings about by itself; what none does alone, all do together. A change that a rule hangs
on another change of the same moment follows from that one.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from attrs import frozen

from boardgauge.drawings.chart import Cause
from boardgauge.language import expressions as ex
from boardgauge.language.model import Board, Output
from boardgauge.machine.config import Config, Outcome
from boardgauge.machine.picture import CannotSettle
from boardgauge.machine.run import POWER, Causes, Entry, Run
from boardgauge.machine.settle import Engine

UNSEEN = ("requirement", "not judged")
"""Roles of timings that only watch; a chart does not show them."""


def timing_row(name: str) -> str:
    """Give the id of the row of a timing; a blank keeps it apart from the board's own ids."""
    return f"timing {name}"


@frozen
class _Due:
    """One thing that was due: where it stands on a chart, and it alone."""

    row: str
    at: int
    alone: Causes


def causes_of(engine: Engine, run: Run) -> tuple[Cause, ...]:
    """Give the causes of a run, in order; the ids of rows are those of ``run_chart``."""
    before = engine.off()
    found: list[Cause] = []
    for entry in run.story:
        found += _entry(engine, run, entry, before)
        before = entry.config
    return tuple(dict.fromkeys(found))


def _entry(engine: Engine, run: Run, entry: Entry, before: Config) -> Iterator[Cause]:
    machine, board = engine.machine, engine.machine.board
    due = list(_due(engine, entry))
    if entry.outcome is None:
        for output in board.outputs:
            time = _shown(run, output, entry.time, False)
            if time is not None:
                yield Cause(POWER, entry.time, output, time)
        for number, lamp in enumerate(board.lamps):
            if engine.lamp_line(before, number) != -1:
                yield Cause(POWER, entry.time, lamp, entry.time)
        return
    alone = [(one, _alone(engine, before, one.alone)) for one in due]
    shows = {}
    for index, value in entry.outcome.commands:
        output = machine.outputs[index].output
        time = _shown(run, output, entry.time, value)
        if time is not None:
            shows[output] = time
    for index, value in entry.outcome.commands:
        output = machine.outputs[index].output
        if output in shows:
            named = [name for name in _named(board, _reason(board.outputs[output], value)) if name != output]
            first = [Cause(name, shows[name], output, shows[output]) for name in named if name in shows]
            first = [cause for cause in first if cause.at <= cause.time]
            roots = [one for one, made in alone if made is not None and (index, value) in made.commands] or due
            yield from first or (Cause(one.row, one.at, output, shows[output]) for one in roots)
    for timing, why in entry.outcome.begun:
        row = machine.timings[timing]
        if row.role in UNSEEN:
            continue
        target, time = timing_row(row.name), _begins(run, timing, entry.time)
        if why.kind == "outputs":
            names = [machine.outputs[index].output for index in why.which]
            yield from (Cause(name, shows[name], target, time) for name in names if name in shows)
            continue
        roots = [one for one, made in alone if made is not None and timing in dict(made.begun)] or due
        yield from (Cause(one.row, one.at, target, time) for one in roots if one.at <= time)
    for number, shown in enumerate(board.lamps.values()):
        line = engine.lamp_line(entry.config, number)
        if line == engine.lamp_line(before, number):
            continue
        when = shown.lines[line].when
        named = [] if when is None else [n for n in _named(board, when) if shows.get(n, entry.time + 1) <= entry.time]
        if named:
            yield from (Cause(name, shows[name], shown.id, entry.time) for name in named)
        else:
            roots = [o for o, made in alone if made is not None and engine.lamp_line(made.config, number) == line]
            yield from (Cause(one.row, one.at, shown.id, entry.time) for one in roots or due)


def _due(engine: Engine, entry: Entry) -> Iterator[_Due]:
    machine, causes = engine.machine, entry.causes
    if causes.power is not None:
        yield _Due(POWER, entry.time, Causes(power=causes.power))
        return
    for taken in causes.changes:
        yield _Due(machine.levels[taken.level].input, taken.raw, Causes(changes=(taken,)))
    for timing in causes.expired:
        if machine.timings[timing].role not in UNSEEN:
            yield _Due(timing_row(machine.timings[timing].name), entry.time, Causes(expired=(timing,)))
    for region in causes.dropped:
        name = machine.timings[machine.regions[region].timings[0]].name
        yield _Due(timing_row(name), entry.time, Causes(dropped=(region,)))


def _alone(engine: Engine, before: Config, causes: Causes) -> Outcome | None:
    if causes.power:
        return None
    levels = list(before.levels)
    for taken in causes.changes:
        levels[taken.level] = taken.value
    try:
        return engine.settle(before, tuple(levels), causes.expired, causes.dropped)
    except CannotSettle:
        return None


def _begins(run: Run, timing: int, time: int) -> int:
    """Give when the run of a timing that was set going in an instant begins to count."""
    return next((s.origin for s in run.stretches if s.timing == timing and s.begun == time), time)


def _shown(run: Run, output: str, since: int, value: bool) -> int | None:
    """Give when a command shows at its terminal, None where the next change there is another one."""
    for time, shown in run.outputs[output].changes:
        if time >= since:
            return time if bool(shown) is value else None
    return None


def _reason(row: Output, value: bool) -> ex.Condition | None:
    return row.on if row.on is not None else row.starts if value else row.stops


def _named(board: Board, condition: ex.Expression | None) -> Iterable[str]:
    """Give the names that a condition mentions, through the conditions it names."""
    waiting, found = [condition] if condition is not None else [], dict[str, None]()
    while waiting:
        for name, _ in ex.names(waiting.pop()):
            row = board.conditions.get(name)
            if row is not None and name not in found:
                waiting.append(row.is_)
            found[name] = None
    return found

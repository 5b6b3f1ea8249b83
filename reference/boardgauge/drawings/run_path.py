"""Draw the overview with the way that one run took through it.

Law of this module: the states passed through are those of the run's own configurations, in order; each passage is
numbered, its arrow is thick, and nothing hangs on colour. A passage that no arrow of the overview stands for (two
causes at one moment, a loss of power) gets an arrow of its own.
"""

from __future__ import annotations

from attrs import frozen

from boardgauge.drawings.overview import state_names
from boardgauge.drawings.overview_pages import overview_pages
from boardgauge.drawings.page import Paper
from boardgauge.drawings.picture import Picture
from boardgauge.machine.config import Config
from boardgauge.machine.operating import OperatingState, Overview
from boardgauge.machine.run import Run
from boardgauge.machine.settle import Engine

_MOST_TOLD = 24


@frozen
class Passage:
    """One passage of a run from an operating state to another (numbers count into ``Overview.states``)."""

    number: int
    time: int
    source: int
    target: int


def state_of(engine: Engine, seen: Overview, config: Config) -> int:
    """Give the operating state that a configuration belongs to. Raises LookupError where exploring did not meet it."""
    for state in seen.states:
        if _matches(engine, state, config):
            return state.number
    raise LookupError("the run is in a state that exploring did not find")


def _matches(engine: Engine, state: OperatingState, config: Config) -> bool:
    if state.powered != config.powered:
        return False
    if not state.powered:
        return True
    machine = engine.machine
    lines = {lamp: engine.lamp_line(config, number) for number, lamp in enumerate(machine.board.lamps)}
    if any(lines[lamp] != line for lamp, line in state.lamps):
        return False
    values = {row.output: value for row, value in zip(machine.outputs, engine.outputs(config), strict=True)}
    for output, value in state.outputs:
        if isinstance(value, tuple):
            level, polarity = value
            if values[output] is not (config.levels[level] == polarity):
                return False
        elif value is not None and values[output] is not value:
            return False
    return True


def passages(engine: Engine, seen: Overview, run: Run, until: int | None = None) -> tuple[Passage, ...]:
    """Give the passages of a run in order, from a board without power, up to a time."""
    at = state_of(engine, seen, engine.off())
    found: list[Passage] = []
    for entry in run.story:
        if until is not None and entry.time > until:
            break
        new = state_of(engine, seen, entry.config)
        if new != at:
            found.append(Passage(len(found) + 1, entry.time, at, new))
            at = new
    return tuple(found)


def path_pages(
    engine: Engine, seen: Overview, run: Run, title: str, until: int | None = None, paper: Paper | None = "letter"
) -> tuple[Picture, ...]:
    """Draw the overview with the passages of a run, on as many pages as it takes."""
    taken = passages(engine, seen, run, until)
    numbers: dict[tuple[int, int], list[int]] = {}
    for one in taken:
        numbers.setdefault((one.source, one.target), []).append(one.number)
    passed = {pair: f"({', '.join(map(str, some))})" for pair, some in numbers.items()}
    return overview_pages(seen, paper, passed, "path", title, _told(seen, taken, until))


def _told(seen: Overview, taken: tuple[Passage, ...], until: int | None) -> tuple[str, ...]:
    names = state_names(seen)
    if not taken:
        return ("The board stays without power throughout.",)
    told = [f"({one.number}) {one.time / 1_000_000:.1f} s {names[one.target]}" for one in taken[:_MOST_TOLD]]
    if len(taken) > _MOST_TOLD:
        told.append(f"and {len(taken) - _MOST_TOLD} more")
    end = "" if until is None else f" Followed up to {until / 1_000_000:.1f} s."
    return (f"Thick arrows: the path, its passages numbered in order. {'; '.join(told)}.{end}",)

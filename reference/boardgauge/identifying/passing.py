"""How a board goes on by itself, and how long what it shows can last at the longest.

Law of this module: inputs stand still and the power stays; only timings end. Each is given its longest time, at the
rate of no speed-up, whatever its setting; so a time told here is never too short. Where no longest time can be told
it is None. Times are microseconds.
"""

from __future__ import annotations

from attrs import frozen

from boardgauge.identifying.knowledge import Knowledge
from boardgauge.machine.table import Timing

_MOST_STEPS = 400

_Path = tuple[int, dict[int, int | None], frozenset[int]]


@frozen
class Passing:
    """Where time leads from a configuration while nobody touches anything.

    ``stands`` are the configurations in which it looks the same as at first, each with the longest time until it is
    left (None: it may last for ever). ``turns`` are those in which it first looks otherwise, each with the longest
    time until then and the timings (indices) that ran out on the way.
    """

    stands: dict[int, int | None]
    turns: dict[int, tuple[int | None, tuple[int, ...]]]

    @property
    def surely(self) -> bool:
        """Tell whether it looks otherwise sooner or later, come what may."""
        return bool(self.turns) and None not in self.stands.values()


def longest(row: Timing) -> int:
    """Give the longest a timing lasts, whatever its setting."""
    return max(choice.longest for choice in row.choices)


def passing(known: Knowledge, config: int) -> Passing:
    """Follow a configuration through time."""
    key = ("passing", config)
    made = known.once.get(key)
    if made is None:
        made = known.once[key] = _follow(known, config)
    assert isinstance(made, Passing)
    return made


def _follow(known: Knowledge, start: int) -> Passing:
    stands: dict[int, int | None] = {}
    turns: dict[int, tuple[int | None, tuple[int, ...]]] = {}
    # A path: where it is, by when each timing that runs is over, what it came through.
    paths: list[_Path] = [(start, _running(known, start, {}, 0), frozenset({start}))]
    for _ in range(_MOST_STEPS):
        if not paths:
            return Passing(stands, turns)
        at, over, came = paths.pop()
        left = min((end for end in over.values() if end is not None), default=None)
        _longer(stands, at, left)
        for edge in known.by_time[at]:
            # What is too old to count drops out at a moment that nothing here tells.
            when = left if edge.step.expired else None
            if known.looks[edge.target] != known.looks[start]:
                _later(turns, edge.target, when, edge.step.expired)
            elif edge.target in came:
                stands[edge.target] = None
            else:
                kept = {timing: end for timing, end in over.items() if timing not in edge.step.expired}
                paths.append((edge.target, _running(known, edge.target, kept, when), came | {edge.target}))
    return _without_times(known, start)


def _without_times(known: Knowledge, start: int) -> Passing:
    """Give where time leads and no times: there are too many ways to follow each."""
    stands: dict[int, int | None] = {start: None}
    turns: dict[int, tuple[int | None, tuple[int, ...]]] = {}
    waiting = [start]
    while waiting:
        for edge in known.by_time[waiting.pop()]:
            if known.looks[edge.target] != known.looks[start]:
                turns.setdefault(edge.target, (None, edge.step.expired))
            elif edge.target not in stands:
                stands[edge.target] = None
                waiting.append(edge.target)
    return Passing(stands, turns)


def _later(
    turns: dict[int, tuple[int | None, tuple[int, ...]]], at: int, when: int | None, gone: tuple[int, ...]
) -> None:
    held = turns.get(at)
    if held is None or (held[0] is not None and (when is None or when > held[0])):
        turns[at] = (when, gone)


def _running(known: Knowledge, config: int, before: dict[int, int | None], now: int | None) -> dict[int, int | None]:
    running = known.found.configs[config].running & ~known.hidden
    over: dict[int, int | None] = {}
    for row in known.machine.timings:
        if running >> row.index & 1:
            over[row.index] = (
                before[row.index] if row.index in before else (None if now is None else now + longest(row))
            )
    return over


def _longer(stands: dict[int, int | None], at: int, left: int | None) -> None:
    held = stands.get(at, 0)
    stands[at] = None if held is None or left is None else max(held, left)

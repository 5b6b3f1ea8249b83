"""The reference machine as one table: what stepping, drawing, exploring and export all read.

Law of this module: no transition lives only in code. A ``Machine`` names every thing a board keeps (its regions,
with places and the moves between them), every timing with its range, every input level the rules look at, and
everything that follows from those; each points to the rule it came from and the place in the spec.
"""

from __future__ import annotations

from typing import Literal

from attrs import field, frozen

from boardgauge.language.expressions import Comparison, Condition, Event, Trigger
from boardgauge.language.model import Board, Requirement, Spot
from boardgauge.language.quantities import Duration

Role = Literal["delay", "for", "at least", "at most", "lasts", "step", "target", "window", "not judged", "requirement"]


@frozen
class Level:
    """One boolean fact about an input that the rules look at.

    ``comparison`` is None for an input that is on or off by itself (true means on, closed, fitted or pressed);
    a sensor has one level for each comparison written about it. ``at_rest`` is what holds before power-up.
    """

    index: int
    input: str
    comparison: Comparison | None
    at_rest: bool


@frozen
class Timing:
    """One timing: a stretch with a range, begun by the machine and ending by itself.

    ``choices`` has one duration for each position of ``setting`` (one in all where there is no setting).
    ``speed_ups`` are indices into ``Machine.speed_ups``. ``owner`` is the id of the rule, output, requirement or
    condition in whose table the time is written.
    """

    index: int
    name: str
    role: Role
    owner: str
    choices: tuple[Duration, ...]
    setting: str | None = None
    speed_ups: tuple[int, ...] = ()
    condition: Condition | None = None
    clause: str | None = None
    at: Spot = field(eq=False, kw_only=True, repr=False)


@frozen
class Move:
    """One arrow of a region: from a place to a place, by a trigger or by the end of a timing."""

    source: str
    target: str
    trigger: Trigger | None = None
    timing: int | None = None
    words: str = ""


@frozen
class Region:
    """One kept thing: its places in order (the first is where it starts) and the moves between them.

    ``kind`` is the rule's kind, or ``"output"`` for an output with ``starts`` and ``stops``.
    """

    index: int
    rule: str
    kind: Literal["lockout", "count", "accumulator", "mode", "sequence", "toggle", "output"]
    places: tuple[str, ...]
    moves: tuple[Move, ...]
    timings: tuple[int, ...] = ()
    kept_without_power: bool = False
    clause: str | None = None
    at: Spot = field(eq=False, kw_only=True, repr=False)


@frozen
class DelayRow:
    """One delay. Delays are followed, not kept: whether one is active is worked out from the picture."""

    index: int
    rule: str
    timing: int
    begins: Event
    cut_by: Trigger | None
    starts_over: bool
    hidden: bool = False
    kept_without_power: bool = False


@frozen
class OutputRow:
    """One output: followed (``on``) or kept (``region``)."""

    index: int
    output: str
    lag: int
    on: Condition | None
    region: int | None
    clause: str | None = None


@frozen
class SpeedUpRow:
    index: int
    id: str
    while_: Condition
    times_faster: int


@frozen
class Watch:
    """One requirement, ready to be watched: what would break it, read off a settled picture."""

    requirement: Requirement
    breaks: Trigger
    timing: int | None = None


@frozen
class TogetherRow:
    """Outputs (indices) that, commanded in one instant, show within a time of each other (microseconds)."""

    index: int
    requirement: Requirement
    outputs: tuple[int, ...]
    within: int
    after: Event | None = None


@frozen
class Machine:
    """A compiled board. Indices in one row always count into the tuple of that name."""

    board: Board
    levels: tuple[Level, ...]
    regions: tuple[Region, ...]
    delays: tuple[DelayRow, ...]
    timings: tuple[Timing, ...]
    outputs: tuple[OutputRow, ...]
    speed_ups: tuple[SpeedUpRow, ...]
    watches: tuple[Watch, ...]
    togethers: tuple[TogetherRow, ...]
    masks: tuple[tuple[int, tuple[str, ...]], ...]

    def timings_of(self, owner: str) -> tuple[Timing, ...]:
        """Give the timings written in the table of a rule (or of an output, a condition, a requirement)."""
        return tuple(t for t in self.timings if t.owner == owner)

    def region_of(self, rule: str) -> Region | None:
        """Give the region of a rule, or None where the rule has none (a delay)."""
        return next((r for r in self.regions if r.rule == rule), None)

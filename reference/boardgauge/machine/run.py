"""What a simulated board was given and what it did, as values.

Law of this module: values only. A level is true for on, closed, fitted, pressed and lit; an output's level is that of
its coil, whatever contact it uses; a sensor's value is a number in the unit of its input. Times are microseconds.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping
from operator import itemgetter
from typing import Literal

from attrs import field, frozen

from boardgauge.language.board_values import Value as Value
from boardgauge.machine.config import Config, Outcome

How = Literal["expired", "stopped", "begun again", "lost power", "still running"]
POWER = "power"


@frozen
class Timeline:
    """What happens at the terminals: for each input (and ``power``) its changes as (time, value), in order.

    A change at time 0 or before says how an input stands from the beginning; an input that is not named stands at rest.
    There is no power until a change of ``power`` says so. ``end`` is where the run ends.
    """

    inputs: Mapping[str, tuple[tuple[int, Value], ...]]
    end: int


@frozen
class Edges:
    """One signal: what it is at the start, and its changes in order."""

    initial: Value
    changes: tuple[tuple[int, Value], ...] = ()

    def at(self, time: int) -> Value:
        """Give the value at a time; a change counts from its own time on."""
        after = bisect_right(self.changes, time, key=itemgetter(0))
        return self.changes[after - 1][1] if after else self.initial


@frozen
class Taken:
    """An input change as the board took it in: ``raw`` is its time at the terminal."""

    level: int
    value: bool
    raw: int


@frozen
class Causes:
    """What was due at one moment. ``power`` tells that the supply came on (true) or went (false)."""

    changes: tuple[Taken, ...] = ()
    expired: tuple[int, ...] = ()
    dropped: tuple[int, ...] = ()
    power: bool | None = None


@frozen
class Entry:
    """One instant of the story; ``outcome`` is None where power was lost. ``config`` is the board after it."""

    time: int
    outcome: Outcome | None
    causes: Causes
    config: Config


@frozen
class Stretch:
    """One stretch of a timing: set going at ``begun``, counted from ``origin`` at the terminals, over at ``end``."""

    timing: int
    begun: int
    origin: int
    end: int
    how: How


@frozen
class Run:
    """What a simulated board did from 0 to ``end``.

    ``inputs`` has the changes at the input terminals by input, ``outputs`` what showed at the output terminals by
    output, ``lamps`` lit (true) and dark by lamp, ``power`` the supply. ``story`` tells every instant, ``stretches``
    every timing in the order in which they were over.
    """

    end: int
    inputs: dict[str, Edges]
    outputs: dict[str, Edges]
    lamps: dict[str, Edges]
    power: Edges
    story: tuple[Entry, ...] = field(repr=False)
    stretches: tuple[Stretch, ...] = field(repr=False, default=())

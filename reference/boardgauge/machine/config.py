"""What a board is in at a moment, and what an instant does to it, as values.

Law of this module: nothing here knows how long; times live with whoever steps the machine.
"""

from __future__ import annotations

from typing import Literal, NamedTuple

from attrs import frozen


class _Config(NamedTuple):
    powered: bool
    levels: tuple[bool, ...]
    places: tuple[int, ...]
    running: int
    full: int
    settings: tuple[int, ...]
    chosen: tuple[int, ...]


class Config(_Config):
    """What a board is in, apart from how long: all that the next instant depends on.

    ``levels`` are the inputs as taken in; ``places`` one number a region; ``running`` a bit a timing that is running
    (for an accumulator: adding up); ``full`` a bit a ``C for T`` whose time is over; ``settings`` the position read at
    power-up, one a setting; ``chosen`` the position each timing with a setting took when it began.
    """

    _hash: int

    def __hash__(self) -> int:
        # Configurations are looked up far more often than made.
        try:
            return self._hash
        except AttributeError:
            self._hash = super().__hash__()
            return self._hash


@frozen
class Cause:
    """What set a timing going: levels (indices) that changed, outputs that changed, or the instant's own causes."""

    kind: Literal["inputs", "outputs", "instant"]
    which: tuple[int, ...] = ()


THE_INSTANT = Cause("instant")


@frozen
class Outcome:
    """What an instant did.

    ``begun`` (timing, cause): timings set going, an accumulator that begins to add up among them; ``paused`` the
    accumulators that stop adding up; ``emptied`` the accumulator regions set to nought; ``counted`` (region, cause) the
    counts that took in an event; ``forgot`` the counts set to none; ``commands`` (output, value); ``broken`` the
    watches that saw their requirement broken; ``together`` the rows of outputs that must show together; ``moved``
    (region, old place, new place).
    """

    config: Config
    begun: tuple[tuple[int, Cause], ...]
    paused: tuple[tuple[int, Cause], ...]
    emptied: tuple[int, ...]
    counted: tuple[tuple[int, Cause], ...]
    forgot: tuple[int, ...]
    commands: tuple[tuple[int, bool], ...]
    broken: tuple[int, ...]
    together: tuple[int, ...]
    moved: tuple[tuple[int, int, int], ...]
    instants: int

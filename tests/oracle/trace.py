"""What was seen of a board, for the oracle.

Law of this module: values only. What the recording leaves open is said here and decided nowhere but in the search.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from attrs import field, frozen


@frozen
class Trace:
    """What was seen, in whole units: for the supply, each input and each output the level at 0 and the changes.

    ``free`` are the stretches in which an input is not known, ``unseen`` the outputs that have no channel. With
    ``every`` it was sampled so far apart: a change came after the sample before. Of the inputs in ``hides`` a whole
    pulse may hide between two samples, if it is no shorter than said there. ``moments``: input changes, by the input
    and their number in its row, that are taken in together. ``lamps`` are rows of lit and dark. Without
    ``from_power_up`` it begins with the supply on and nothing known of before.
    """

    signals: Mapping[str, tuple[tuple[int, bool], ...]]
    end: int
    free: Mapping[str, tuple[tuple[int, int], ...]] = field(factory=dict)
    unseen: frozenset[str] = frozenset()
    every: int = 0
    hides: Mapping[str, int] = field(factory=dict)
    moments: Mapping[tuple[str, int], int] = field(factory=dict)
    lamps: Mapping[str, tuple[tuple[int, bool], ...]] = field(factory=dict)
    from_power_up: bool = True

    @property
    def whole(self) -> bool:
        """Tell whether every level is known at every moment, from the power-up on."""
        return self.from_power_up and not (self.free or self.unseen or self.every or self.moments or self.lamps)

    def at(self, tick: int) -> dict[str, bool]:
        """Give the changes at a tick."""
        return {n: v for n, row in self.signals.items() for t, v in row[1:] if t == tick}


def ticks(signals: Iterable[tuple[int, bool]]) -> tuple[tuple[int, bool], ...]:
    """Give a row of changes without those that change nothing."""
    row: list[tuple[int, bool]] = []
    for tick, value in signals:
        if row and row[-1][0] == tick:
            row.pop()
        if not row or row[-1][1] != value:
            row.append((tick, value))
    return tuple(row)

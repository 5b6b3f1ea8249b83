"""Step a board whose rules may contradict themselves, as firmware does that goes through them over and over.

Law of this module: an instant that comes to rest is that of ``Engine``. In one that does not, a thing stays where it is
rather than go back and forth or come around again, and what is left to do is done in the next scan, ``SCAN`` later.
That is a guess at what such a board would do: a good board needs none, and none is made for it.
"""

from __future__ import annotations

from collections.abc import Sequence

from boardgauge.language.quantities import MS
from boardgauge.machine.config import Config, Outcome
from boardgauge.machine.logic import Happens
from boardgauge.machine.moves import Look
from boardgauge.machine.picture import CannotSettle, ScanningPainter
from boardgauge.machine.settle import Engine, Made
from boardgauge.machine.table import Machine

SCAN = 10 * MS
"""How long firmware that goes through its rules over and over takes for it once."""


class ScanningEngine(Engine):
    """An engine that refuses no instant."""

    def __init__(self, machine: Machine) -> None:
        super().__init__(machine, ScanningPainter)
        self._scans = False
        """Whether an instant is gone through in scans just now."""

    def scans_again(self, config: Config) -> bool:
        """Tell whether a board in a configuration goes on by itself, with nothing happening and no time to run out."""
        return config.powered and self.settle(config).config != config

    def work_out(self, config: Config, levels: tuple[bool, ...], facts: int, dropped: tuple[int, ...]) -> Outcome:
        """Do as ``settle`` does, remembering nothing; one scan where that does not come to rest."""
        try:
            return super().work_out(config, levels, facts, dropped)
        except CannotSettle:
            made = Made()
        self._scans = True
        try:
            after = self.instant(config, levels, facts, dropped, made)
        finally:
            self._scans = False
        return self.came_to(config, after, made, 1)

    def allowed(
        self, places: tuple[int, ...], moved: tuple[int, ...], journeys: Sequence[Sequence[int]]
    ) -> tuple[int, ...]:
        """Give where kept things go, of where they would: in a scan none goes again and again."""
        if not self._scans:
            return super().allowed(places, moved, journeys)
        rows = enumerate(zip(places, moved, strict=True))
        return tuple([new if old == new or not self.refusal(i, new, journeys[i]) else old for i, (old, new) in rows])

    def check_events(self, moved: Sequence[tuple[int, Happens]], look: Look) -> None:
        """Look whether events on which things moved are in the settled picture; in a scan they need not be."""
        if not self._scans:
            super().check_events(moved, look)

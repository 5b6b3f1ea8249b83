"""A lamp of a simulated board, lit and dark as time goes on.

Law of this module: the patterns and the limits of their parts are those of ``machine.lamp_wave``; here they are only
followed step by step, since a rig does not know what the board will show later.
"""

from __future__ import annotations

from collections.abc import Iterator

from attrs import define, field

from boardgauge.language.model import Dark, Lamp, Pattern
from boardgauge.machine.chance import Chance
from boardgauge.machine.lamp_wave import part_limits, parts


@define
class LampPlayer:
    """One lamp. ``line`` tells it that its line changed; ``next_edge`` and ``go`` play what that line shows."""

    lamp: Lamp
    chance: Chance
    lit: bool = False
    _noted: int = -1
    _parts: Iterator[tuple[bool, int | None]] | None = None
    _part_at: int | None = None
    _coming: tuple[int, int] | None = None
    _limits: dict[int, tuple[int, int]] = field(factory=dict)

    def line(self, time: int, line: int) -> None:
        """Note that from a time on another line of the table holds; -1 for none (no power)."""
        if line != self._noted:
            # What has not started yet never does: the line has changed again.
            self._noted = line
            start = time if line < 0 else self.chance.between(time, time + self.lamp.changes_within)
            self._coming = (start, line)

    def next_edge(self) -> int | None:
        """Give when something of the lamp is due, None if it stays as it is: it need not be a change."""
        times = [self._part_at, None if self._coming is None else self._coming[0]]
        return min((time for time in times if time is not None), default=None)

    def go(self, to: int) -> list[tuple[int, bool]]:
        """Play up to a time, that included; give when it lit and went dark."""
        edges: list[tuple[int, bool]] = []
        while (time := self.next_edge()) is not None and time <= to:
            if self._coming is not None and self._coming[0] <= time:
                line, self._coming = self._coming[1], None
                pattern: Pattern = Dark() if line < 0 else self.lamp.lines[line].shows
                self._parts = parts(self.lamp, pattern)
            assert self._parts is not None
            value, length = next(self._parts)
            self._part_at = None if length is None else time + self._length(length)
            if value != self.lit:
                self.lit = value
                edges.append((time, value))
        return edges

    def _length(self, nominal: int) -> int:
        limits = self._limits.get(nominal)
        if limits is None:
            limits = self._limits[nominal] = part_limits(self.lamp, nominal)
        return self.chance.length(nominal, *limits)

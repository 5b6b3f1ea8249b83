"""Read the settings of a board: positions chosen by jumpers or by a person.

Law of this module: a setting read at power-up is read in that instant, from the terminals; one read always is looked
at when a timing begins. A timing keeps the position it began with.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from boardgauge.machine.logic import Check, Logic, Picture
from boardgauge.machine.table import Machine


class SettingReader:
    """The settings of one machine; positions are numbered as they are declared."""

    def __init__(self, machine: Machine, logic: Logic) -> None:
        self._rows = list(machine.board.settings.values())
        self._checks: list[list[Check | None]] = [
            [None if p.when is None else logic.condition(p.when) for p in row.positions] for row in self._rows
        ]
        number = {row.id: index for index, row in enumerate(self._rows)}
        self._timings = [(t.index, number[t.setting]) for t in machine.timings if t.setting is not None]
        self._column = {timing: column for column, (timing, _) in enumerate(self._timings)}
        self.nothing_chosen: tuple[int, ...] = (0,) * len(self._timings)

    def named(self, positions: Mapping[str, str]) -> tuple[int, ...]:
        """Give the position of each setting that a person chose by name (its factory position where none is given)."""
        chosen = []
        for row in self._rows:
            name = positions.get(row.id, row.factory)
            chosen.append(next((i for i, p in enumerate(row.positions) if name is not None and p.name == name), 0))
        return tuple(chosen)

    def at_power_up(self, settings: tuple[int, ...], now: Picture) -> tuple[int, ...]:
        """Read the jumpers."""
        return tuple(self._read(index, old, now) for index, old in enumerate(settings))

    def _read(self, index: int, old: int, now: Picture) -> int:
        checks = self._checks[index]
        return next((i for i, check in enumerate(checks) if check is not None and check(now)), old)

    def choose(
        self, chosen: tuple[int, ...], settings: tuple[int, ...], now: Picture, fresh: Iterable[int], power_up: bool
    ) -> tuple[int, ...]:
        """Give the position of each timing with a setting, after the ``fresh`` ones began."""
        new = set(fresh)
        if not power_up and new.isdisjoint(self._column):
            return chosen
        return tuple(
            self._position(index, settings, now) if power_up or timing in new else old
            for (timing, index), old in zip(self._timings, chosen, strict=True)
        )

    def _position(self, index: int, settings: tuple[int, ...], now: Picture) -> int:
        if self._rows[index].read == "always":
            return self._read(index, settings[index], now)
        return settings[index]

    def choice(self, chosen: tuple[int, ...], timing: int) -> int:
        """Give the position a timing took when it began; 0 where it has no setting."""
        column = self._column.get(timing)
        return 0 if column is None else chosen[column]

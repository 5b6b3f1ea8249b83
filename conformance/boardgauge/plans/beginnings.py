"""How a sitting can begin: what stands at the inputs, the links fitted throughout, the settings that a person chooses.

Law of this module: a sitting begins as the spec leaves a board, but for what is said of it; nothing begins that must
not be driven.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from itertools import product

from attrs import define

from boardgauge.language.model import Board, InputKind
from boardgauge.language.quantities import Duration
from boardgauge.machine.run import Value
from boardgauge.plans.forbidding import Forbidding
from boardgauge.plans.hand import Hand
from boardgauge.plans.side import Side

_MOST_POSITIONS = 8


@define(eq=False)
class Beginnings:
    """How sittings of one board can begin. ``good`` is the good board."""

    good: Side
    hand: Hand
    forbidding: Forbidding

    @property
    def board(self) -> Board:
        """The board."""
        return self.hand.board

    def values(self) -> dict[str, Value]:
        """Give what stands at the inputs before the supply comes on: rest, at a sensor what the least goes by."""
        return {
            row.id: self._quietest(row.id) if row.kind is InputKind.SENSOR else row.rests_on
            for row in self.board.inputs.values()
        }

    def _quietest(self, sensor: str) -> Value:
        values: tuple[Value, ...] = self.hand.values.get(sensor) or (Fraction(0),)
        standing = self.good.off()
        at = {level.index for level in self.hand.machine.levels if level.input == sensor}

        def holding(value: Value) -> int:
            levels = self.good.levels(standing.config.levels, {sensor: value}, True)
            return sum(levels[index] for index in at)

        return min(values, key=holding)

    def links(self) -> Iterator[dict[str, Value]]:
        """Give the links that speed up, each fitted throughout (what is told so takes little time), then none."""
        names = [row.id for row in self.board.inputs.values() if row.kind is InputKind.LINK]
        start = self.values()
        for speed_up in self.hand.machine.speed_ups:
            for name in names:
                fitted = {**start, name: True}
                if self.forbidding.allows(fitted) and self._speeds_up(speed_up.index, start, name):
                    yield {name: True}
        yield {}

    def unhurried(self) -> dict[str, Value]:
        """Give the links that speed something up, as they stand where they do not."""
        return {name: False for links in self.links() for name in links}

    def _speeds_up(self, speed_up: int, start: dict[str, Value], link: str) -> bool:
        standing = self.good.off()
        for fitted in (True, False):
            levels = self.good.levels(standing.config.levels, {**start, link: fitted}, True)
            config = standing.config._replace(levels=levels, powered=True)
            if self.good.engine.sped_up(config, speed_up) is not fitted:
                return False
        return True

    def quickest(self) -> dict[str, str]:
        """Give the positions of the settings that a person can choose in which times last the least."""
        found = {}
        for row in self.board.settings.values():
            lasting = [(place.is_.nominal, place.name) for place in row.positions if isinstance(place.is_, Duration)]
            if len(lasting) == len(row.positions) and all(name is not None for _, name in lasting):
                name = min(lasting, key=lambda pair: pair[0])[1]
                if name is not None and name != row.factory:
                    found[row.id] = name
        return found

    def positions(self) -> Iterator[dict[str, str]]:
        """Give the positions that a person can choose: those of the factory (nothing said), then others together."""
        yield {}
        named = [
            [(row.id, place.name) for place in row.positions if place.name is not None and place.name != row.factory]
            for row in self.board.settings.values()
            if row.positions[0].name is not None
        ]
        for number, chosen in enumerate(product(*named) if named else ()):
            if number < _MOST_POSITIONS:
                yield dict(chosen)

"""The boards of the bench that planning thinks of: the good one, and a faulty one for each fault.

Law of this module: a board is compiled once, when it is first asked for.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from fractions import Fraction

from attrs import define, evolve, field

from boardgauge.faults import Fault
from boardgauge.language.model import Board, Delay
from boardgauge.language.quantities import EXACTLY, Duration
from boardgauge.machine.explore import Exploration, explore
from boardgauge.machine.quick import QuickEngine, QuickScanningEngine
from boardgauge.pairing.stepping import Length
from boardgauge.plans.acting import Acting, acting
from boardgauge.plans.guiding import Guide
from boardgauge.plans.hand import Hand
from boardgauge.plans.instants import Instants
from boardgauge.plans.joint import Together
from boardgauge.plans.side import Side
from boardgauge.plans.terrain import Terrain
from boardgauge.plans.wish import Wish


@define(eq=False)
class Sides:
    """The boards for one wish. ``patience`` makes a fault part only after so many times as long a difference."""

    wish: Wish
    hand: Hand
    faults: Mapping[str, Fault] = field(init=False)
    good: Side = field(init=False)
    patience: dict[str, Fraction | int] = field(factory=dict)
    _faulty: dict[str, Side] = field(factory=dict)
    _guides: dict[str, Guide] = field(factory=dict)
    _acting: dict[str, Acting | None] = field(factory=dict)
    _instants: Instants | None = None
    _explored: Exploration | None = None
    _terrain: Terrain | None = None

    def __attrs_post_init__(self) -> None:
        self.faults = {fault.id: fault for fault in self.wish.faults}
        self.good = self._side(self.wish.board)

    def together(self, ids: Iterable[str], positions: dict[str, str], length: Length = "nominal") -> Together:
        """Give the good board and those with faults, side by side, with settings at positions and times of a length."""
        sides = {id_: self._with_fault(id_).at(positions, length) for id_ in sorted(ids)}
        acts = {id_: found for id_ in sides if (found := self._acts(id_)) is not None}
        return Together(self.good.at(positions, length), sides, self.faults, self.patience, acts)

    def guide(self, id_: str) -> Guide:
        """Give the guide to where a fault shows; it is worked out when it is first asked for."""
        if id_ not in self._guides:
            fault = self.faults[id_]
            seen = frozenset((*self.wish.outputs, *self.wish.lamps))
            pulse = fault.of if fault.group == "input not filtered" else None
            faulty = self._with_fault(id_).engine
            self._guides[id_] = Guide(
                self.good.engine,
                faulty,
                self.hand,
                seen,
                fault.of,
                pulse,
                terrain=self.terrain,
                acting=self._acts(id_),
            )
        return self._guides[id_]

    def _acts(self, id_: str) -> Acting | None:
        if id_ not in self._acting:
            good, faulty = self.good.engine, self._with_fault(id_).engine
            self._acting[id_] = acting(self.instants, good, faulty)
        return self._acting[id_]

    @property
    def instants(self) -> Instants:
        """The instants of the good board that were met so far."""
        if self._instants is None:
            self._instants = Instants(self.good.engine.machine)
        return self._instants

    @property
    def explored(self) -> Exploration:
        """What exploring the good board came to."""
        if self._explored is None:
            self._explored = explore(self.good.engine.machine)
        return self._explored

    @property
    def terrain(self) -> Terrain:
        """The map of the good board."""
        if self._terrain is None:
            self._terrain = Terrain(self.good.engine, self.hand, self.instants, self.explored)
        return self._terrain

    def _with_fault(self, id_: str) -> Side:
        if id_ not in self._faulty:
            fault = self.faults[id_]
            chatters = fault.group == "output chatters"
            board = slowly(fault.board, self.wish.board) if chatters else fault.board
            self._faulty[id_] = self._side(board, QuickScanningEngine)
        return self._faulty[id_]

    def _side(self, board: Board, engine: type[QuickEngine] = QuickEngine) -> Side:
        return Side.of(board, self.wish.outputs, self.wish.lamps, engine)


def slowly(board: Board, good: Board) -> Board:
    """Give a board on which the delays that a fault added last their longest: so long it has to be looked at."""
    rules = {
        id_: evolve(rule, lasts=Duration(int(rule.lasts.longest), EXACTLY))
        if id_ not in good.rules and isinstance(rule, Delay) and isinstance(rule.lasts, Duration)
        else rule
        for id_, rule in board.rules.items()
    }
    return evolve(board, rules=rules)

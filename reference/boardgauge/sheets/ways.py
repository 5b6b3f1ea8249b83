"""Find the way from what a board is in to what it is to show, through what exploring it found.

Law of this module: a way is made of the exploration's own steps. Of several the most natural is taken: time passes
before a hand moves, and a hand works a switch before it takes a link off or cuts the power. Ties: the first found.
"""

from __future__ import annotations

from collections.abc import Callable
from heapq import heappop, heappush

from attrs import define, field

from boardgauge.language.model import InputKind
from boardgauge.machine.config import Config
from boardgauge.machine.explore import Edge, Exploration, Step, hidden_timings
from boardgauge.machine.settle import Engine
from boardgauge.machine.table import Machine

_EXPIRES, _DROPPED, _POWER_LOSS, _OFF_REST, _TO_REST = 2, 30, 200, 8, 6
_SLOWER = 3
_TRIPS = 5
_STOPS = 3
_MORE = {InputKind.CALL: 12, InputKind.LINK: 30, InputKind.BUTTON: 3}


@define
class Ways:
    """The ways through one machine. ``patient``: a hand moves before a mode has lasted its longest."""

    machine: Machine
    engine: Engine
    found: Exploration
    numbers: dict[Config, int] = field(init=False)
    leaving: list[list[Edge]] = field(init=False)
    _hidden: int = field(init=False)

    def __attrs_post_init__(self) -> None:
        self.numbers = {config: number for number, config in enumerate(self.found.configs)}
        self.leaving = [[] for _ in self.found.configs]
        for edge in self.found.edges:
            self.leaving[edge.source].append(edge)
        self._hidden = hidden_timings(self.machine)

    def number(self, config: Config) -> int | None:
        """Give the number of what a board is in, None for what exploring did not find."""
        plain = config._replace(
            running=config.running & ~self._hidden,
            full=config.full & ~self._hidden,
            settings=self.engine.off().settings,
            chosen=self.engine.settings.nothing_chosen,
        )
        return self.numbers.get(plain)

    def way(
        self,
        start: int,
        there: Callable[[Config], bool],
        blocked: frozenset[tuple[int, Step]] = frozenset(),
        waiting: int = 1,
    ) -> list[Edge] | None:
        """Give the most natural way to a configuration that is ``there``, None where none leads to one.

        ``blocked``: (configuration, step) that time does not allow. ``waiting``: how much a timing's end costs, against
        the 1 it costs where waiting is natural.
        """
        configs = self.found.configs
        best = {start: 0}
        came: dict[int, Edge] = {}
        queue = [(0, start)]
        while queue:
            cost, at = heappop(queue)
            if cost > best[at]:
                continue
            if there(configs[at]):
                return _back(came, start, at)
            for edge in self.leaving[at]:
                if (at, edge.step) in blocked:
                    continue
                sum_ = (
                    cost + self._cost(edge.step, configs[at], waiting) + self._stops(configs[at], configs[edge.target])
                )
                if sum_ < best.get(edge.target, 1 << 60):
                    best[edge.target] = sum_
                    came[edge.target] = edge
                    heappush(queue, (sum_, edge.target))
        return None

    def _cost(self, step: Step, config: Config, waiting: int) -> int:
        if step.power is not None:
            if not step.power:
                return _POWER_LOSS
            rest = self.machine.levels
            return 1 + sum(_OFF_REST for index, value in step.levels if value != rest[index].at_rest)
        if step.dropped:
            return _DROPPED
        cost = 0
        for index, value in step.levels:
            level = self.machine.levels[index]
            kind = self.machine.board.inputs[level.input].kind
            cost += (_OFF_REST if value != level.at_rest else _TO_REST) + _MORE.get(kind, 0)
            if level.at_rest and not value:
                cost += _TRIPS
        for timing in step.expired:
            nominal = self._nominal(timing)
            quicker = [
                other.index
                for other in self.machine.timings
                if config.running >> other.index & 1 and other.index != timing and self._nominal(other.index) < nominal
            ]
            cost += _EXPIRES * waiting + (_SLOWER if quicker else 0)
        return cost

    def _stops(self, before: Config, after: Config) -> int:
        """Make a way longer by every output that goes off on it: what goes straight on is more natural."""
        pairs = zip(self.engine.outputs(before), self.engine.outputs(after), strict=True)
        return _STOPS * sum(old and not new for old, new in pairs)

    def _nominal(self, timing: int) -> int:
        return self.machine.timings[timing].choices[0].nominal


def _back(came: dict[int, Edge], start: int, at: int) -> list[Edge]:
    way = []
    while at != start:
        way.append(came[at])
        at = came[at].source
    return way[::-1]

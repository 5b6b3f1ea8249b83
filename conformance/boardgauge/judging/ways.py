"""Find the smallest change to a hypothesis that would have allowed what was seen.

Law of this module: a way is tried on configurations alone, by settling them; nothing is concluded from how long
anything took. What would have changed outputs that did not change counts for less.
"""

from __future__ import annotations

from collections.abc import Iterator

from attrs import evolve, frozen

from boardgauge.judging.hypothesis import Hypothesis
from boardgauge.judging.limits import Limits
from boardgauge.language import expressions as ex
from boardgauge.machine.compile import compile_board
from boardgauge.machine.config import Config
from boardgauge.machine.picture import CannotSettle
from boardgauge.machine.settle import Engine

LONGEST_CHAIN = 3
_INTERVAL_ROLES = {"delay", "for", "at least", "at most", "lasts", "step", "target"}


@frozen
class Way:
    """A way in which what was seen would have been allowed; the one with the least cost explains it.

    Timings that had ended in turn, a kept thing (``region``) in another place, or a condition the other way round.
    """

    timings: tuple[int, ...] = ()
    region: int = -1
    condition: str = ""
    window: int = -1
    cost: tuple[int, int] = (0, 0)


class Ways:
    """Looks for ways on the board of one engine."""

    def __init__(self, engine: Engine, limits: Limits) -> None:
        self.engine = engine
        self._limits = limits
        self._machine = engine.machine
        self._board = engine.machine.board
        self._others: dict[tuple[str, bool], Engine] = {}

    def smallest(self, h: Hypothesis, output: int, value: bool) -> Way | None:
        """Find the smallest change to a hypothesis with which an output would be commanded to a value."""
        ways = [
            *self._by_timings(self.engine, h.config, output, value),
            *self._by_window(h, output, value),
            *self._by_condition(h, output, value),
            *self._by_region(h, output, value),
        ]
        return min(ways, key=lambda way: way.cost, default=None)

    def _by_timings(self, engine: Engine, config: Config, output: int, value: bool) -> Iterator[Way]:
        """Give the shortest chains of timings that, had they ended, would have commanded the change.

        Those that would have changed other outputs on the way count for less: nothing of that was seen.
        """
        # Without power nothing runs, though a timing may be kept.
        chains: list[tuple[tuple[int, ...], Config, int]] = [((), config, 0)] if config.powered else []
        for _ in range(LONGEST_CHAIN):
            longer: list[tuple[tuple[int, ...], Config, int]] = []
            for chain, reached, others in chains:
                for timing in self._running(reached):
                    try:
                        outcome = engine.settle(reached, expired=(timing,))
                    except CannotSettle:
                        continue
                    row = (*chain, timing)
                    if engine.outputs(outcome.config)[output] == value:
                        yield Way(row, cost=(others, len(row)))
                    else:
                        longer.append((row, outcome.config, others + len(outcome.commands)))
            chains = longer

    def _by_condition(self, h: Hypothesis, output: int, value: bool) -> Iterator[Way]:
        """Give the named conditions that, had they been the other way round, would have led to the change in time."""
        if not h.config.powered:
            return
        picture = self.engine.picture(h.config)
        for name, row in self._board.conditions.items():
            if row.note.clause is None:
                continue
            engine = self._turned(name, not picture[self.engine.logic.slots[name]])
            try:
                turned = engine.settle(h.config)
            except CannotSettle:
                continue
            after = turned.config
            if engine.outputs(after)[output] == value:
                # It commands the output itself: ``responsible`` says that better.
                continue
            for way in self._by_timings(engine, after, output, value):
                if len(way.timings) == 1:
                    yield Way(way.timings, condition=name, cost=(way.cost[0] + len(turned.commands), 3))

    def _turned(self, name: str, value: bool) -> Engine:
        """Give the engine of the same board with one condition always or never holding."""
        key = (name, value)
        if key not in self._others:
            row = self._board.conditions[name]
            constant: ex.Condition = ex.Or((row.is_, ex.Not(row.is_))) if value else ex.And((row.is_, ex.Not(row.is_)))
            conditions = {**self._board.conditions, name: evolve(row, is_=constant)}
            self._others[key] = Engine(compile_board(evolve(self._board, conditions=conditions)))
        return self._others[key]

    def _by_window(self, h: Hypothesis, output: int, value: bool) -> Iterator[Way]:
        """Give the counts that, had their oldest event been too old, would have commanded the change."""
        for index, region in enumerate(self._limits.count_regions):
            if not h.windows[index]:
                continue
            try:
                outcome = self.engine.settle(h.config, dropped=(region,))
            except CannotSettle:
                continue
            if self.engine.outputs(outcome.config)[output] == value:
                yield Way(window=index, cost=(len(outcome.commands) - 1, 1))

    def _by_region(self, h: Hypothesis, output: int, value: bool) -> Iterator[Way]:
        """Give the counts at their limit, or lockouts cleared, that would have commanded the change."""
        if not h.config.powered:
            return
        for region in self._machine.regions:
            place = {"count": len(region.places) - 1, "lockout": 0}.get(region.kind)
            # A count that had nothing to count, or a lockout that is clear, cannot be what went wrong.
            if place is None or h.config.places[region.index] in {0, place}:
                continue
            places = list(h.config.places)
            places[region.index] = place
            try:
                after = self.engine.settle(h.config._replace(places=tuple(places))).config
            except CannotSettle:
                continue
            if self.engine.outputs(after)[output] == value:
                yield Way(region=region.index, cost=(1, 0))

    def _running(self, config: Config) -> list[int]:
        return [t.index for t in self._machine.timings if config.running >> t.index & 1 and t.role in _INTERVAL_ROLES]

    def after(self, config: Config, timing: int) -> Config | None:
        try:
            return self.engine.settle(config, expired=(timing,)).config
        except CannotSettle:
            return None

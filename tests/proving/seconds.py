"""A search of a machine second by second: what it can come to, all things that may happen in one instant tried.

Law of this module: nothing of the exploring with zones is used; all times are whole seconds.
"""

from __future__ import annotations

from itertools import chain, combinations

from attrs import evolve

from boardgauge.language.model import Board
from boardgauge.language.quantities import S
from boardgauge.machine.config import Config
from boardgauge.machine.input_ways import levels_watched, ways_together
from boardgauge.machine.picture import CannotSettle
from boardgauge.machine.settle import Engine

MOST_STATES = 4000
Running = tuple[tuple[int, int, int], ...]
"""(timing, region or -1, seconds it has run), in order."""


class Seconds:
    """A search of a machine second by second: any inputs, any timings that may be over, all in one instant."""

    def __init__(self, engine: Engine) -> None:
        self.engine, self.machine = engine, engine.machine
        always, first = levels_watched(self.machine)
        self.read = always
        self.ways = ways_together(self.machine, always)
        self.first = ways_together(self.machine, tuple(a or b for a, b in zip(always, first, strict=True)))
        self.windows = {r.index: r.timings[0] for r in self.machine.regions if r.kind == "count" and r.timings}

    def configs(self) -> set[Config] | None:
        """Give every configuration, None if there are too many states."""
        off = self.engine.off()
        seen: set[tuple[Config, Running]] = set()
        waiting: list[tuple[Config, Running]] = []
        for levels in self._levels(off, self.first):
            waiting += self._instant(off, (), levels, (), True)
        found = {self._plain(off)}
        while waiting:
            state = waiting.pop()
            if state in seen:
                continue
            seen.add(state)
            if len(seen) > MOST_STATES:
                return None
            config, running = state
            found.add(self._plain(config))
            later = tuple((t, r, ran + 1) for t, r, ran in running)
            for over in self._over(config, later):
                for levels in self._levels(config, self.ways):
                    waiting += self._instant(config, later, levels, over, False)
        return found

    def _levels(self, config: Config, ways: list) -> list[tuple[bool, ...]]:  # type: ignore[type-arg]
        found = [config.levels]
        for indices, all_values in ways:
            found = [
                tuple(values[indices.index(i)] if i in indices else level for i, level in enumerate(levels))
                for levels in found
                for values in all_values
            ]
        return list(dict.fromkeys(found))

    def _over(self, config: Config, running: Running) -> list[tuple[int, ...]]:
        must, may = [], []
        for number, (timing, _, ran) in enumerate(running):
            duration = self.machine.timings[timing].choices[self.engine.settings.choice(config.chosen, timing)]
            if ran * S >= duration.longest:
                must.append(number)
            elif ran * S >= duration.shortest:
                may.append(number)
        some = chain.from_iterable(combinations(may, size) for size in range(len(may) + 1))
        return [tuple(sorted((*must, *more))) for more in some]

    def _instant(
        self, config: Config, running: Running, levels: tuple[bool, ...], over: tuple[int, ...], power_up: bool
    ) -> list[tuple[Config, Running]]:
        if levels == config.levels and not over and not power_up:
            return [(config, running)]
        gone = [running[number] for number in over]
        dropped = [region for _, region, _ in gone if region >= 0]
        if len(dropped) != len(set(dropped)):
            return []
        expired = tuple(sorted(timing for timing, region, _ in gone if region < 0))
        try:
            outcome = self.engine.settle(config, levels, expired, tuple(sorted(dropped)), power_up)
        except CannotSettle:
            return []
        begun, counted = {t for t, _ in outcome.begun}, {r for r, _ in outcome.counted}
        kept = [row for number, row in enumerate(running) if number not in over]
        after = [
            row
            for row in kept
            if (row[1] < 0 and outcome.config.running >> row[0] & 1 and row[0] not in begun)
            or (row[1] >= 0 and row[1] not in outcome.forgot)
        ]
        after += [(timing, -1, 0) for timing in begun]
        for region in counted & set(self.windows):
            after.append((self.windows[region], region, 0))
            limit = len(self.machine.regions[region].places) - 1
            mine = sorted((row for row in after if row[1] == region), key=lambda row: -row[2])
            for row in mine[: max(0, len(mine) - limit)]:
                after.remove(row)
        return [(outcome.config, tuple(sorted(after)))]

    def _plain(self, config: Config) -> Config:
        rows = zip(self.machine.levels, config.levels, self.read, strict=True)
        return config._replace(levels=tuple(value if read else level.at_rest for level, value, read in rows))


def bare(board: Board) -> Board:
    """Give the board acting at once: no lag, no filter, no speed-up, nothing only watched."""
    inputs = {key: evolve(row, responds_within=0) for key, row in board.inputs.items()}
    outputs = {key: evolve(row, lag=0) for key, row in board.outputs.items()}
    return evolve(
        board, inputs=inputs, outputs=outputs, speed_ups={}, requirements={}, not_judged=(), responds_within=0
    )

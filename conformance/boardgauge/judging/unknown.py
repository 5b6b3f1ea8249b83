"""Every state a board may be in when nothing is known of what came before.

Law of this module: no state that a board can be in is left out. States that rest (nothing moves in them) are tried one
and all; how long each thing in them has lasted is left as open as the rules leave it.
"""

from __future__ import annotations

from itertools import product
from math import prod

import numpy as np

from boardgauge.judging.evidence import Evidence
from boardgauge.judging.hypothesis import Command, Draft, Hypothesis, Sum
from boardgauge.judging.limits import UNKNOWN_CHOICE, Limits
from boardgauge.judging.resting import Numbers, Resting, combinations
from boardgauge.language import expressions as ex
from boardgauge.machine.config import Config
from boardgauge.machine.picture import CannotSettle
from boardgauge.machine.settle import Engine

MOST_STATES = 1 << 20
"""More combinations than these are not tried: the verdict is then undecided."""

MOST_TRIED = 1 << 18
"""The most combinations tried for all that inputs nobody knows may be: some ten seconds' work."""


class TooManyStates(Exception):
    """The board has more combinations of states than are tried for an unknown start."""


class Unknown:
    """Finds the states of a board that rest, for given inputs."""

    def __init__(self, engine: Engine) -> None:
        self.engine = engine
        machine = engine.machine
        hidden = {d.timing for d in machine.delays if d.hidden}
        self._free = [d.timing for d in machine.delays if d.timing not in hidden]
        # A lockout may outlast its own time while what tripped it still holds.
        lockouts = {t for region in machine.regions if region.kind == "lockout" for t in region.timings}
        self._free += [t.index for t in machine.timings if t.role == "at least" or t.index in lockouts]
        self._in_place: list[list[tuple[int, ...]]] = []
        for region in machine.regions:
            if region.kind == "sequence":
                named = {machine.timings[t].name: t for t in region.timings}
                self._in_place.append([(named[p],) if p in named else () for p in region.places])
            elif region.kind in {"mode", "lockout"}:
                timings = tuple(t for t in region.timings if t not in self._free)
                self._in_place.append([(), timings])
            else:
                self._in_place.append([()] * len(region.places))
        self._fors = [
            (t.index, engine.logic.condition(t.condition.condition))
            for t in machine.timings
            if isinstance(t.condition, ex.For)
        ]
        self._rows = Resting(engine)
        self._found: dict[tuple[bool, ...], list[Config]] = {}

    @property
    def combinations(self) -> int:
        """How many combinations of states are tried for given inputs."""
        size = prod(len(region.places) for region in self.engine.machine.regions)
        return size << len(self._free) + len(self._fors)

    def configs(self, levels: tuple[bool, ...]) -> list[Config]:
        """Give the configurations with these inputs that rest. Raises TooManyStates."""
        if levels not in self._found:
            self._found[levels] = self._search(levels)
        return self._found[levels]

    def _search(self, levels: tuple[bool, ...]) -> list[Config]:
        machine = self.engine.machine
        size = 1
        for region in machine.regions:
            size *= len(region.places)
        if size << len(self._free) > MOST_STATES:
            raise TooManyStates(
                f"its rules may be in {size << len(self._free):,} combinations of states, more than {MOST_STATES:,}, "
                "and nothing is known of what came before"
            )
        found: dict[Config, None] = {}
        off = self.engine.off()
        chosen = tuple(UNKNOWN_CHOICE for _ in off.chosen)
        rows = machine.board.settings.values()
        settings = tuple(
            UNKNOWN_CHOICE if row.read == "at power-up" and row.positions[0].when is not None else position
            for row, position in zip(rows, off.settings, strict=True)
        )
        # In one block of rows after another, what surely does not rest is left out before it is looked at closely.
        regions = [len(region.places) for region in machine.regions]
        parts = [*regions, *(2 for _ in self._free), *(2 for _ in self._fors)]
        for digits in combinations(parts):
            places = digits[:, : len(regions)]
            running, full = self._bits(digits[:, len(regions) :])
            for column, row in enumerate(self._in_place):
                fixed = np.array([sum(1 << t for t in timings) for timings in row], dtype=np.int64)
                running |= fixed[places[:, column]]
            for at in np.flatnonzero(self._rows.rows(levels, places, running, full)).tolist():
                own = tuple(places[at].tolist())
                config = Config(True, levels, own, int(running[at]), int(full[at]), settings, chosen)
                for resting in self._resting(config):
                    found[resting] = None
        return list(found)

    def _bits(self, digits: Numbers) -> tuple[Numbers, Numbers]:
        """Give the timings that run and those that are over: a digit each, of the latter the first turns fastest."""
        running, full = np.zeros(len(digits), dtype=np.int64), np.zeros(len(digits), dtype=np.int64)
        for column, timing in enumerate(self._free):
            running |= digits[:, column] << timing
        for column, timing in enumerate(reversed([timing for timing, _ in self._fors])):
            full |= digits[:, len(self._free) + column] << timing
        return running, full

    def _resting(self, config: Config) -> list[Config]:
        """Give the configuration with its running timings put right, if it rests."""
        if not self.engine.rests(config):
            return []
        picture = self.engine.picture(config)
        running = config.running
        for timing, check in self._fors:
            holds = check(picture)
            if config.full >> timing & 1:
                if not holds:
                    return []
            elif holds:
                running |= 1 << timing
        config = config._replace(running=running)
        try:
            outcome = self.engine.settle(config)
        except CannotSettle:
            return []
        after = outcome.config
        adding = sum(1 << t for t in self._sums())
        if outcome.moved or after.full != config.full or (after.running ^ config.running) & ~adding:
            return []
        return [after._replace(chosen=config.chosen)]

    def _sums(self) -> list[int]:
        return [r.timings[0] for r in self.engine.machine.regions if r.kind == "accumulator"]


def start(
    unknown: Unknown,
    limits: Limits,
    evidence: Evidence,
    levels: list[tuple[bool, ...]],
    time: int,
    shown: list[bool | None],
    settle_in: int,
) -> list[Hypothesis]:
    """Give a hypothesis for every state the board may be in at a time, with all it began left open.

    What the board had not yet acted on, commanded or shown at that time it has by ``time + settle_in``. Raises
    TooManyStates.
    """
    engine = unknown.engine
    ways = prod(len(values) for values in levels)
    if ways > 1 and ways * unknown.combinations > MOST_TRIED:
        open_ = [row.input for row, values in zip(engine.machine.levels, levels, strict=True) if len(values) > 1]
        raise TooManyStates(
            f"more states than can be tried: nothing is known of {', '.join(dict.fromkeys(open_))} at this time"
        )
    found = []
    for values in product(*levels):
        rows = engine.machine.levels
        supposed = frozenset(i for i in evidence.blind if len(levels[i]) == 2 and values[i] != rows[i].at_rest)
        for config in unknown.configs(tuple(values)):
            draft = Draft(config, time, [], {}, [], [], [()] * len(shown), (), [], limits.any_rate)
            for timing in range(len(engine.machine.timings)):
                if config.running >> timing & 1 and timing not in limits.not_interval:
                    _, most, _, more = limits.range_of(draft, timing)
                    draft.timings[timing] = draft.moment(time - most - more, time + settle_in)
            for index, timing in enumerate(limits.sum_timings):
                _, most, _, more = limits.range_of(draft, timing)
                reached = config.places[limits.sum_regions[index]] == 1
                adding = config.running >> timing & 1
                since = draft.moment(time, time + settle_in) if adding else -1
                has = 0 if reached else most + more
                # What it had by then bounds what it has later, however often it pauses.
                draft.sums.append(Sum(0, has, since, time, has) if adding else Sum(0, has, since))
            for index, region in enumerate(limits.count_regions):
                window = limits.window_timings[index]
                if window is None:
                    draft.windows.append(())
                    continue
                _, most, _, more = limits.range_of(draft, window)
                draft.windows.append(
                    tuple(draft.moment(time - most - more, time + settle_in) for _ in range(config.places[region]))
                )
            draft.lamps = [draft.moment(time, time + settle_in) for _ in evidence.lamps]
            for output, wanted in enumerate(engine.outputs(config)):
                if shown[output] is not None and shown[output] != wanted:
                    moment = draft.moment(time - settle_in, time + settle_in)
                    draft.queues[output] = (Command(wanted, moment, time + settle_in),)
            draft.supposed = supposed
            found.append(draft.freeze())
    return found

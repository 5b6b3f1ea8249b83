"""Whether a board can have shown a trace, by trying everything on a grid of whole time units.

Law of this module: exhaustive. A *configuration* is a standing board with an age for each timing, the input changes it
has not acted on, and the commands that have not shown; all configurations that agree with the trace so far are carried
from tick to tick. Every limit of the clauses covered here is a closed one between two moments and a whole number, so
what is possible at all is possible on the grid.

Choices made at a tick, all of them tried, in every order and together:
* a timing as old as its shortest may end; one as old as its longest must have, unless a change at the terminals that
  is still to be taken in stops it or starts it over (``taking-in.pending``, ``timing.at-the-terminals``);
* an input change is acted on from its own tick to ``responds_within`` later;
* a command shows from the act to ``lag`` later, and in time (``output.shows-in-time``); one undone before it showed
  need not show;
* what an output's change sets going counts from anywhere between the act and the moment it shows.

Not covered: accumulators, speed-ups, a shared clock, filters, ``same_moment``, places kept without power.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from itertools import product

from attrs import define, evolve, field, frozen
from oracle.look import Facts, Key, at_rest
from oracle.settling import Cause, Outcome, Standing, Works

from boardgauge.language.model import Accumulator, Board
from boardgauge.language.quantities import S, TimeRange

MOST_CONFIGURATIONS = 20_000


class TooManyError(Exception):
    """More configurations than this oracle is willing to carry."""


@frozen
class Trace:
    """What was seen, in whole units: for the supply, each input and each output the level at 0 and the changes."""

    signals: Mapping[str, tuple[tuple[int, bool], ...]]
    end: int

    def at(self, tick: int) -> dict[str, bool]:
        """Give the changes at a tick."""
        return {n: v for n, row in self.signals.items() for t, v in row[1:] if t == tick}


@frozen
class Command:
    """A change of an output that has not shown. ``floating`` are timings that count from it."""

    value: bool
    act: int
    deadline: int
    floating: frozenset[Key] = frozenset()


@frozen
class Configuration:
    """One way in which the board may stand at a tick."""

    standing: Standing
    ages: frozenset[tuple[Key, int]]
    pending: tuple[tuple[str, bool, int], ...] = ()
    queues: tuple[tuple[Command, ...], ...] = ()


@define
class Grid:
    """The grid of one board; ``unit`` is that of time, in microseconds."""

    works: Works
    unit: int = S
    outputs: tuple[str, ...] = ()
    ranges: dict[Key, tuple[int, int]] = field(factory=dict)
    known: dict[object, Outcome] = field(factory=dict)

    @classmethod
    def of(cls, board: Board, unit: int = S) -> Grid:
        """Take a board. Raises NotImplementedError for what the grid does not cover."""
        uncovered = (
            any(isinstance(rule, Accumulator) or rule.kept_without_power for rule in board.rules.values())
            or board.speed_ups
            or board.clock == "shared"
            or board.same_moment
            or any(row.filter != TimeRange() for row in board.inputs.values())
            or board.rides_through != TimeRange()
        )
        if uncovered:
            raise NotImplementedError("the grid does not cover this board")
        return cls(Works.of(board), unit, tuple(board.outputs))

    def units(self, time: int) -> int:
        """Give a time in units. Raises NotImplementedError if it is none."""
        if time % self.unit:
            raise NotImplementedError(f"{time} is no whole number of units")
        return time // self.unit

    def range(self, key: Key) -> tuple[int, int]:
        """Give the shortest and longest of a timing, in units."""
        short = (key[0], key[1], 0)
        if short not in self.ranges:
            lasts = self.works.duration(key)
            self.ranges[short] = self.units(lasts.shortest), self.units(lasts.longest)  # type: ignore[index]
        return self.ranges[short]  # type: ignore[index]

    # -- the trace ------------------------------------------------------------------------------------------------

    def dies_at(self, trace: Trace) -> int | None:
        """Give the tick at which no way is left in which the board can have shown the trace, None if it can have.

        The trace begins without power. Raises Refused where some way does not come to rest.
        """
        now = {name: row[0][1] for name, row in trace.signals.items()}
        rest = at_rest(self.works.board)
        if now["power"] or any(now[name] for name in self.outputs):
            return 0
        alive: set[Configuration] = set()
        for tick in range(1, trace.end + 1):
            changes = trace.at(tick)
            now |= changes
            seen = {name: value for name, value in changes.items() if name in self.outputs}
            alive = {self._older(c) for c in alive}
            if changes.get("power") is False:
                alive = set()
                if any(now[name] for name in self.outputs):
                    return tick
                continue
            if not now["power"]:
                if seen:
                    return tick
                continue
            if changes.get("power"):
                levels = {n: now[n] for n in self.works.board.inputs}
                differ = [n for n, v in levels.items() if v != (n in rest)]
                alive = set(self._power_up(levels, tick, differ))
            else:
                new = tuple((n, v, tick) for n, v in changes.items() if n in self.works.board.inputs)
                alive = {evolve(c, pending=c.pending + new) for c in alive}
            alive = self._tick(alive, seen, tick)
            if not alive:
                return tick
        return None

    def _older(self, configuration: Configuration) -> Configuration:
        return evolve(configuration, ages=frozenset((k, age + 1) for k, age in configuration.ages))

    def _tick(self, alive: set[Configuration], seen: dict[str, bool], tick: int) -> set[Configuration]:
        start = frozenset(seen.items())
        found = {(c, start) for c in alive}
        todo = list(found)
        while todo:
            configuration, unseen = todo.pop()
            ways: list[tuple[Configuration, frozenset[tuple[str, bool]]]] = []
            ways += [(c, unseen) for c in self._acts(configuration, tick)]
            for name, value in unseen:
                ways += [(c, unseen - {(name, value)}) for c in self._shows(configuration, name, value, tick)]
            for way in ways:
                if way not in found:
                    found.add(way)
                    todo.append(way)
            if len(found) > MOST_CONFIGURATIONS:
                raise TooManyError
        return {c for c, unseen in found if not unseen and not self._overdue(c, tick)}

    def _overdue(self, configuration: Configuration, tick: int) -> bool:
        if any(command.deadline <= tick for queue in configuration.queues for command in queue):
            return True
        if any(raw + self._responds(name) <= tick for name, _, raw in configuration.pending):
            return True
        floating = {k for queue in configuration.queues for command in queue for k in command.floating}
        for key, age in configuration.ages:
            if age >= self.range(key)[1] and key not in floating and not self._stopped(configuration, key, tick + 1):
                return True
        return False

    def _responds(self, name: str) -> int:
        return self.units(self.works.board.inputs[name].responds_within)

    # -- acting ---------------------------------------------------------------------------------------------------

    def _moment(self, standing: Standing, levels: tuple[tuple[str, bool], ...], facts: Facts) -> Outcome:
        key = (standing, levels, facts)
        if key not in self.known:
            self.known[key] = self.works.moment(standing, dict(levels), facts)
        return self.known[key]

    def _power_up(self, levels: dict[str, bool], tick: int, differ: list[str]) -> Iterator[Configuration]:
        outcome = self._moment(self.works.off(), tuple(sorted(levels.items())), Facts(power_up=True))
        off = Configuration(self.works.off(), frozenset(), (), ((),) * len(self.outputs))
        yield from self._after(off, outcome, [], dict.fromkeys(differ, tick), None, tick)

    def _first_pending(self, configuration: Configuration) -> dict[str, tuple[bool, int]]:
        first: dict[str, tuple[bool, int]] = {}
        for name, value, raw in configuration.pending:
            first.setdefault(name, (value, raw))
        return first

    def _stopped(self, configuration: Configuration, key: Key, tick: int) -> bool:
        """Tell whether a change that came before this tick, not acted on yet, stops a timing or starts it over."""
        for name, (value, raw) in self._first_pending(configuration).items():
            if raw < tick:
                outcome = self._moment(configuration.standing, ((name, value),), Facts())
                if key not in outcome.was.values():
                    return True
        return False

    def _acts(self, configuration: Configuration, tick: int) -> Iterator[Configuration]:
        ready = [
            (key, age)
            for key, age in configuration.ages
            if age >= self.range(key)[0] and not self._stopped(configuration, key, tick)
        ]
        first = self._first_pending(configuration)
        for ends in product((False, True), repeat=len(ready)):
            ended = [row for row, end in zip(ready, ends, strict=True) if end]
            for takes in product((False, True), repeat=len(first)):
                taken = {n: first[n] for n, take in zip(first, takes, strict=True) if take}
                if not ended and not taken:
                    continue
                levels = tuple(sorted((n, v) for n, (v, _) in taken.items()))
                facts = Facts(frozenset(key for key, _ in ended))
                outcome = self._moment(configuration.standing, levels, facts)
                raws = {n: raw for n, (_, raw) in taken.items()}
                latest = [raw + self._responds(n) for n, raw in raws.items()]
                latest += [tick + self.range(key)[1] - age for key, age in ended]
                floating = {k for queue in configuration.queues for command in queue for k in command.floating}
                if any(key in floating for key, _ in ended):
                    latest += [tick + self.range(k)[1] - self.range(k)[0] for k, _ in ended if k in floating]
                pending = list(configuration.pending)
                for name, (value, raw) in taken.items():
                    pending.remove((name, value, raw))
                after = evolve(configuration, pending=tuple(pending))
                yield from self._after(after, outcome, [key for key, _ in ended], raws, max(latest), tick)

    def _after(
        self,
        before: Configuration,
        outcome: Outcome,
        ended: list[Key],
        raws: Mapping[str, int],
        latest: int | None,
        tick: int,
    ) -> Iterator[Configuration]:
        """Give the ways to go on from an outcome: where what it set going counts from, what is shown of it."""
        ages = dict(before.ages)
        going = {key: ages[old] for key, old in outcome.was.items()}
        renamed = {old: key for key, old in outcome.was.items()}
        queues = [
            tuple(evolve(c, floating=frozenset(renamed[k] for k in c.floating if k in renamed)) for c in queue)
            for queue in before.queues
        ]
        floats: dict[Key, tuple[str, ...]] = {}
        choices: list[list[tuple[Key, int]]] = []
        for key, cause in outcome.begun.items():
            if cause.kind == "outputs":
                floats[key] = cause.which
                choices.append([(key, 0)])
            else:
                choices.append([(key, tick - origin) for origin in self._origins(cause, ended, raws, tick)])
        queued = [*self._commanded(queues, outcome, latest, floats, going, tick)]
        for chosen in product(*choices):
            for queue, resolved in queued:
                fresh = dict(chosen) | going
                yield Configuration(
                    outcome.standing, frozenset((fresh | resolved).items()), before.pending, queue
                )

    def _origins(self, cause: Cause, ended: list[Key], raws: Mapping[str, int], tick: int) -> set[int]:
        if cause.kind == "inputs":
            # One of several that would each have done it alone: which of them it was is open.
            return {raws[name] for name in cause.which} or {tick}
        return ({tick} if ended or not raws else set()) | ({max(raws.values())} if raws else set())

    def _commanded(
        self,
        queues: list[tuple[Command, ...]],
        outcome: Outcome,
        latest: int | None,
        floats: Mapping[Key, tuple[str, ...]],
        going: Mapping[Key, int],
        tick: int,
    ) -> Iterator[tuple[tuple[tuple[Command, ...], ...], dict[Key, int]]]:
        """Give the ways to queue the commands of an outcome, with the ages of timings that no longer float."""
        found: list[tuple[list[tuple[Command, ...]], dict[Key, int]]] = []
        # A timing that any of several outputs would have set going counts from one of them.
        for links in product(*([(key, name) for name in names] for key, names in floats.items())):
            ways: list[tuple[list[tuple[Command, ...]], dict[Key, int]]] = [(list(queues), {})]
            for name, value in outcome.commands:
                index = self.outputs.index(name)
                lag = self.units(self.works.board.outputs[name].lag)
                deadline = tick + lag if latest is None else min(tick + lag, latest)
                mine = frozenset(key for key, output in links if output == name)
                further = []
                for rows, ages in ways:
                    queue = rows[index]
                    further.append((_put(rows, index, (*queue, Command(value, tick, deadline, mine))), ages))
                    if queue:
                        # Undone before it showed: neither shows. What counted from them counts from some moment
                        # at which they might have shown.
                        undone = queue[-1]
                        spans = [[(k, going[k] - o) for o in range(going[k] + 1)] for k in undone.floating if k in going]
                        for picked in product(*spans):
                            further.append((_put(rows, index, queue[:-1]), {**ages, **dict(picked)}))
                ways = further
            found += ways
        for rows, ages in found:
            yield tuple(rows), ages

    # -- showing --------------------------------------------------------------------------------------------------

    def _shows(self, configuration: Configuration, name: str, value: bool, tick: int) -> Iterator[Configuration]:
        index = self.outputs.index(name)
        queue = configuration.queues[index]
        if not queue or queue[0].value != value or queue[0].deadline < tick:
            return
        ages = dict(configuration.ages)
        still = [key for key in queue[0].floating if key in ages]
        queues = tuple(_put(list(configuration.queues), index, queue[1:]))
        for picked in product(*([(key, ages[key] - o) for o in range(tick - queue[0].act + 1)] for key in still)):
            yield evolve(configuration, ages=frozenset({**ages, **dict(picked)}.items()), queues=queues)


def _put(rows: list[tuple[Command, ...]], index: int, queue: tuple[Command, ...]) -> list[tuple[Command, ...]]:
    return [*rows[:index], queue, *rows[index + 1 :]]


def ticks(signals: Iterable[tuple[int, bool]]) -> tuple[tuple[int, bool], ...]:
    """Give a row of changes without those that change nothing."""
    row: list[tuple[int, bool]] = []
    for tick, value in signals:
        if row and row[-1][0] == tick:
            row.pop()
        if not row or row[-1][1] != value:
            row.append((tick, value))
    return tuple(row)

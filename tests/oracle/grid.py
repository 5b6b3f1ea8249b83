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

Not covered: accumulators, speed-ups, a shared clock, filters, ``same_moment``, places kept without power, settings,
lamps, requirements, stretches not judged, and traces of which something is not known.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import product

from attrs import define, evolve, field, frozen

from boardgauge.language.model import Accumulator, Board
from boardgauge.language.quantities import S, TimeRange
from oracle.due import POWER, Due, Known
from oracle.look import Key
from oracle.settling import Works
from oracle.standing import Outcome, Standing
from oracle.trace import Trace

MOST_CONFIGURATIONS = 20_000


class TooManyError(Exception):
    """More configurations than this oracle is willing to carry."""


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
    """The grid of one board; ``unit`` is that of time, in microseconds.

    What the supply brings is acted on as an input change is, and shows ``lag`` after that: it is no input's change.
    ``slack`` widens every range by so much at both ends, and every deadline: it measures by how much a judge misses.
    """

    works: Works
    unit: int = S
    outputs: tuple[str, ...] = ()
    slack: int = 0
    ranges: dict[Key, tuple[int, int]] = field(factory=dict)
    known: Known = field(init=False)

    def __attrs_post_init__(self) -> None:
        self.known = Known(self.works)

    @classmethod
    def of(cls, board: Board, unit: int = S, slack: int = 0) -> Grid:
        """Take a board. Raises NotImplementedError for what the grid does not cover."""
        uncovered = (
            any(isinstance(rule, Accumulator) or rule.kept_without_power for rule in board.rules.values())
            or board.speed_ups
            or board.clock == "shared"
            or board.same_moment
            or any(row.filter != TimeRange() for row in board.inputs.values())
            or board.rides_through != TimeRange()
            or board.settings
            or board.lamps
            or board.requirements
            or board.not_judged
        )
        if uncovered:
            raise NotImplementedError("the grid does not cover this board")
        return cls(Works.of(board), unit, tuple(board.outputs), slack)

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
            least, most = self.units(lasts.shortest), self.units(lasts.longest)
            self.ranges[short] = max(0, least - self.slack), most + self.slack  # type: ignore[index]
        return self.ranges[short]  # type: ignore[index]

    # -- the trace ------------------------------------------------------------------------------------------------

    def dies_at(self, trace: Trace) -> int | None:
        """Give the tick at which no way is left in which the board can have shown the trace, None if it can have.

        The trace begins without power. Raises Refused where some way does not come to rest.
        """
        if not trace.whole:
            raise NotImplementedError("the grid does not cover this trace")
        now = {name: row[0][1] for name, row in trace.signals.items()}
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
                self.known.at_power_up = {n: now[n] for n in self.works.board.inputs}
                pending = ((POWER, True, tick),)
                alive = {Configuration(self.works.off(), frozenset(), pending, ((),) * len(self.outputs))}
            else:
                new = tuple((n, v, tick) for n, v in changes.items() if n in self.works.board.inputs)
                alive = {evolve(c, pending=c.pending + new) for c in alive}
            # A recording that ends at a deadline does not show what happens at it.
            alive = self._tick(alive, seen, tick, tick == trace.end)
            if not alive:
                return tick
        return None

    def _older(self, configuration: Configuration) -> Configuration:
        return evolve(configuration, ages=frozenset((k, age + 1) for k, age in configuration.ages))

    def _tick(self, alive: set[Configuration], seen: dict[str, bool], tick: int, last: bool) -> set[Configuration]:
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
        return {c for c, unseen in found if not unseen and (last or not self._overdue(c, tick))}

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
        row = self.works.board if name == POWER else self.works.board.inputs[name]
        return self.units(row.responds_within) + self.slack

    # -- acting ---------------------------------------------------------------------------------------------------

    def _first_pending(self, configuration: Configuration) -> dict[str, tuple[bool, int]]:
        first: dict[str, tuple[bool, int]] = {}
        if configuration.pending and configuration.pending[0][0] == POWER:
            return {POWER: configuration.pending[0][1:]}
        for name, value, raw in configuration.pending:
            first.setdefault(name, (value, raw))
        return first

    def _stopped(self, configuration: Configuration, key: Key, tick: int) -> bool:
        """Tell whether a change that came before this tick, not acted on yet, stops a timing or starts it over."""
        for name, (value, raw) in self._first_pending(configuration).items():
            if raw < tick and name != POWER:
                outcome = self.known.moment(configuration.standing, {name: value})
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
                pending = tuple(p for p in configuration.pending if p[0] not in taken or p[1:] != first[p[0]])
                raws = {n: raw for n, (_, raw) in taken.items()}
                deadlines: dict[str | Key, int] = {n: raw + self._responds(n) for n, raw in raws.items()}
                if POWER in raws:
                    deadlines[POWER] = tick + max(self.units(row.lag) for row in self.works.board.outputs.values())
                for key, age in ended:
                    short, long = self.range(key)
                    # One that counts from a change not shown yet may have begun as late as it can have.
                    floats = any(key in c.floating for queue in configuration.queues for c in queue)
                    deadlines[key] = tick + long - (short if floats else age)
                after = evolve(configuration, pending=pending)
                due = Due(
                    self.known, configuration.standing, {n: v for n, (v, _) in taken.items()}, [k for k, _ in ended]
                )
                yield from self._after(after, due, deadlines, raws, tick)

    def _after(
        self,
        before: Configuration,
        due: Due,
        deadlines: Mapping[str | Key, int],
        raws: Mapping[str, int],
        tick: int,
    ) -> Iterator[Configuration]:
        """Give the ways to go on from what was due: where what it set going counts from, what is shown of it."""
        outcome = due.outcome
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
                choices.append([(key, tick - o) for o in {raws.get(n, tick) for n in due.causes_of(key, cause)}])
        limits = {name: max(deadlines[c] for c in due.causes_of_change(name, v)) for name, v in outcome.commands}
        queued = [*self._commanded(queues, outcome, limits, floats, going, tick)]
        for chosen in product(*choices):
            for queue, resolved in queued:
                fresh = dict(chosen) | going
                yield Configuration(outcome.standing, frozenset((fresh | resolved).items()), before.pending, queue)

    def _commanded(
        self,
        queues: list[tuple[Command, ...]],
        outcome: Outcome,
        limits: Mapping[str, int],
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
                lag = self.units(self.works.board.outputs[name].lag) + self.slack
                deadline = min(tick + lag, limits[name])
                mine = frozenset(key for key, output in links if output == name)
                further = []
                for rows, ages in ways:
                    queue = rows[index]
                    further.append((_put(rows, index, (*queue, Command(value, tick, deadline, mine))), ages))
                    if queue:
                        # Undone before it showed: neither shows. What counted from them counts from some moment
                        # at which they might have shown.
                        undone = queue[-1]
                        spans = [
                            [(k, going[k] - o) for o in range(going[k] + 1)] for k in undone.floating if k in going
                        ]
                        shorter = _put(rows, index, queue[:-1])
                        further += [(shorter, {**ages, **dict(picked)}) for picked in product(*spans)]
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

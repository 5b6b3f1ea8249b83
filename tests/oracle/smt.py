"""Whether a board can have shown a trace, asked of an SMT solver: what the grid does not cover.

Law of this module: every moment is a real number, and every clause about moments a linear constraint. The order of what
happened is searched depth first: the next thing is an input change or an output edge of the trace, or something out of
sight (timings that end, changes that are acted on), alone or together. A path whose constraints contradict each other
is given up; the trace is possible if one path reaches its end.

Covered beyond the grid: accumulators (their time stands still and goes on), ``clock = "shared"`` (one k for all),
speed-ups, and input changes closer together than ``responds_within``. Not covered: filters, ``same_moment``, places
kept without power, a supply that comes more than once, an accumulator that is sped up.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import product
from typing import Any

import z3
from attrs import define, evolve, frozen

from boardgauge.language.model import Accumulator, Board
from boardgauge.language.quantities import TimeRange
from oracle.due import NOW, POWER, Due, Known
from oracle.grid import Trace
from oracle.look import Key
from oracle.reals import Filling, Going, Real, Times
from oracle.settling import Standing, Works

MOST_PATHS = 1500
MOST_HIDDEN = 6
"""So many moments out of sight between two things that were seen."""


class TooDeepError(Exception):
    """The search was cut short before it found a way."""


@frozen(eq=False)
class Command:
    """A change of an output that has not shown; ``floating`` count from its act or later, till it shows."""

    value: bool
    act: Real
    limit: Real
    deadlines: tuple[Real, ...]
    floating: tuple[Real, ...] = ()


@frozen(eq=False)
class Path:
    """One way in which the board may stand; ``seen`` counts events of the trace behind it, ``hidden`` others since."""

    standing: Standing
    now: Real
    going: Mapping[Key, Going]
    filling: Mapping[str, Filling]
    queues: Mapping[str, tuple[Command, ...]]
    pending: tuple[tuple[str, bool, int], ...] = ()
    seen: int = 0
    hidden: int = 0


@define(eq=False)
class Search(Times):
    """The search for one board and one trace, in microseconds."""

    paths: int = 0
    cut_short: bool = False

    # -- the search -----------------------------------------------------------------------------------------------

    def possible(self) -> bool:
        """Search. Raises TooDeepError where nothing was found and something was left out."""
        off = self.known.works.off()
        if self.board.clock == "shared":
            self.clock = self.real()
        filling = {n: self.empty(n) for n, r in self.board.rules.items() if isinstance(r, Accumulator)}
        if self._goes_on(Path(off, 0, {}, filling, dict.fromkeys(self.board.outputs, ()))):
            return True
        if self.cut_short:
            raise TooDeepError
        return False

    def _goes_on(self, path: Path) -> bool:
        self.paths += 1
        if self.paths > MOST_PATHS:
            self.cut_short = True
            return False
        if self.solver.check() == z3.unsat:
            return False
        if path.seen == len(self.events):
            self.solver.push()
            self._at(path, self.trace.end)
            found = self.solver.check() != z3.unsat
            self.solver.pop()
            if found:
                return True
        return any(self._try(way) for way in self._ways(path))

    def _try(self, way: tuple[Path, list[Any]]) -> bool:
        path, constraints = way
        self.solver.push()
        self.add(*constraints)
        found = self._goes_on(path)
        self.solver.pop()
        return found

    def _at(self, path: Path, time: Real) -> None:
        """Demand that nothing was overdue when this time came."""
        self.add(time >= path.now)
        for queue in path.queues.values():
            for command in queue:
                self.add(time <= command.limit, z3.Or([time <= d for d in command.deadlines]))
        for name, _, raw in path.pending:
            self.add(time <= raw + self._responds(name))
        for key, going in path.going.items():
            stopping = Due(self.known, path.standing, dict(first(path)), []).stopped_by(key) if path.pending else []
            if POWER not in stopping:
                # A change that is still to be taken in and stops it counts from its terminal.
                self.add(z3.Or([going.end >= time, *(going.end >= raw for n, _, raw in path.pending if n in stopping)]))

    def _responds(self, name: str) -> int:
        return self.board.responds_within if name == POWER else self.board.inputs[name].responds_within

    def _ways(self, path: Path) -> Iterator[tuple[Path, list[Any]]]:
        if path.seen < len(self.events):
            time, name, value = self.events[path.seen]
            self.solver.push()
            self._at(path, time)
            onward = evolve(path, now=time, seen=path.seen + 1, hidden=0)
            if name in self.board.outputs:
                shows = self._shown(onward, name, value, time)
                if shows is not None:
                    yield shows
            else:
                yield evolve(onward, pending=(*path.pending, (name, value, time))), []
            self.solver.pop()
        if path.hidden == MOST_HIDDEN:
            self.cut_short = True
        else:
            yield from self._acts(path)

    def _shown(self, path: Path, name: str, value: bool, time: int) -> tuple[Path, list[Any]] | None:
        queue = path.queues[name]
        if not queue or queue[0].value != value:
            return None
        command = queue[0]
        after = evolve(path, queues={**path.queues, name: queue[1:]})
        late = z3.Or([time <= d for d in command.deadlines])
        return after, [time >= command.act, time <= command.limit, late, *(o <= time for o in command.floating)]

    # -- acting ---------------------------------------------------------------------------------------------------

    def _acts(self, path: Path) -> Iterator[tuple[Path, list[Any]]]:
        waiting = first(path)
        running = [key for key in path.going if POWER not in waiting]
        for count in product((False, True), repeat=len(running) + len(waiting)):
            ended = [key for key, yes in zip(running, count, strict=False) if yes]
            taken = {n: waiting[n] for n, yes in zip(waiting, count[len(running) :], strict=True) if yes}
            if len(ended) + len(taken) in (1, 2, 3):
                yield from self._act(path, taken, ended)

    def _act(self, path: Path, taken: dict[str, bool], ended: list[Key]) -> Iterator[tuple[Path, list[Any]]]:
        time = self.real()
        raws: dict[str, int] = {}
        for name, _, raw in path.pending:
            raws.setdefault(name, raw)
        due = Due(self.known, path.standing, taken, ended)
        stopping = Due(self.known, path.standing, {n: v for n, v in first(path).items() if n != POWER}, [])
        self.solver.push()
        self.add(time <= (self.events[path.seen][0] if path.seen < len(self.events) else self.trace.end))
        for name in taken:
            self.add(time >= raws[name], time <= raws[name] + self._responds(name))
        for key in ended:
            self.add(time == path.going[key].end, *(time <= raws[n] for n in stopping.stopped_by(key)))
        stopped = {key for key in path.going if key not in ended and key not in due.outcome.was.values()}
        for key in stopped:
            by = [name for name in due.stopped_by(key) if name != POWER]
            # It was still running when what stopped it came, at the terminal.
            self.add(z3.Or([path.going[key].end >= (raws[n]) for n in by] or [path.going[key].end >= time]))
        self._at(evolve(path, going={k: g for k, g in path.going.items() if k not in stopped}), time)
        taken_of = tuple(p for p in path.pending if p[0] not in taken or p[2] != raws[p[0]])
        base = evolve(path, now=time, pending=taken_of, hidden=path.hidden + 1)
        if self.solver.check() != z3.unsat:
            yield from self._after(base, due, raws, time)
        self.solver.pop()

    def _after(self, path: Path, due: Due, raws: Mapping[str, int], time: Real) -> Iterator[tuple[Path, list[Any]]]:
        outcome = due.outcome
        new: dict[Key, Any] = dict(outcome.begun)
        new |= {("target", name, 0): cause for name, cause in outcome.resumed.items()}
        origins: list[list[tuple[Key, Real, str]]] = []
        for key, cause in new.items():
            if cause.kind == "outputs" and POWER not in due.taken:
                origins.append([(key, self.real(), name) for name in cause.which])
            else:
                begun_by = due.causes_of(key, cause)
                origins.append([(key, time if n == NOW else raws[n], "") for n in dict.fromkeys(begun_by)])
        for chosen in product(*origins):
            self.solver.push()
            going = {key: path.going[old] for key, old in outcome.was.items()}
            filling = self._paused(path, due, raws, time)
            for key, origin, output in chosen:
                if output:
                    self.add(origin >= time)
                if key[0] == "target":
                    held = filling[str(key[1])]
                    last = origin + held.greatest - held.has
                    going[key] = Going(origin, origin + held.target - held.has, last)
                else:
                    going[key] = self.start(key, origin)
            floating = {o: [origin for _, origin, output in chosen if output == o] for o in self.board.outputs}
            further = evolve(path, standing=outcome.standing, going=going, filling=filling)
            for queues, constraints in self._commanded(further, path.going, due, floating, raws, time):
                yield evolve(further, queues=queues), constraints
            self.solver.pop()

    def _paused(self, path: Path, due: Due, raws: Mapping[str, int], time: Real) -> dict[str, Filling]:
        filling = dict(path.filling)
        for name, cause in due.outcome.paused.items():
            key: Key = ("target", name, 0)
            if key in path.going:
                stops = [raws[n] for n in due.causes_of(key, cause) if n != NOW] if cause.kind == "inputs" else [time]
                held, ran = filling[name], self.real()
                self.add(z3.Or([ran == stop - path.going[key].origin for stop in stops]), ran >= 0)
                filling[name] = evolve(held, has=held.has + ran)
        return filling | {name: self.empty(name) for name in due.outcome.emptied}

    def _commanded(
        self,
        path: Path,
        before: Mapping[Key, Going],
        due: Due,
        floating: Mapping[str, list[Real]],
        raws: Mapping[str, int],
        time: Real,
    ) -> Iterator[tuple[dict[str, tuple[Command, ...]], list[Any]]]:
        ways: list[tuple[dict[str, tuple[Command, ...]], list[Any]]] = [(dict(path.queues), [])]
        for name, value in due.outcome.commands:
            limit = time + self.board.outputs[name].lag
            deadlines = [self._deadline(before, cause, raws) for cause in due.causes_of_change(name, value)]
            command = Command(value, time, limit, tuple(deadlines), tuple(floating[name]))
            further = []
            for queues, constraints in ways:
                queue = queues[name]
                further.append(({**queues, name: (*queue, command)}, constraints))
                if queue:
                    undone = [o <= time for o in (*queue[-1].floating, *floating[name])]
                    further.append(({**queues, name: queue[:-1]}, [*constraints, *undone]))
            ways = further
        yield from ways

    def _deadline(self, before: Mapping[Key, Going], cause: str | Key, raws: Mapping[str, int]) -> Real:
        if cause == POWER:
            return raws[cause] + self._responds(cause) + max(row.lag for row in self.board.outputs.values())
        if isinstance(cause, str):
            return raws[cause] + self._responds(cause)
        return before[cause].latest


def first(path: Path) -> dict[str, bool]:
    """Give for each input the first change it has not acted on; the supply goes before all."""
    found: dict[str, bool] = {}
    for name, value, _ in path.pending:
        if name == POWER:
            return {POWER: True}
        found.setdefault(name, value)
    return found


def possible(board: Board, trace: Trace) -> bool:
    """Tell whether a board can have shown a trace in microseconds.

    Raises TooDeepError where the search was cut short, Refused where the spec does not come to rest, and
    NotImplementedError for what is not covered.
    """
    uncovered = (
        any(rule.kept_without_power for rule in board.rules.values())
        or board.same_moment
        or any(row.filter != TimeRange() for row in board.inputs.values())
        or any(isinstance(board.rules[n], Accumulator) for row in board.speed_ups.values() for n in row.what)
    )
    first_power, *more = trace.signals[POWER]
    if uncovered or first_power[1] or len(more) != 1:
        raise NotImplementedError("the solver does not cover this board or this trace")
    came = more[0][0]
    known = Known(Works.of(board))
    rows = trace.signals.items()
    known.at_power_up = {n: [v for t, v in row if t <= came][-1] for n, row in rows if n in board.inputs}
    # At one moment the inputs change before anything shows; whatever else is tried in every order.
    events = sorted(
        ((t, n, v) for n, row in rows for t, v in row[1:] if t > came or n not in board.inputs),
        key=lambda e: (e[0], e[1] in board.outputs),
    )
    if any(row[0][1] or (row[1:] and row[1][0] < came) for n, row in rows if n in board.outputs):
        return False
    return Search(known, trace, events).possible()

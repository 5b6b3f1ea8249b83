"""Whether a board can have shown a trace, asked of an SMT solver: what the grid does not cover.

Law of this module: every moment is a real number, and every clause about moments a linear constraint. The order of what
happened is searched depth first: the next thing is a change that was seen, or something out of sight (timings that end,
changes that are acted on, what changes unseen), alone or together. A path whose constraints contradict each other is
given up; the trace is possible if one path reaches its end.

Here stands what is seen; what the board does unseen is in ``acting``. Filters, sensors and short gaps in the supply are
settled before, as readings of the recording (``readings``). Not covered: an accumulator that is sped up, speed-ups and
places kept without power together, and speed-ups that hang on what is not known.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from math import floor
from typing import Any

import z3
from attrs import define, evolve

from boardgauge.language.model import Accumulator, Board
from oracle import lamps, starting
from oracle.acting import MOST_HIDDEN, Acting, TooDeepError
from oracle.due import POWER, Known
from oracle.paths import Change, Command, Path
from oracle.reals import Real
from oracle.settling import Works
from oracle.trace import Trace

__all__ = ["TooDeepError", "dies_at", "possible"]

MOST_PATHS = 1500
MOST_PULSES = 2
"""So many pulses may hide between samples."""

Way = tuple[Path, list[Any]]


@define(eq=False)
class Search(Acting):
    """The search for one board and one trace, in microseconds."""

    paths: int = 0
    seeks: bool = False
    latest: int = 0
    """Where it seeks: the last moment up to which some path goes."""

    def possible(self) -> bool:
        """Search. Raises TooDeepError where nothing was found and something was left out."""
        if self.board.clock == "shared":
            self.clock = self.real()
        for way in starting.starts(self):
            if self._try(way):
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
        if self.seeks:
            self._lasts(path)
        elif self.next(path) is None:
            self.solver.push()
            self.at(path, self.trace.end)
            self._lamps_until(path, path.lit, self.trace.end)
            found = self.solver.check() != z3.unsat
            self.solver.pop()
            if found:
                return True
        return any(self._try(way) for way in self._ways(path))

    def _lasts(self, path: Path) -> None:
        """Find up to when a path goes before the next change that is seen."""
        head = self.next(path)
        by = self.trace.end if head is None else head[0] - 1
        if by <= self.latest:
            return
        end = self.real()
        self.solver.push()
        self.add(end <= by, end >= self.latest + 1)
        self.at(path, end)
        self._lamps_until(path, path.lit, end)
        if self.solver.check() == z3.sat:
            most = z3.Optimize()
            most.add(self.solver.assertions())
            most.maximize(end)
            assert most.check() == z3.sat
            self.latest = floor(most.model().eval(end, model_completion=True).as_fraction())
        self.solver.pop()

    def _try(self, way: Way) -> bool:
        path, constraints = way
        self.solver.push()
        self.add(*constraints)
        found = self._goes_on(path)
        self.solver.pop()
        return found

    def _ways(self, path: Path) -> Iterator[Way]:
        last = self.next(path)
        for head in sorted(self.heads(path)):
            if last is not None and (head == last or (self.trace.every and head[0] - self.trace.every < last[0])):
                yield from self._seen(path, head[2])
        yield from self._unmasked(path)
        yield from self._missed(path)
        if path.hidden == MOST_HIDDEN:
            self.cut_short = True
        else:
            yield from self.acts(path)

    # -- what was seen --------------------------------------------------------------------------------------------

    def _seen(self, path: Path, name: str) -> Iterator[Way]:
        index = path.seen.get(name, 0) + 1
        by, value = self.trace.signals[name][index]
        time: Real = by
        self.solver.push()
        if self.trace.every:
            time = self.real()
            # What had changed by the sample before would have shown in that one.
            self.add(time > by - self.trace.every, time <= by)
        self.at(path, time)
        onward = evolve(path, now=time, seen={**path.seen, name: index}, hidden=0)
        if name == POWER:
            yield self._comes(onward, time) if value else self._goes(onward, time)
        elif name in self.board.outputs:
            yield from self._output(onward, name, value, time)
        elif path.levels[name] == value:
            yield onward, []  # it was not known, and is what it was taken for
        else:
            yield self._input(onward, Change(name, value, time, self.trace.moments.get((name, index), 0))), []
        self.solver.pop()

    def _input(self, path: Path, change: Change) -> Path:
        levels = {**path.levels, change.name: change.value}
        # Without power nothing is taken in; what stands there as it comes back is seen then.
        dead = path.asleep and not path.pending
        return evolve(path, levels=levels, pending=path.pending if dead else (*path.pending, change))

    def _comes(self, path: Path, time: Real) -> Way:
        return evolve(path, pending=(Change(POWER, True, time),)), []

    def _goes(self, path: Path, time: Real) -> Way:
        works = self.known.works
        self._lamps_until(path, path.lit, time)
        kept = {name for name, rule in self.board.rules.items() if rule.kept_without_power}
        if kept and self.board.speed_ups:
            raise NotImplementedError("places kept without power with a speed-up")
        standing = path.standing if path.asleep else works.off(path.standing)
        filling = dict(path.filling)
        for name in path.standing.adding:
            going = path.going["target", name, 0]
            filling[name] = evolve(filling[name], has=filling[name].has + time - going.origin)
        going_on = {key: g for key, g in path.going.items() if key in standing.running}
        dark = {name: (Command(False, time, time, (time,)),) * (name in path.shown) for name in self.board.outputs}
        return evolve(
            path,
            standing=standing,
            going=going_on,
            filling={n: f for n, f in filling.items() if n in kept},
            queues=dark,
            asleep=True,
            slept=path.slept if path.asleep else time,
            pending=(),
            lit={},
            owed={},
        ), []

    def _output(self, path: Path, name: str, value: bool, time: Real) -> Iterator[Way]:
        if name in path.masked:
            yield path, [time <= path.masked[name]]
            return
        shows = self._shown(path, name, time)
        if shows is not None and (name in shows[0].shown) == value:
            yield shows

    def _shown(self, path: Path, name: str, time: Real) -> Way | None:
        queue = path.queues[name]
        if not queue:
            return None
        command, *rest = queue
        queues = {**path.queues, name: tuple(rest)}
        for group, within in command.together:
            for other, row in queues.items():
                queues[other] = tuple(
                    evolve(c, others=(*c.others, time + within)) if (group, within) in c.together else c for c in row
                )
        shown = path.shown | {name} if command.value else path.shown - {name}
        late = [time <= command.limit, z3.Or([time <= d for d in command.deadlines])]
        late += [time <= other for other in command.others]
        return evolve(path, queues=queues, shown=shown), [
            time >= command.act, *late, *(o <= time for o in command.floating)
        ]  # fmt: skip

    # -- what was not seen ----------------------------------------------------------------------------------------

    def _recorded(self, path: Path, name: str) -> bool:
        return self.trace.signals[name][path.seen.get(name, 0)][1]

    def _unmasked(self, path: Path) -> Iterator[Way]:
        """Let outputs that are not judged show, and let their stretches end."""
        for name, until in path.masked.items():
            time = self.real()
            shows = self._shown(evolve(path, now=time), name, time)
            if shows is not None:
                self.solver.push()
                self.at(path, time)
                yield shows[0], [*shows[1], time <= until]
                self.solver.pop()
            if name not in self.trace.unseen and (name in path.shown) == self._recorded(path, name):
                self.solver.push()
                self.at(path, until)
                yield evolve(path, now=until, masked={n: u for n, u in path.masked.items() if n != name}), []
                self.solver.pop()

    def _missed(self, path: Path) -> Iterator[Way]:
        """Let a pulse come and go between two samples."""
        if not self.trace.every or path.asleep:
            return
        for name, least in self.trace.hides.items():
            if path.pulses == MOST_PULSES:
                self.cut_short = True
                break
            comes, goes = self.real(), self.real()
            self.solver.push()
            self.at(path, comes)
            self.add(goes >= comes + max(least, 1), self._in_one_gap(comes, goes))
            value = path.levels[name]
            pending = (*path.pending, Change(name, not value, comes), Change(name, value, goes))
            yield evolve(path, now=comes, pending=pending, pulses=path.pulses + 1), []
            self.solver.pop()
        for name, queue in path.queues.items():
            if len(queue) > 1 and name not in path.masked:
                comes, goes = self.real(), self.real()
                self.solver.push()
                self.at(path, comes)
                once = self._shown(path, name, comes)
                assert once is not None
                twice = self._shown(once[0], name, goes)
                assert twice is not None
                self.add(goes >= comes, self._in_one_gap(comes, goes))
                yield evolve(twice[0], now=comes), [*once[1], *twice[1]]
                self.solver.pop()

    def _in_one_gap(self, comes: Real, goes: Real) -> Any:
        every = self.trace.every
        return z3.Or([z3.And(comes > at, goes <= at + every) for at in range(0, self.trace.end, every)])

    def _lamps_until(self, path: Path, lit: Mapping[str, tuple[int, Real]], time: Real) -> None:
        for name, (line, begins) in lit.items():
            if name in self.trace.lamps:
                seen = lamps.stretches(self.trace.lamps[name], self.trace.end)
                self.add(*lamps.held_to(self.board.lamps[name], line, seen, begins, time))


def possible(board: Board, trace: Trace, chosen: Mapping[str, str] | None = None) -> bool:
    """Tell whether a board can have shown a trace in microseconds; ``chosen`` are positions of its settings.

    Raises TooDeepError where the search was cut short, Refused where the spec does not come to rest, and
    NotImplementedError for what is not covered.
    """
    search = _search(board, trace, chosen)
    return search is not None and search.possible()


def dies_at(board: Board, trace: Trace, chosen: Mapping[str, str] | None = None) -> int | None:
    """Give the moment up to which no board can have shown a trace, None if one can have shown all of it.

    It is the first that is impossible, of those a microsecond apart. Raises what ``possible`` does.
    """
    if possible(board, trace, chosen):
        return None
    search = _search(board, trace, chosen)
    if search is None:
        return 0
    search.seeks = True
    assert not search.possible()
    return search.latest + 1


def _search(board: Board, trace: Trace, chosen: Mapping[str, str] | None) -> Search | None:
    if board.speed_ups and not (trace.from_power_up and not trace.free and not trace.every):
        raise NotImplementedError("a speed-up that is not known")
    if trace.from_power_up and trace.signals[POWER][0][1]:
        raise NotImplementedError("a recording that begins with the supply on")
    if trace.from_power_up and any(row[0][1] for n, row in trace.signals.items() if n in board.outputs):
        return None
    events = sorted((t, n, v) for n, row in trace.signals.items() for t, v in row[1:])
    search = Search(Known(Works.of(board, chosen)), trace, events)
    if any(isinstance(rule, Accumulator) and search.sped_up(name) for name, rule in board.rules.items()):
        raise NotImplementedError("an accumulator that is sped up")
    return search

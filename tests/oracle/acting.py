"""What a board does out of sight: it takes changes in, timings end, and what follows is commanded.

Law of this module: all that may happen at one moment is tried, alone and together, and each way is told with the
constraints under which it is one.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import product
from typing import Any

import z3
from attrs import define, evolve

from boardgauge.language.model import Accumulator
from oracle import lamps, watching
from oracle.due import NOW, POWER, Due
from oracle.look import Key
from oracle.paths import Change, Command, Path
from oracle.reals import Filling, Going, Real, Times

MOST_HIDDEN = 6
"""So many moments out of sight between two things that were seen."""


class TooDeepError(Exception):
    """The search was cut short before it found a way."""


@define(eq=False)
class Acting(Times):
    """The acts of one board."""

    cut_short: bool = False

    def at(self, path: Path, time: Real) -> None:
        """Demand that nothing was overdue when this time came."""
        self.add(time >= path.now)
        for queue in path.queues.values():
            for command in queue:
                self.add(time <= command.limit, z3.Or([time <= d for d in command.deadlines]))
                self.add(*(time <= other for other in command.others))
        for change in path.pending:
            self.add(time <= change.raw + self.responds(change.name))
        self.add(*(time <= by for row in path.owed.values() for by in row))
        self.add(*(time <= until for until in path.masked.values()))
        if path.asleep:
            return
        waiting = {name: change.value for name, change in path.first.items()}
        for key, going in path.going.items():
            stopping = Due(self.known, path.standing, waiting, []).stopped_by(key) if path.pending else []
            # A change that is still to be taken in and stops it counts from its terminal.
            raws = [change.raw for change in path.pending if change.name in stopping]
            self.add(z3.Or([going.end >= time, *(going.end >= raw for raw in raws)]))

    def next(self, path: Path) -> tuple[int, int, str] | None:
        """Give the change of the trace that must come next, if none comes before it: by when, its rank, its signal."""
        return min(self.heads(path), default=None)

    def heads(self, path: Path) -> Iterator[tuple[int, int, str]]:
        """Give the next change of each signal: by when it comes, its rank in a moment, its signal."""
        for name, row in self.trace.signals.items():
            index = path.seen.get(name, 0) + 1
            if index < len(row):
                # At one moment the supply and the inputs change before anything shows.
                yield row[index][0], 0 if name == POWER else 2 if name in self.board.outputs else 1, name

    def responds(self, name: str) -> int:
        """Give by when a change of an input, or of the supply, has been acted on."""
        return self.board.responds_within if name == POWER else self.board.inputs[name].responds_within

    def _free(self, path: Path) -> dict[str, tuple[int, int]]:
        """Give the stretches in which inputs may just be changing unknown."""
        found = {}
        for name, parts in self.trace.free.items():
            row, index = self.trace.signals[name], path.seen.get(name, 0)
            head = row[index + 1][0] if index + 1 < len(row) else self.trace.end
            for begins, ends in parts:
                if row[index][0] <= begins and ends <= head:
                    found[name] = (begins, ends)
        return found

    # -- what may come together -----------------------------------------------------------------------------------

    def acts(self, path: Path) -> Iterator[tuple[Path, list[Any]]]:
        """Give the ways to go on with something out of sight."""
        waiting = path.first
        if POWER in waiting:
            yield from self._wakes(path)
            return
        if path.asleep:
            return
        free = {name: part for name, part in self._free(path).items() if name not in waiting}
        running = list(path.going)
        for chosen in product((False, True), repeat=len(running) + len(waiting) + len(free)):
            ended = [key for key, yes in zip(running, chosen, strict=False) if yes]
            taken = [n for n, yes in zip(waiting, chosen[len(running) :], strict=False) if yes]
            flipped = [n for n, yes in zip(free, chosen[len(running) + len(waiting) :], strict=True) if yes]
            if sum(chosen) <= 3 + len(taken) * bool(self.trace.moments) and any(chosen):
                yield from self._takes(path, [waiting[n] for n in taken], ended, {n: free[n] for n in flipped})

    def _wakes(self, path: Path) -> Iterator[tuple[Path, list[Any]]]:
        came = path.pending[0]
        names = list(self._free(path))
        for values in product((False, True), repeat=len(names)):
            levels = {**path.levels, **dict(zip(names, values, strict=True))}
            for later in path.pending[1:]:
                levels[later.name] = not later.value  # as it stood when the supply came
            onward = evolve(path, levels={**path.levels, **dict(zip(names, values, strict=True))})
            yield from self._act(onward, {POWER: True}, {POWER: came.raw}, [], levels)

    def _takes(
        self, path: Path, taken: list[Change], ended: list[Key], flipped: Mapping[str, tuple[int, int]]
    ) -> Iterator[tuple[Path, list[Any]]]:
        for moment in {change.moment for change in taken} - {0}:
            members = [row for row, of in self.trace.moments.items() if of == moment]
            if sum(change.moment == moment for change in taken) < len(members):
                return
        raws: dict[str, Real] = {change.name: change.raw for change in taken}
        values = {change.name: change.value for change in taken}
        if flipped and not taken and not ended and path.idle & flipped.keys():
            return  # it changed a moment ago, and nothing came of that
        self.solver.push()
        for name, (begins, ends) in flipped.items():
            raws[name], values[name] = self.real(), not path.levels[name]
            self.add(raws[name] >= begins, raws[name] <= ends)
            if name in path.flipped:
                self.add(raws[name] > path.flipped[name])
        levels = {**path.levels, **{name: values[name] for name in flipped}}
        onward = evolve(path, levels=levels, flipped={**path.flipped, **{name: raws[name] for name in flipped}})
        if flipped and not taken and not ended:
            outcome = Due(self.known, path.standing, values, []).outcome
            moved = outcome.commands or outcome.begun or outcome.standing.places != path.standing.places
            onward = evolve(onward, idle=frozenset() if moved else path.idle | flipped.keys())
        else:
            onward = evolve(onward, idle=frozenset())
        yield from self._act(onward, values, raws, ended, None)
        self.solver.pop()

    def _act(
        self,
        path: Path,
        taken: Mapping[str, bool],
        raws: Mapping[str, Real],
        ended: list[Key],
        at_power_up: Mapping[str, bool] | None,
    ) -> Iterator[tuple[Path, list[Any]]]:
        time = self.real()
        due = Due(self.known, path.standing, taken, ended, at_power_up)
        waiting = {n: change.value for n, change in path.first.items() if n != POWER}
        stopping = Due(self.known, path.standing, waiting, [])
        waited = {change.name: change.raw for change in reversed(path.pending)}
        self.solver.push()
        head = self.next(path)
        self.add(time <= (self.trace.end if head is None else head[0]))
        for name in taken:
            self.add(time >= raws[name], time <= raws[name] + self.responds(name))
        for key in ended:
            self.add(time == path.going[key].end, *(time <= waited[n] for n in stopping.stopped_by(key)))
        stopped = {key for key in path.going if key not in ended and key not in due.outcome.was.values()}
        for key in stopped:
            by = [name for name in due.stopped_by(key) if name != POWER]
            # It was still running when what stopped it came, at the terminal.
            self.add(z3.Or([path.going[key].end >= (raws[n]) for n in by] or [path.going[key].end >= time]))
        self.at(evolve(path, going={k: g for k, g in path.going.items() if k not in stopped}), time)
        left = tuple(c for c in path.pending if c.name not in taken or c.raw is not raws[c.name])
        base = evolve(path, now=time, pending=left, hidden=path.hidden + 1, asleep=False)
        if self.solver.check() != z3.unsat:
            yield from self._after(base, due, raws, time)
        self.solver.pop()

    # -- what follows ---------------------------------------------------------------------------------------------

    def _after(self, path: Path, due: Due, raws: Mapping[str, Real], time: Real) -> Iterator[tuple[Path, list[Any]]]:
        outcome = due.outcome
        looked = watching.watched(self.known.works, path, outcome, time)
        if looked is None:
            return
        path, demands = looked
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
            self.add(*demands)
            going = {key: self._woken(path, path.going[old], due, raws, time) for key, old in outcome.was.items()}
            filling = self._paused(path, due, raws, time)
            for key, origin, output in chosen:
                if output:
                    self.add(origin >= time)
                if key[0] == "target":
                    held = filling[str(key[1])]
                    last = origin + held.greatest - held.has
                    going[key] = Going(origin, origin + held.target - held.has, last)
                else:
                    going[key] = self.start(key, origin, outcome.standing)
            floating = {o: [origin for _, origin, output in chosen if output == o] for o in self.board.outputs}
            further = evolve(path, standing=outcome.standing, going=going, filling=filling)
            further = self._looked_at(further, due, time)
            for queues, constraints in self._commanded(further, path.going, due, floating, raws, time):
                yield evolve(further, queues=queues), constraints
            self.solver.pop()

    def _woken(self, path: Path, going: Going, due: Due, raws: Mapping[str, Real], time: Real) -> Going:
        """Give a timing that goes on; one that was kept without power goes on where it stood."""
        if POWER not in due.taken:
            return going
        woke = self.real()
        self.add(woke >= raws[POWER], woke <= time)
        slept = woke - path.slept
        return Going(going.origin + slept, going.end + slept, going.latest + time - path.slept)

    def _paused(self, path: Path, due: Due, raws: Mapping[str, Real], time: Real) -> dict[str, Filling]:
        filling = dict(path.filling)
        for name, cause in due.outcome.paused.items():
            key: Key = ("target", name, 0)
            if key in path.going:
                stops = [raws[n] for n in due.causes_of(key, cause) if n != NOW] if cause.kind == "inputs" else [time]
                held, ran = filling[name], self.real()
                self.add(z3.Or([ran == stop - path.going[key].origin for stop in stops]), ran >= 0)
                filling[name] = evolve(held, has=held.has + ran)
        zero = set(due.outcome.emptied)
        if POWER in due.taken:
            zero |= {n for n, rule in self.board.rules.items() if isinstance(rule, Accumulator)} - filling.keys()
        return filling | {name: self.empty(name, due.outcome.standing) for name in zero}

    def _looked_at(self, path: Path, due: Due, time: Real) -> Path:
        """Give the lamps that follow and the stretches that are not judged."""
        works, lit, masked = self.known.works, dict(path.lit), dict(path.masked)
        look = works.glance(path.standing.held)
        for name, lamp in self.board.lamps.items():
            if name in self.trace.lamps:
                line = next(i for i, row in enumerate(lamp.lines) if row.when is None or look.holds(row.when))
                if name not in lit or lit[name][0] != line:
                    self._ends(lit, name, time)
                    lit[name] = (line, time + lamps.settles(lamp))
        for stretch in self.board.not_judged:
            for before, held, facts in due.outcome.pictures:
                if not evolve(works.glance(held), before=before, facts=facts).happens(stretch.after):
                    continue
                at_rate, beside = self.drawn(stretch.lasts)
                for name in stretch.signals:
                    if name in lit:
                        line, begins = lit[name]
                        self._ends(lit, name, time)
                        until = time + at_rate + beside
                        lit[name] = (line, z3.If(begins > until, begins, until))
                    elif name in self.board.outputs and name not in self.trace.unseen:
                        masked[name] = time + at_rate + beside
        return evolve(path, lit=lit, masked=masked)

    def _ends(self, lit: Mapping[str, tuple[int, Real]], name: str, time: Real) -> None:
        if name in lit:
            line, begins = lit[name]
            seen = lamps.stretches(self.trace.lamps[name], self.trace.end)
            self.add(*lamps.held_to(self.board.lamps[name], line, seen, begins, time))

    def _commanded(
        self,
        path: Path,
        before: Mapping[Key, Going],
        due: Due,
        floating: Mapping[str, list[Real]],
        raws: Mapping[str, Real],
        time: Real,
    ) -> Iterator[tuple[dict[str, tuple[Command, ...]], list[Any]]]:
        ways: list[tuple[dict[str, tuple[Command, ...]], list[Any]]] = [(dict(path.queues), [])]
        groups = watching.together(self.known.works, due.outcome)
        for name, value in due.outcome.commands:
            limit = time + self.board.outputs[name].lag
            deadlines = [self._deadline(before, cause, raws) for cause in due.causes_of_change(name, value)]
            together = tuple(groups.get(name, ()))
            command = Command(value, time, limit, tuple(deadlines), tuple(floating[name]), together)
            further = []
            for queues, constraints in ways:
                queue = queues[name]
                further.append(({**queues, name: (*queue, command)}, constraints))
                if queue:
                    undone = [o <= time for o in (*queue[-1].floating, *floating[name])]
                    further.append(({**queues, name: queue[:-1]}, [*constraints, *undone]))
            ways = further
        yield from ways

    def _deadline(self, before: Mapping[Key, Going], cause: str | Key, raws: Mapping[str, Real]) -> Real:
        if cause == POWER:
            return raws[cause] + self.responds(cause) + max(row.lag for row in self.board.outputs.values())
        if isinstance(cause, str):
            return raws[cause] + self.responds(cause)
        return before[cause].latest

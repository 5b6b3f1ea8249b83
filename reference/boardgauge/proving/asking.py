"""Ask whether a machine can break one requirement, with more and more of its times followed, until that is answered.

Law of this module: *proved* only where everything that the machine can do was explored, *refuted* only with a scenario
that the simulated board has been through, *undecided* in every other case, with the reason.

First only the requirement's own time is followed, and every other timing may be over at any time; a way to break it
that their lengths rule out has those followed too that rule it out, and so on (abstraction refined by counter-examples:
Clarke, Grumberg, Jha, Lu and Veith, 2000). Inputs are folded (``proving.folding``); what is not followed exactly is at
first not followed at all; the zones of a place are joined at first, and kept apart at last.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Literal

from attrs import define, frozen

from boardgauge.language.model import Requirement
from boardgauge.machine.run import Run
from boardgauge.machine.settle import Engine
from boardgauge.proving.clockwork import Node
from boardgauge.proving.folding import Folds, folds_of
from boardgauge.proving.moments import ruled_out_by
from boardgauge.proving.space import Space, way_to
from boardgauge.proving.timed import JOINED_AT_LAST, MOST_STEPS, explore_timed
from boardgauge.proving.together import Happens
from boardgauge.proving.witness import Witness, witness

Verdict = Literal["proved", "refuted", "undecided", "watched"]


@frozen
class Proof:
    """What came of one requirement. ``how`` tells in words what the verdict stands on, or why there is none."""

    requirement: Requirement
    verdict: Verdict
    how: str
    witness: Witness | None = None
    sped_up: bool = False
    vacuous: bool = False
    explored: int = 0


@define
class Asking:
    """Asks one question of one machine.

    ``whole`` is the engine of the whole board, on which scenarios are tried; without it nothing is refuted. ``kept``
    names the rules that alone were kept, for the words of the proof. ``explored`` and ``steps`` count all looks so far.
    """

    requirement: Requirement
    engine: Engine
    whole: Engine | None
    limit: int
    progress: Callable[[int, int], None] | None
    sped_up: bool
    kept: frozenset[str] = frozenset()
    explored: int = 0
    steps: int = 0
    _made: Folds | None = None

    def ask(self) -> Proof:
        """Give the answer."""
        hidden = {row.index for row in self.engine.machine.timings if row.role == "requirement"}
        timed: frozenset[int] | None = frozenset(hidden)
        joined: int | None = 1
        coarse = True
        while True:
            space = self._explore(timed, joined, coarse=coarse)
            if space.stop is None:
                return self._unbroken(space, timed)
            start, happenings = way_to(space, space.stop.came)
            blamed = ruled_out_by(self.engine, start, happenings)
            if blamed is not None and not blamed and self.whole is not None:
                found = self._refuted(self.whole, timed, joined, start, happenings)
                if found is not None:
                    return found
            every = frozenset(range(len(self.engine.machine.timings)))
            if timed is not None and blamed and not blamed <= timed:
                timed |= blamed
            elif coarse and space.rounded:
                coarse = False
            elif timed is not None and timed != every:
                met = {end.timing for what in happenings for end in what.over}
                timed = timed | met if not met <= timed else every
            elif self.whole is None:
                return self._proof("undecided", "")
            elif joined is not None:
                joined = None if joined >= JOINED_AT_LAST else JOINED_AT_LAST
            else:
                why = "" if space.exact else "; accumulators, speed-ups and losses of power are followed with rounding"
                how = f"a way to break it was found that no trial on the simulated board bore out{self._told()}{why}"
                return self._proof("undecided", how)

    def _refuted(
        self,
        whole: Engine,
        timed: frozenset[int] | None,
        joined: int | None,
        start: Node,
        happenings: Sequence[Happens],
    ) -> Proof | None:
        """Try a way that no length rules out, the shortest there is; None if no trial shows it."""
        shortest = self._explore(timed, joined, shortest=True)
        if shortest.stop is not None:
            start, happenings = way_to(shortest, shortest.stop.came)
            if ruled_out_by(self.engine, start, happenings) != frozenset():
                return None
        found = self._witness(whole, start, happenings)
        if found is None:
            return None
        how = f"a board that keeps every rule breaks it, in {len(happenings)} steps{self._told()}"
        return self._proof("refuted", how, found)

    def _explore(
        self, timed: frozenset[int] | None, joined: int | None, coarse: bool = False, shortest: bool = False
    ) -> Space:
        """Look for a way to break the requirement: folded, which is quick, or unfolded for the shortest."""
        folds = None if shortest else self._folds(timed)
        space = explore_timed(
            self.engine,
            lambda node, outcome: bool(outcome.broken),
            None,
            self.limit,
            self.progress,
            joined,
            self.sped_up,
            timed,
            most_steps=MOST_STEPS - self.steps,
            folds=folds,
            coarse=coarse,
        )
        self.explored += space.zones
        self.steps += space.steps
        return space

    def _folds(self, timed: frozenset[int] | None) -> Folds | None:
        if self._made is None:
            self._made = folds_of(self.engine, self.sped_up, timed)
        return self._made if Folds.serves(self.engine, timed) else None

    def _unbroken(self, space: Space, timed: frozenset[int] | None) -> Proof:
        if not space.complete:
            if not space.whole:
                how = f"not all that may happen at one moment was explored{self._told()}, there is too much of it"
                return self._proof("undecided", f"{how}; none of what was explored breaks it")
            bound = f"the bound being {self.limit} zones and {MOST_STEPS} steps"
            how = f"explored only {self.explored} zones{self._told()}, {bound}; none breaks it"
            return self._proof("undecided", how)
        rows = self.engine.machine.timings
        names = [t.name for t in rows if (timed is None or t.index in timed) and t.role != "requirement"]
        what = f"by the times of {_listed(names)}" if names else "whatever the times"
        if self.kept:
            what = f"by {_listed(sorted(self.kept))} alone, {what}"
        return self._proof("proved", f"{what}{self._told()} ({self.explored} zones explored)")

    def _witness(self, whole: Engine, start: Node, happenings: Sequence[Happens]) -> Witness | None:
        title = f"breaks the requirement {self.requirement.id}"
        return witness(self.engine, whole, start, happenings, title, _breaks(whole, self.requirement.id))

    def _told(self) -> str:
        if not self.engine.machine.speed_ups:
            return ""
        return ", sped up or not" if self.sped_up else ", without speed-up"

    def _proof(self, verdict: Verdict, how: str, found: Witness | None = None) -> Proof:
        return Proof(self.requirement, verdict, how, found, self.sped_up, explored=self.explored)


def _listed(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else ", ".join(names[:-1]) + " and " + names[-1]


def _breaks(whole: Engine, requirement: str) -> Callable[[Run], bool]:
    number = next(i for i, row in enumerate(whole.machine.watches) if row.requirement.id == requirement)
    return lambda run: any(entry.outcome is not None and number in entry.outcome.broken for entry in run.story)

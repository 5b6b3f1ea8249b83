"""Prove or refute what a spec requires.

Law of this module: *proved* only where everything the board can do was explored, *refuted* only with a scenario that
the simulated board has been through, *undecided* in every other case, with the reason.

Each requirement is asked of the part of the board that it hangs on. First without times, since most hold whatever the
times are. Then only the requirement's own time is followed, and every other timing may be over at any time; a way to
break it that their lengths rule out has those followed too that rule it out, and so on (abstraction refined by
counter-examples: Clarke, Grumberg, Jha, Lu and Veith, 2000). The zones of a place are joined at first, and kept apart
at last. Speed-ups are left out, unless the requirement has nothing to watch without one: what a link for servicing
cuts short is cut short on purpose.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Literal

from attrs import define, evolve, frozen

from boardgauge.language.model import Board, Follows, Requirement, Together
from boardgauge.machine.compile import compile_board
from boardgauge.machine.config import Outcome
from boardgauge.machine.explore import MOST_CONFIGS, broken_without_times
from boardgauge.machine.run import Run
from boardgauge.machine.settle import Engine
from boardgauge.proving.clockwork import Node
from boardgauge.proving.slicing import slice_of
from boardgauge.proving.timed import MOST_ZONES, Came, Space, explore_timed
from boardgauge.proving.together import Happens
from boardgauge.proving.witness import Witness, ruled_out_by, way_to, witness

Verdict = Literal["proved", "refuted", "undecided", "watched"]
JOINED_AT_LAST = 16
"""So many zones of a place are kept apart before all are."""

Progress = Callable[[str, int, int], None]
"""Told now and then: the requirement, how many zones were gone on from, how many there are."""


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


def prove(board: Board, limit: int = MOST_ZONES, progress: Progress | None = None) -> tuple[Proof, ...]:
    """Prove or refute every requirement of a board, in the order of the spec."""
    whole = Engine(compile_board(board))
    return tuple(prove_one(board, whole, name, limit, progress) for name in board.requirements)


def prove_one(
    board: Board, whole: Engine, name: str, limit: int = MOST_ZONES, progress: Progress | None = None
) -> Proof:
    """Prove or refute one requirement; ``whole`` is the engine of the whole board."""
    requirement = board.requirements[name]
    if isinstance(requirement.demand, Together):
        how = "on recordings only, for how far apart outputs show is a matter of their terminals"
        return Proof(requirement, "watched", how)
    part = slice_of(board, name)
    engine = Engine(compile_board(part))
    timed = bool(engine.machine.timings)
    if not timed or not _watches_time(engine):
        broken, complete, number = broken_without_times(engine.machine, MOST_CONFIGS)
        if complete and not broken:
            return Proof(requirement, "proved", f"whatever its timings do ({number} states explored)", explored=number)
    told = None if progress is None else lambda done, there: progress(name, done, there)
    found = Proof(requirement, "undecided", "")
    for sped_up in (False, True) if part.speed_ups else (False,):
        comes_up = _Comes(engine)
        found = _Asking(requirement, engine, whole, limit, told, comes_up, sped_up).ask()
        if found.verdict != "proved" or comes_up.ever:
            return found
    return evolve(found, vacuous=True)


def _watches_time(engine: Engine) -> bool:
    return any(row.role == "requirement" for row in engine.machine.timings)


class _Comes:
    """Notes whether what a requirement is about ever comes up."""

    def __init__(self, engine: Engine) -> None:
        self._hidden = [row.index for row in engine.machine.timings if row.role == "requirement"]
        follows = [isinstance(row.demand, Follows) for row in engine.machine.board.requirements.values()]
        self._needed = bool(self._hidden) and all(follows)
        self.ever = not self._needed

    def __call__(self, node: Node, outcome: Outcome, came: Came) -> None:
        if not self.ever and any(outcome.config.running >> timing & 1 for timing in self._hidden):
            self.ever = True


@define
class _Asking:
    """Asks one question with more and more timings followed, until it is answered."""

    requirement: Requirement
    engine: Engine
    whole: Engine
    limit: int
    progress: Callable[[int, int], None] | None
    comes_up: _Comes
    sped_up: bool
    explored: int = 0

    def ask(self) -> Proof:
        hidden = {row.index for row in self.engine.machine.timings if row.role == "requirement"}
        timed: frozenset[int] | None = frozenset(hidden)
        joined: int | None = 1
        while True:
            space = explore_timed(
                self.engine,
                lambda node, outcome: bool(outcome.broken),
                self.comes_up,
                self.limit,
                self.progress,
                joined,
                self.sped_up,
                timed,
            )
            self.explored += space.zones
            if space.stop is None:
                return self._unbroken(space, timed)
            start, happenings = way_to(space, space.stop.came)
            blamed = ruled_out_by(self.engine, start, happenings)
            if blamed is not None and not blamed:
                found = self._witness(start, happenings)
                if found is not None:
                    how = f"a board that keeps every rule breaks it, in {len(happenings)} steps{self._told()}"
                    return self._proof("refuted", how, found)
            every = frozenset(range(len(self.engine.machine.timings)))
            if timed is not None and blamed and not blamed <= timed:
                timed |= blamed
            elif timed is not None and timed != every:
                met = {end.timing for what in happenings for end in what.over}
                timed = timed | met if not met <= timed else every
            elif joined is not None:
                joined = None if joined >= JOINED_AT_LAST else JOINED_AT_LAST
            else:
                why = "" if space.exact else "; accumulators, speed-ups and losses of power are followed with rounding"
                how = f"a way to break it was found that no trial on the simulated board bore out{self._told()}{why}"
                return self._proof("undecided", how)

    def _unbroken(self, space: Space, timed: frozenset[int] | None) -> Proof:
        if not space.complete:
            how = f"explored only {self.explored} zones{self._told()}, the bound being {self.limit}; none breaks it"
            return self._proof("undecided", how)
        rows = self.engine.machine.timings
        names = [t.name for t in rows if (timed is None or t.index in timed) and t.role != "requirement"]
        what = f"by the times of {_listed(names)}" if names else "whatever the times"
        return self._proof("proved", f"{what}{self._told()} ({self.explored} zones explored)")

    def _witness(self, start: Node, happenings: Sequence[Happens]) -> Witness | None:
        title = f"breaks the requirement {self.requirement.id}"
        return witness(self.engine, self.whole, start, happenings, title, _breaks(self.whole, self.requirement.id))

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

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

from collections.abc import Callable, Iterator, Sequence
from itertools import combinations, islice
from typing import Literal

from attrs import define, evolve, field, frozen

from boardgauge.language import expressions as ex
from boardgauge.language.model import Always, Board, Follows, Never, Requirement, Together
from boardgauge.machine.compile import compile_board
from boardgauge.machine.config import Outcome
from boardgauge.machine.run import Run
from boardgauge.machine.settle import Engine
from boardgauge.proving.clockwork import Node
from boardgauge.proving.loosening import kept_in_rounds, loosened
from boardgauge.proving.moments import ruled_out_by
from boardgauge.proving.slicing import slice_of
from boardgauge.proving.space import Came, Space, way_to
from boardgauge.proving.timed import MOST_ZONES, explore_timed
from boardgauge.proving.together import Happens
from boardgauge.proving.witness import Witness, witness

Verdict = Literal["proved", "refuted", "undecided", "watched"]
MOST_LOOSE = 400
"""So many zones are kept where only some rules are."""
MOST_INPUTS = 7
"""With more inputs and things left open than these, some rules alone are not asked."""
MOST_PAIRS = 15
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


def prove(board: Board, limit: int = MOST_ZONES, progress: Progress | None = None) -> Iterator[Proof]:
    """Prove or refute every requirement of a board, in the order of the spec."""
    prover = _Prover(board, limit, progress)
    for name in board.requirements:
        yield prover.prove(name)


@define
class _Prover:
    """Proves the requirements of one board; what is found for all of them is found once."""

    board: Board
    limit: int
    progress: Progress | None
    whole: Engine = field(init=False)
    _unbroken: tuple[frozenset[str], int] | None = None

    def __attrs_post_init__(self) -> None:
        self.whole = Engine(compile_board(self.board))

    def prove(self, name: str) -> Proof:
        requirement = self.board.requirements[name]
        if isinstance(requirement.demand, Together):
            how = "on recordings only, for how far apart outputs show is a matter of their terminals"
            return Proof(requirement, "watched", how)
        part = slice_of(self.board, name)
        told = self._told(name)
        engine = Engine(compile_board(part))
        asked_of = _asked_sped_up(part, engine, self.limit)
        if asked_of != "sped up":
            found = _by_some_rules(requirement, part, min(self.limit, MOST_LOOSE), told)
            if found is None and not _watches_time(engine):
                found = self._whatever_the_times(requirement)
            if found is not None:
                return evolve(found, vacuous=asked_of == "nothing")
        found = _Asking(requirement, engine, self.whole, self.limit, told, asked_of == "sped up").ask()
        return evolve(found, vacuous=found.verdict == "proved" and asked_of == "nothing")

    def _told(self, name: str) -> Callable[[int, int], None] | None:
        say = self.progress
        return None if say is None else lambda done, there: say(name, done, there)

    def _whatever_the_times(self, requirement: Requirement) -> Proof | None:
        """Ask all the requirements that watch no time at once, with no timing followed."""
        if self._unbroken is None:
            rows = self.board.requirements.values()
            demands = {row.id: row.demand for row in rows}
            names = [name for name, demand in demands.items() if _asks_no_time(demand)]
            engine = Engine(compile_board(slice_of(self.board, *names)))
            broken: set[int] = set()

            def see(node: Node, outcome: Outcome, came: Came) -> None:
                broken.update(outcome.broken)

            told = self._told("the requirements without a time")
            space = explore_timed(engine, None, see, self.limit, told, 1, False, frozenset())
            watches = engine.machine.watches
            whole = {row.requirement.id for number, row in enumerate(watches) if number not in broken}
            self._unbroken = (frozenset(whole) if space.complete else frozenset()), space.zones
        names_, zones = self._unbroken
        if requirement.id not in names_:
            return None
        told_ = ", without speed-up" if self.board.speed_ups else ""
        how = f"whatever the times{told_} ({zones} zones explored)"
        return Proof(requirement, "proved", how, explored=zones)


def _asks_no_time(demand: Never | Always | Follows | Together) -> bool:
    if not isinstance(demand, Never | Always):
        return False
    return not any(isinstance(node, ex.LessThanAfter) for node in ex.walk(demand.what))


def _watches_time(engine: Engine) -> bool:
    return any(row.role == "requirement" for row in engine.machine.timings)


def _asked_sped_up(part: Board, engine: Engine, limit: int) -> Literal["as it is", "sped up", "nothing"]:
    """Tell how a requirement comes up at all: without a speed-up, only with one, or never."""
    if not all(isinstance(row.demand, Follows) for row in part.requirements.values()):
        return "as it is"
    hidden = [row.index for row in engine.machine.timings if row.role == "requirement"]

    def begins(node: Node, outcome: Outcome) -> bool:
        return any(outcome.config.running >> timing & 1 for timing in hidden)

    asked: tuple[tuple[bool, Literal["as it is", "sped up"]], ...] = ((False, "as it is"), (True, "sped up"))
    for sped_up, words in asked if part.speed_ups else asked[:1]:
        space = explore_timed(engine, begins, None, limit, None, 1, sped_up, frozenset())
        if space.stop is not None or not space.complete:
            return words
    return "nothing"


def _by_some_rules(
    requirement: Requirement, part: Board, limit: int, progress: Callable[[int, int], None] | None
) -> Proof | None:
    """Prove a requirement by as few rules as do: first those it names. None if that shows nothing."""
    first, *others = kept_in_rounds(part, requirement.id)
    tried = [first]
    if others:
        # One rule beside those named often sees to it, or two.
        beside = sorted(others[0] - first)
        tried += [first | {name} for name in beside]
        tried += [first | set(pair) for pair in islice(combinations(beside, 2), MOST_PAIRS)]
        tried += others[:-1]
    for kept in tried:
        for inputs_too in (True, False):
            loose = loosened(part, kept, inputs_too)
            if len(loose.inputs) > MOST_INPUTS:
                continue
            engine = Engine(compile_board(loose))
            found = _Asking(requirement, engine, None, limit, progress, False, kept).ask()
            if found.verdict == "proved":
                return found
    return None


@define
class _Asking:
    """Asks one question with more and more timings followed, until it is answered."""

    requirement: Requirement
    engine: Engine
    whole: Engine | None
    limit: int
    progress: Callable[[int, int], None] | None
    sped_up: bool
    kept: frozenset[str] = frozenset()
    explored: int = 0

    def ask(self) -> Proof:
        hidden = {row.index for row in self.engine.machine.timings if row.role == "requirement"}
        timed: frozenset[int] | None = frozenset(hidden)
        joined: int | None = 1
        while True:
            space = explore_timed(
                self.engine,
                lambda node, outcome: bool(outcome.broken),
                None,
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
                found = None if self.whole is None else self._witness(self.whole, start, happenings)
                if found is not None:
                    how = f"a board that keeps every rule breaks it, in {len(happenings)} steps{self._told()}"
                    return self._proof("refuted", how, found)
            every = frozenset(range(len(self.engine.machine.timings)))
            if timed is not None and blamed and not blamed <= timed:
                timed |= blamed
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

    def _unbroken(self, space: Space, timed: frozenset[int] | None) -> Proof:
        if not space.complete:
            how = f"explored only {self.explored} zones{self._told()}, the bound being {self.limit}; none breaks it"
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

"""Prove or refute what a spec requires.

Law of this module: *proved* only where everything the board can do was explored, *refuted* only with a scenario that
the simulated board has been through, *undecided* in every other case, with the reason.

Each requirement is asked of the part of the board that it hangs on: of a few rules alone first, then without times,
since most hold whatever the times are, and then with as few times as do (``proving.asking``). Speed-ups are left out,
unless the requirement has nothing to watch without one: what a link for servicing cuts short is cut short on purpose.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import combinations, islice
from typing import Literal

from attrs import define, evolve, field

from boardgauge.language import expressions as ex
from boardgauge.language.model import Always, Board, Follows, Never, Requirement, Together
from boardgauge.machine.compile import compile_board
from boardgauge.machine.config import Outcome
from boardgauge.machine.settle import Engine
from boardgauge.proving.asking import Asking
from boardgauge.proving.asking import Proof as Proof
from boardgauge.proving.clockwork import Node
from boardgauge.proving.folding import folds_of
from boardgauge.proving.loosening import inputs_kept, kept_in_rounds, loosened
from boardgauge.proving.slicing import slice_of
from boardgauge.proving.timed import MOST_ZONES, explore_timed

MOST_LOOSE = 400
"""So many zones are kept where only some rules are."""
MOST_INPUTS = 9
"""With more inputs and things left open than these, some rules alone are not asked."""
MOST_PAIRS = 15

Progress = Callable[[str, int, int], None]
"""Told now and then: the requirement, how many zones were gone on from, how many there are."""


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
        sped_up = asked_of == "sped up"
        found = _by_some_rules(requirement, part, min(self.limit, MOST_LOOSE), told, sped_up)
        if found is None and not (sped_up or _watches_time(engine)):
            found = self._whatever_the_times(requirement)
        if found is not None:
            return evolve(found, vacuous=asked_of == "nothing")
        found = Asking(requirement, engine, self.whole, self.limit, told, sped_up).ask()
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

            def all_broken(node: Node, outcome: Outcome) -> bool:
                broken.update(outcome.broken)
                return len(broken) == len(names)

            told = self._told("the requirements without a time")
            timed: frozenset[int] = frozenset()
            folds = folds_of(engine, False, timed)
            space = explore_timed(engine, all_broken, None, self.limit, told, 1, False, timed, folds=folds)
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
    asked: tuple[tuple[bool, Literal["as it is", "sped up"]], ...] = ((False, "as it is"), (True, "sped up"))
    if part.speed_ups:
        # Mostly the inputs tell, whatever the rules do; one that is sped up is kept, and the speed-up with it.
        loose = loosened(part, frozenset(row.what[0] for row in part.speed_ups.values()), frozenset(part.inputs))
        few = len(loose.inputs) <= MOST_INPUTS
        if few and not _may_be_asked(Engine(compile_board(loose)), False, min(limit, MOST_LOOSE)):
            asked = asked[1:]
    for sped_up, words in asked if part.speed_ups else asked[:1]:
        if _may_be_asked(engine, sped_up, limit):
            return words
    return "nothing"


def _may_be_asked(engine: Engine, sped_up: bool, limit: int) -> bool:
    """Tell whether a requirement may come up, as far as it can be shown that it does not."""
    hidden = [row.index for row in engine.machine.timings if row.role == "requirement"]

    def begins(node: Node, outcome: Outcome) -> bool:
        return any(outcome.config.running >> timing & 1 for timing in hidden)

    timed: frozenset[int] = frozenset()
    folds = folds_of(engine, sped_up, timed)
    space = explore_timed(engine, begins, None, limit, None, 1, sped_up, timed, folds=folds)
    return space.stop is not None or not space.complete


def _by_some_rules(
    requirement: Requirement, part: Board, limit: int, progress: Callable[[int, int], None] | None, sped_up: bool
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
        for inputs in inputs_kept(part, kept):
            loose = loosened(part, kept, inputs)
            if len(loose.inputs) > MOST_INPUTS:
                continue
            engine = Engine(compile_board(loose))
            found = Asking(requirement, engine, None, limit, progress, sped_up, kept).ask()
            if found.verdict == "proved":
                return found
    return None

"""One question: can two boards be told apart?

Law of this module: told apart only by a scenario that the judge found to deviate; *the same* only by a proof. A way to
a difference that a proof runs into is tried on the bench like any other scenario.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from itertools import islice, product

from attrs import define, evolve, field

from boardgauge.comparing.pulses import pulses_of
from boardgauge.comparing.trial import LENGTHS, Bench, Telling
from boardgauge.language.model import Board
from boardgauge.machine.run import Value
from boardgauge.pairing.differences import Difference
from boardgauge.pairing.joint_way import JointWay
from boardgauge.pairing.lockstep import MOST_PAIRS, lockstep
from boardgauge.pairing.outcome import Lockstep
from boardgauge.pairing.pair import Pair, engine_of
from boardgauge.pairing.search import MOST_STATES, Candidate, Search, Wanted

FIRST_STATES = 300
"""So many states are tried before a proof is."""
MOST_TRIED = 12
"""So many candidates of one search are tried on the simulated boards."""
_MOST_POSITIONS = 8

Progress = Callable[[str, int], None]


@define
class Question:
    """One question, with what may differ: the rows of the specs, and of the terminals those that may do more.

    ``one_way``: whether the second may replace the first. ``most`` is how many states a search goes on from, ``pairs``
    how many pairs of states a proof keeps.
    """

    name: str
    first: Board
    other: Board
    rows: list[Difference]
    one_way: bool
    held: Mapping[str, Value]
    terminals: set[str]
    most: int = MOST_STATES
    pairs: int = MOST_PAIRS
    progress: Progress | None = None
    explored: int = 0
    bench: Bench = field(init=False)
    _pair: Pair = field(init=False)
    _met: set[tuple[object, ...]] = field(factory=set)

    def __attrs_post_init__(self) -> None:
        held = dict(self.held)
        self.bench = Bench(self.first, self.other, self.one_way, held)
        self._pair = Pair(engine_of(self.first), engine_of(self.other), held)

    def ask(self) -> tuple[Telling | None, bool, str]:
        """Give what tells them apart if anything was found, whether they were proved to be the same, and how."""
        why = "their terminals differ, which no proof sees through"
        # Where no time of the second reaches beyond the first's, a search would try a great many for nothing.
        first_proof = self.one_way and not self.terminals and not self._times_differ()
        telling = None
        if first_proof:
            telling, proved, why = self._prove()
            if proved:
                return None, True, why
        telling = telling or self._search(min(FIRST_STATES, self.most), False)
        if telling is None and self.terminals:
            telling = self._at_terminals()
        if telling is None and not self.terminals and not first_proof:
            telling, proved, why = self._prove()
            if proved:
                return None, True, why
        if telling is None and self.most > FIRST_STATES:
            telling = self._search(self.most, True)
        if telling is not None:
            return telling, False, f"a bench can tell them apart, in {_counted(telling)}"
        tried = f"{self.explored} states tried side by side, {self.bench.tried} scenarios judged"
        return None, False, f"neither was a scenario found that tells them apart ({tried}), nor a proof: {why}"

    def _prove(self) -> tuple[Telling | None, bool, str]:
        """Give what tells them apart if the proof ran into it, whether they were proved to be the same, and how."""
        number, by, telling = 0, set[str](), None
        found: Lockstep | None = None
        pair, there_and_back = self._pair, self._pair.partners(False) == self._pair.partners(True)
        if not self.one_way and there_and_back:
            found = lockstep(pair, False, self.pairs, self._told)
            number, by = found.explored, set(found.by)
        if found is None or found.verdict != "held":
            for one in (pair,) if self.one_way else (pair, Pair(pair.second, pair.first, pair.held)):
                found = lockstep(one, True, self.pairs, self._told)
                number += found.explored
                by |= set(found.by)
                if found.verdict != "held":
                    telling = None if found.way is None else self._on_the_way(found.way)
                    return telling, False, _why(found)
        what = "the second does nothing that the first may not" if self.one_way else "both do the same"
        times = f"whatever the inputs, by the times of {_listed(sorted(by))}" if by else _WHATEVER
        return None, True, f"{what}, {times} ({number} pairs of states explored)"

    def _on_the_way(self, way: JointWay) -> Telling | None:
        """Try the way that a proof ran into."""
        for scenario in islice(way.scenarios(""), MOST_TRIED):
            found = self.bench.tell(Candidate(evolve(scenario, board=self.first.id), (), len(way.happened), 0, 0))
            if found is not None:
                return found
        return None

    def _told(self, done: int, there: int) -> None:
        if self.progress is not None:
            self.progress(self.name, there)

    # -- looking -----------------------------------------------------------------------------------------------------

    def _search(self, most: int, wide: bool) -> Telling | None:
        """Look with all times nominal, then where both are early, then late."""
        for length in LENGTHS:
            for positions in self._positions(wide):
                for all_inputs in (False, True) if wide or self._reads_more() else (False,):
                    search = Search(
                        self._pair,
                        length,  # type: ignore[arg-type]  # no random among them
                        positions,
                        most,
                        of_a_kind=3 if wide and all_inputs else 1,
                        all_inputs=all_inputs,
                    )
                    found = self._tell(search)
                    self.explored += search.explored
                    if found is not None:
                        return found
            if not self._times_differ():
                break
        return None

    def _tell(self, search: Search) -> Telling | None:
        tried = 0
        for candidate in search.candidates():
            # Once a difference was let pass by the judge, others of the same kind are not worth as much.
            kind = (candidate.differ, candidate.steps, search.length)
            if kind in self._met:
                continue
            self._met.add(kind)
            found = self.bench.tell(candidate)
            self._told(0, search.explored)
            if found is not None:
                return found
            tried += 1
            if tried >= MOST_TRIED:
                return None
        return None

    def _times_differ(self) -> bool:
        pair = self._pair
        return len(pair.partners(self.one_way)) < max(len(pair.first.machine.timings), len(pair.second.machine.timings))

    def _reads_more(self) -> bool:
        return any(row.section in {"settings", "speed_ups"} for row in self.rows)

    def _positions(self, wide: bool) -> Iterator[dict[str, str]]:
        yield {}
        if not wide and not any(row.section == "settings" for row in self.rows):
            return
        named = [
            [(row.id, p.name) for p in row.positions if p.name is not None]
            for row in self.first.settings.values()
            if row.id in self.other.settings
        ]
        rows = [names for names in named if names]
        for number, chosen in enumerate(product(*rows) if rows else ()):
            if number < _MOST_POSITIONS:
                yield dict(chosen)

    def _at_terminals(self) -> Telling | None:
        """Look where what differs about the terminals may show."""
        for terminal in sorted(self.terminals):
            section, _, name = terminal.partition(".")
            search = Search(self._pair, most=FIRST_STATES, wanted=_about(section, name))
            for tried, candidate in enumerate(search.candidates(), 1):
                for scenario in (candidate, *pulses_of(candidate, name, self.first, self.other)):
                    found = self.bench.tell(scenario)
                    if found is not None:
                        self.explored += search.explored
                        return found
                if tried >= MOST_TRIED:
                    break
            self.explored += search.explored
        return None


def _about(section: str, name: str) -> Wanted:
    if section == "inputs":
        return lambda inputs, changed: name in inputs and bool(changed)
    if section in {"outputs", "lamps"}:
        return lambda inputs, changed: name in changed
    return lambda inputs, changed: bool(changed)


def _counted(telling: Telling) -> str:
    number = sum(1 for step in telling.scenario.steps)
    return f"{number} step{'' if number == 1 else 's'} of a scenario"


def _why(found: Lockstep) -> str:
    if found.why:
        return found.why
    shown = _listed(found.differ)
    return f"it ran into a way on which {shown} may differ, and no trial bore it out"


def _listed(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else ", ".join(names[:-1]) + " and " + names[-1]


_WHATEVER = "whatever the inputs and the times"

"""Compare two boards: the same, told apart by a scenario, or neither shown.

Law of this module: *same* only where the second's spec was proved to allow nothing that the first's does not (and the
other way round, unless one may merely replace the other); *different* only with a scenario on which the judge found a
deviation; everything else is not decided, and says what was tried.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from itertools import product
from typing import Literal

from attrs import define, field, frozen

from boardgauge.comparing.pulses import pulses_of
from boardgauge.comparing.terminals import may_do_more
from boardgauge.comparing.trial import LENGTHS, Bench, Telling
from boardgauge.language.model import Board
from boardgauge.machine.compile import expressions_of
from boardgauge.machine.run import Value
from boardgauge.pairing.aligning import aligned
from boardgauge.pairing.differences import Difference, differences, with_only
from boardgauge.pairing.lockstep import MOST_PAIRS, lockstep
from boardgauge.pairing.pair import Pair, engine_of
from boardgauge.pairing.search import MOST_STATES, Candidate, Search, Wanted
from boardgauge.proving.slicing import names_in

Verdict = Literal["same", "different", "undecided"]
Said = Literal["tells", "no difference", "allowed", "only watches", "nothing speaks of it", "not found"]
FIRST_STATES = 300
"""So many states are tried before a proof is."""
MOST_TRIED = 12
"""So many candidates of one search are tried on the simulated boards."""
_MOST_POSITIONS = 8

Progress = Callable[[str, int], None]


@frozen
class Row:
    """What came of one difference taken alone. ``along`` are the entries that had to come with it."""

    difference: Difference
    said: Said
    along: tuple[str, ...] = ()
    telling: Telling | None = None
    tried: int = 0


@frozen
class Comparison:
    """What came of comparing. ``how`` says in words what the verdict stands on."""

    verdict: Verdict
    how: str
    rows: tuple[Row, ...]
    telling: Telling | None = None


@define
class Comparer:
    """Compares two boards that call their shared terminals the same.

    ``one_way``: whether the second may replace the first. ``most``: states gone on from in a search;
    ``most_pairs``: pairs of states in a proof.
    """

    first: Board
    second: Board
    one_way: bool = False
    held: Mapping[str, Value] = field(factory=dict)
    most: int = MOST_STATES
    most_pairs: int = MOST_PAIRS
    progress: Progress | None = None

    def __attrs_post_init__(self) -> None:
        self.second = aligned(self.first, self.second)

    def compare(self) -> Comparison:
        """Give the verdict, with every differing entry."""
        found = differences(self.first, self.second)
        doing = [row for row in found if not row.watches and not self._held_alone(row)]
        watching = tuple(Row(row, "only watches") for row in found if row.watches)
        if not doing and not self._more(self.second):
            if not found:
                return Comparison("same", "their specs are the same but for what is said in prose", ())
            return Comparison("same", "what they do is written the same", watching)
        whole = _Asked(self, "the whole", self.second, doing)
        telling, proved, how = whole.ask()
        if proved:
            return Comparison("same", how, (*(Row(row, "no difference") for row in doing), *watching))
        rows = [self._row(row, telling if len(doing) == 1 else None) for row in doing]
        if telling is None:
            telling = self._of_a_row(whole, rows)
        if telling is not None:
            return Comparison("different", how, (*rows, *watching), telling)
        return Comparison("undecided", how, (*rows, *watching))

    def _held_alone(self, row: Difference) -> bool:
        return row.section == "inputs" and row.name in self.held and row.only is not None

    def _more(self, other: Board) -> set[str]:
        found = set(may_do_more(self.first, other))
        return found if self.one_way else found | set(may_do_more(other, self.first))

    def _of_a_row(self, whole: _Asked, rows: list[Row]) -> Telling | None:
        tellings = [row.telling for row in rows if row.telling is not None]
        for telling in sorted(tellings, key=lambda row: row.steps):
            candidate = Candidate(telling.scenario, (), telling.steps, telling.run.end, 0)
            found = whole.bench.tell(candidate)
            if found is not None:
                return found
        return None

    def _row(self, row: Difference, whole: Telling | None) -> Row:
        if whole is not None:
            return Row(row, "tells", (), whole)
        hybrid, along = with_only(self.first, self.second, row)
        if row.only == "second" and not _spoken_of(hybrid, row):
            return Row(row, "nothing speaks of it", along)
        if self.one_way and row.times and all(time.lies == "inside" for time in row.times) and self._only_times(row):
            return Row(row, "allowed", along)
        asked = _Asked(self, f"{row.section}.{row.name}", hybrid, [row])
        telling, proved, _ = asked.ask()
        said: Said = "tells" if telling is not None else "no difference" if proved else "not found"
        return Row(row, said, along, telling, asked.explored)

    @staticmethod
    def _only_times(row: Difference) -> bool:
        return row.section == "rules" and len(row.changes) == len(row.times)


@define
class _Asked:
    """One question: can the first board and another be told apart?"""

    comparer: Comparer
    name: str
    other: Board
    rows: list[Difference]
    explored: int = 0
    bench: Bench = field(init=False)
    _pair: Pair = field(init=False)
    _met: set[tuple[object, ...]] = field(factory=set)

    def __attrs_post_init__(self) -> None:
        comparer = self.comparer
        held = dict(comparer.held)
        self.bench = Bench(comparer.first, self.other, comparer.one_way, held)
        self._pair = Pair(engine_of(comparer.first), engine_of(self.other), held)

    def ask(self) -> tuple[Telling | None, bool, str]:
        """Give what tells them apart if anything was found, whether they were proved to be the same, and how."""
        terminals = self.comparer._more(self.other)
        # Where no time of the second reaches beyond the first's, a search would try a great many for nothing.
        first_proof = self.comparer.one_way and not terminals and not self._times_differ()
        if first_proof and (proved := self._prove())[0]:
            return None, True, proved[1]
        telling = self._search(min(FIRST_STATES, self.comparer.most), False)
        if telling is None and terminals:
            telling = self._at_terminals(terminals)
        if telling is None and not terminals and not first_proof and (proved := self._prove())[0]:
            return None, True, proved[1]
        if telling is None and self.comparer.most > FIRST_STATES:
            telling = self._search(self.comparer.most, True)
        if telling is not None:
            return telling, False, f"a bench can tell them apart, in {_counted(telling)}"
        tried = f"{self.explored} states tried side by side, {self.bench.tried} scenarios judged"
        return None, False, f"neither was a scenario found that tells them apart ({tried}), nor could it be proved"

    def _prove(self) -> tuple[bool, str]:
        limit, number = self.comparer.most_pairs, 0
        for pair, one_way in self._proofs():
            found = lockstep(pair, one_way, limit, self._told)
            number += found.explored
            if found.verdict != "held":
                return False, ""
        what = "the second does nothing that the first may not" if self.comparer.one_way else "both do the same"
        return True, f"{what}, whatever the inputs and the times ({number} pairs of states explored)"

    def _proofs(self) -> Iterator[tuple[Pair, bool]]:
        pair = self._pair
        if self.comparer.one_way:
            yield pair, True
        elif pair.partners(False) == pair.partners(True):
            yield pair, False
        else:
            yield pair, True
            yield Pair(pair.second, pair.first, pair.held), True

    def _told(self, done: int, there: int) -> None:
        if self.comparer.progress is not None:
            self.comparer.progress(self.name, there)

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
        return len(pair.partners(self.comparer.one_way)) < max(
            len(pair.first.machine.timings), len(pair.second.machine.timings)
        )

    def _reads_more(self) -> bool:
        return any(row.section in {"settings", "speed_ups"} for row in self.rows)

    def _positions(self, wide: bool) -> Iterator[dict[str, str]]:
        board = self.comparer.first
        yield {}
        if not wide and not any(row.section == "settings" for row in self.rows):
            return
        named = [
            [(row.id, p.name) for p in row.positions if p.name is not None]
            for row in board.settings.values()
            if row.id in self.other.settings
        ]
        rows = [names for names in named if names]
        for number, chosen in enumerate(product(*rows) if rows else ()):
            if number < _MOST_POSITIONS:
                yield dict(chosen)

    def _at_terminals(self, terminals: set[str]) -> Telling | None:
        """Look where what differs about the terminals may show."""
        for terminal in sorted(terminals):
            section, _, name = terminal.partition(".")
            search = Search(self._pair, most=FIRST_STATES, wanted=_about(section, name))
            for tried, candidate in enumerate(search.candidates(), 1):
                for scenario in (candidate, *pulses_of(candidate, name, self.comparer.first, self.other)):
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


def _spoken_of(board: Board, row: Difference) -> bool:
    """Tell whether an entry that only the second has does anything by itself, or something speaks of it."""
    if row.section in {"outputs", "lamps", "speed_ups", "not_judged"}:
        return True
    for owner, expression in expressions_of(board):
        if owner != row.name and row.name in names_in([expression]):
            return True
    return any(name == row.name for speed_up in board.speed_ups.values() for name in speed_up.what)


def _counted(telling: Telling) -> str:
    number = sum(1 for step in telling.scenario.steps)
    return f"{number} step{'' if number == 1 else 's'} of a scenario"

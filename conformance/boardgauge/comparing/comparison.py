"""Compare two boards: the same, told apart by a scenario, or neither shown.

Law of this module: *same* only where the second's spec was proved to allow nothing that the first's does not (and the
other way round, unless one may merely replace the other); *different* only with a scenario on which the judge found a
deviation; everything else is not decided, and says what was tried.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from attrs import define, field, frozen

from boardgauge.comparing.question import Progress, Question
from boardgauge.comparing.terminals import may_do_more
from boardgauge.comparing.trial import Telling
from boardgauge.language.model import Board
from boardgauge.machine.compile import expressions_of
from boardgauge.machine.run import Value
from boardgauge.pairing.aligning import aligned
from boardgauge.pairing.differences import Difference, differences, with_only
from boardgauge.pairing.lockstep import MOST_PAIRS
from boardgauge.pairing.pair import Pair, engine_of
from boardgauge.pairing.search import MOST_STATES, Candidate
from boardgauge.proving.slicing import names_in

Verdict = Literal["same", "different", "undecided"]
Said = Literal["tells", "no difference", "allowed", "only watches", "nothing speaks of it", "not found"]


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
        whole = self._question("the whole", self.second, doing)
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

    def _question(self, name: str, other: Board, rows: list[Difference]) -> Question:
        bounds = (self.most, self.most_pairs)
        terminals = self._more(other)
        return Question(name, self.first, other, rows, self.one_way, self.held, terminals, *bounds, self.progress)

    def _of_a_row(self, whole: Question, rows: list[Row]) -> Telling | None:
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
        if self.one_way and self._only_times(row) and self._follows(hybrid):
            return Row(row, "allowed", along)
        asked = self._question(f"{row.section}.{row.name}", hybrid, [row])
        telling, proved, _ = asked.ask()
        said: Said = "tells" if telling is not None else "no difference" if proved else "not found"
        return Row(row, said, along, telling, asked.explored)

    @staticmethod
    def _only_times(row: Difference) -> bool:
        return row.section == "rules" and bool(row.times) and len(row.changes) == len(row.times)

    def _follows(self, hybrid: Board) -> bool:
        """Tell whether each time of a board that differs in times alone may last what the first's may, all together."""
        pair = Pair(engine_of(self.first), engine_of(hybrid), dict(self.held))
        return len(pair.partners(True)) == len(pair.first.machine.timings)


def _spoken_of(board: Board, row: Difference) -> bool:
    """Tell whether an entry that only the second has does anything by itself, or something speaks of it."""
    if row.section in {"outputs", "lamps", "speed_ups", "not_judged"}:
        return True
    for owner, expression in expressions_of(board):
        if owner != row.name and row.name in names_in([expression]):
            return True
    return any(name == row.name for speed_up in board.speed_ups.values() for name in speed_up.what)

"""How many cases stand on either side of each clause.

Law of this module: it counts what the files say and runs nothing. A case that plays, or whose recording conforms, shows
what a clause allows; one whose recording deviates, or whose spec is refused, shows what it does not. Where any of
several verdicts will do, the case is on neither side.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from typing import Literal

from attrs import frozen

from boardgauge.cases.case import Case

Side = Literal["plays", "conforms", "deviates", "refused", "undecided", "open"]
ALLOWED: tuple[Side, ...] = ("plays", "conforms")
NOT_ALLOWED: tuple[Side, ...] = ("deviates", "refused")
_COLUMNS: tuple[Side, ...] = (*ALLOWED, *NOT_ALLOWED, "undecided", "open")


def side_of(case: Case) -> Side:
    """Tell on which side of its clauses a case stands."""
    if case.asks != "judge":
        return "plays" if case.asks == "play" else "refused"
    return case.verdicts[0] if len(case.verdicts) == 1 else "open"  # type: ignore[return-value]


@frozen
class ClauseCases:
    """The cases of one clause, by side."""

    clause: str
    counts: dict[Side, int]

    @property
    def missing(self) -> tuple[str, ...]:
        """Give the sides without a case: ``allowed``, ``not allowed``."""
        sides = (("allowed", ALLOWED), ("not allowed", NOT_ALLOWED))
        return tuple(name for name, side in sides if not any(self.counts.get(s) for s in side))


def cases_by_clause(cases: Iterable[Case], clauses: Iterable[str]) -> tuple[ClauseCases, ...]:
    """Count the cases of each of the clauses."""
    counted: dict[str, Counter[Side]] = {clause: Counter() for clause in clauses}
    for case in cases:
        for clause in case.clauses:
            counted.setdefault(clause, Counter())[side_of(case)] += 1
    return tuple(ClauseCases(clause, dict(counts)) for clause, counts in counted.items())


def report(cases: Iterable[Case], clauses: Iterable[str]) -> str:
    """Give the table of clauses, one a line, and what is missing."""
    cases = tuple(cases)
    rows = cases_by_clause(cases, clauses)
    width = max((len(row.clause) for row in rows), default=6)
    lines = [f"{'clause':{width}}" + "".join(f"{column:>11}" for column in _COLUMNS)]
    for row in rows:
        figures = "".join(f"{row.counts.get(column) or '.':>11}" for column in _COLUMNS)
        lines.append(f"{row.clause:{width}}{figures}" + "".join(f"  no case: {side}" for side in row.missing))
    lacking = sum(bool(row.missing) for row in rows)
    lines.append(f"{len(cases)} cases, {len(rows)} clauses, {lacking} with a side missing")
    return "\n".join(lines)

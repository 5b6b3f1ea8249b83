"""What the oracle makes of the suite, as the tables of docs/suite.md have it.

    python tests/oracle/tables.py          print the tables
    python tests/oracle/tables.py --write  put them into docs/suite.md, with the day

Law of this file: every figure is counted here and now from the cases; none is carried over. It takes a minute.
"""

from __future__ import annotations

import datetime
import re
import sys
from collections import defaultdict
from collections.abc import Iterable, Sequence
from pathlib import Path

if __name__ == "__main__":  # started as a command, it finds its neighbours as the tests do
    sys.path.insert(0, str(Path(__file__).parents[1]))

from boardgauge.cases import all_cases, run_case
from boardgauge.cases.runner import Result
from oracle.subject import Oracle

PAGE = Path(__file__).parents[2] / "docs" / "suite.md"
MARKS = {
    "passed": "passed",
    "passed in part": "passed in part: what is said is right, no rule or window is named",
    "skipped by the reader": "skipped: the reader of specs turns the spec down, and the reader is shared",
    "skipped": "skipped: beyond what the oracle does",
    "failed": "failed",
}


def mark_of(result: Result) -> str:
    """Give how a case went, what was skipped parted by whose matter it is."""
    if result.mark == "skipped" and any("reader" in reason or "reading" in reason for reason in result.differences):
        return "skipped by the reader"
    return result.mark


def summary(results: Sequence[Result]) -> list[str]:
    """Give the table of how many cases went how, line by line."""
    clauses = {clause for result in results for clause in result.case.clauses}
    decided = {clause for result in results if result.mark != "skipped" for clause in result.case.clauses}
    rows = [(words, str(sum(mark_of(result) == mark for result in results))) for mark, words in MARKS.items()]
    rows.append(("clauses with a case that it decides", f"{len(decided)} of {len(clauses)}"))
    return [f"| of {len(results)} cases | |", "|---|---|", *(f"| {words} | {number} |" for words, number in rows)]


def by_group(results: Sequence[Result]) -> list[str]:
    """Give the table of the groups of clauses; a case counts for each group that it cites."""
    groups: defaultdict[str, list[Result]] = defaultdict(list)
    clauses: defaultdict[str, list[Result]] = defaultdict(list)
    for result in results:
        for clause in result.case.clauses:
            clauses[clause].append(result)
        for group in {clause.split(".")[0] for clause in result.case.clauses}:
            groups[group].append(result)
    found = ["| clauses | number | cases | passed | in part | skipped | fewest |", "|---|---|---|---|---|---|---|"]
    for group, cases in sorted(groups.items()):
        own = {clause: of for clause, of in clauses.items() if clause.split(".")[0] == group}
        fewest = min(own, key=lambda clause: (_decided(own[clause]), len(own[clause]), clause))
        counts = [sum(case.mark == mark for case in cases) for mark in ("passed", "passed in part", "skipped")]
        least = f"`{fewest.partition('.')[2]}` {_decided(own[fewest])} of {len(own[fewest])}"
        found.append(f"| `{group}` | {len(own)} | {len(cases)} | {' | '.join(map(str, counts))} | {least} |")
    return found


def _decided(results: Iterable[Result]) -> int:
    return sum(result.mark != "skipped" for result in results)


def put_into(text: str, results: Sequence[Result], day: datetime.date) -> str:
    """Give the text of the page with its tables, and the day they are of, made anew."""
    for head, table in (("| of ", summary(results)), ("| clauses | number ", by_group(results))):
        lines = "".join(f"{line}\n" for line in table)
        text, put = re.subn(rf"(?m)^{re.escape(head)}.*\n(?:\|.*\n)+", lambda _, lines=lines: lines, text)
        assert put == 1, f"{PAGE} has {put} tables that begin with {head!r}"
    text, put = re.subn(r"(?<=decides. On )\d+ \w+ \d+(?=:)", f"{day.day} {day:%B %Y}", text)
    assert put == 1, f"{PAGE} does not say of which day its tables are"
    return text


def main(arguments: Sequence[str]) -> None:
    """Run every case by the oracle and print or write what came of it."""
    results = [run_case(case, Oracle(), excuse=False) for case in all_cases()]
    if "--write" in arguments:
        PAGE.write_text(put_into(PAGE.read_text(encoding="utf-8"), results, datetime.date.today()), encoding="utf-8")
    print("\n".join([*summary(results), "", *by_group(results)]))


if __name__ == "__main__":
    main(sys.argv[1:])

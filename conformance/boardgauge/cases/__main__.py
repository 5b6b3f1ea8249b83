"""Run the suite: a line a case, and a closing line.

Law of this module: it prints and exits, nothing else. Exit status 0: all is well; 1: a case failed; 2: it could not
begin. A case that a command skips is counted and is no failure, and no pass either.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from collections.abc import Sequence

from boardgauge.cases.case import BadCase, all_cases
from boardgauge.cases.external import External
from boardgauge.cases.ours import Ours
from boardgauge.cases.runner import run_case
from boardgauge.cases.sides import report
from boardgauge.cases.subject import Subject
from boardgauge.language import slugs


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the cases named and give the exit status."""
    parser = argparse.ArgumentParser(
        prog="python -m boardgauge.cases", description="Run the conformance suite of the language of board specs."
    )
    parser.add_argument("names", nargs="*", metavar="NAME", help="cases or folders of cases to run (all)")
    parser.add_argument(
        "--subject", nargs=argparse.REMAINDER, metavar="COMMAND", help="run this command for each case; stands last"
    )
    parser.add_argument("--report", action="store_true", help="run nothing: say how many cases each clause has")
    parser.add_argument("-q", "--quiet", action="store_true", help="print only the cases that did not pass")
    given = parser.parse_args(arguments)
    if given.subject is not None and not given.subject:
        parser.error("--subject needs a command")
    try:
        cases = [case for case in all_cases() if not given.names or any(_under(case.name, n) for n in given.names)]
    except BadCase as error:
        print(error, file=sys.stderr)
        return 2
    if not cases:
        print(f"no case is called {' or '.join(given.names)}", file=sys.stderr)
        return 2
    if given.report:
        print(report(cases, slugs()))
        return 0
    subject: Subject = External(given.subject) if given.subject else Ours()
    counts: Counter[str] = Counter()
    for case in cases:
        result = run_case(case, subject, excuse=not given.subject)
        counts[result.mark] += 1
        if not given.quiet or result.mark != "passed":
            print(result, flush=True)
    others = [f"{counts[mark]} {mark}" for mark in ("passed in part", "skipped", "known failure") if counts[mark]]
    print(", ".join([f"{counts['passed']} passed", f"{counts['failed']} failed", *others]))
    return 1 if counts["failed"] else 0


def _under(name: str, asked: str) -> bool:
    return name == asked or name.startswith(asked.rstrip("/") + "/")


if __name__ == "__main__":
    sys.exit(main())

"""A spec that does not come to rest is the spec's fault, and no board is accused of it.

Law: where all that a board might do leaves the spec without rest, the verdict is undecided, and says why.
"""

from __future__ import annotations

from boardgauge.cases import all_cases
from boardgauge.cases.case import read_case_text
from boardgauge.cases.ours import board_of, trace_of
from boardgauge.judging.judge import Judge
from boardgauge.judging.judgement import Judgement

(SPEC,) = (case.board for case in all_cases() if case.name == "instant/changes-and-changes-back")


def judged(rows: str) -> Judgement:
    head = f"description = \"x\"\nclauses = []\nboard = '''\n{SPEC}'''\nverdict = []\n"
    text = f"{head}[recording]\nend = 10\nrows = [{rows}]"
    case = read_case_text(text, "does not settle")
    board = board_of(case)
    return Judge.of(board).judge(trace_of(case, board))


def test_where_the_spec_does_not_come_to_rest_nothing_is_decided() -> None:
    """The mode ends by an event while its beginning holds on: the output would change and change back in no time."""
    found = judged('[1, "a", "on"], [1, "q", "on"], [2, "b", "on"]')
    assert found.verdict == "undecided"
    assert "the spec does not come to rest: q changes and changes back in no time" in found.doubts[0].reason


def test_what_deviates_before_that_deviates() -> None:
    """An answer that is missing a second earlier is the board's own fault."""
    found = judged('[1, "a", "on"], [2, "b", "on"]')
    assert found.verdict == "deviates"
    assert found.seconds(found.deviations[0].time) == 2.0

"""The runner of cases holds any subject to the cases, and to the contract.

Law: an answer is compared, never trusted; a subject that breaks fails the case and the run goes on.
"""

from __future__ import annotations

import sys
from pathlib import Path

import pytest
from attrs import evolve

from boardgauge.cases import (
    BadCase,
    Case,
    External,
    Judged,
    Ours,
    Played,
    Refused,
    Row,
    Skipped,
    all_cases,
    read_case_text,
    run_case,
)
from boardgauge.cases.__main__ import main
from boardgauge.cases.subject import Outcome
from boardgauge.language import slugs

PLAY = """
description = "A lamp of no account"
clauses = ["output.on"]
board = '''
language = 1
[board]
id = "case"
title = "small (invented)"
[inputs.a]
kind = "call"
[outputs.q]
on = "a"
'''
end = 5
inputs = [[1, "a", "on"]]
outputs = [[1, "q", "on"]]
"""
JUDGE = (
    PLAY[: PLAY.index("end = 5")]
    + """
verdict = "deviates"
[first]
time = 1
signal = "q"
rule = ["q", "a"]
earliest = 1
[recording]
end = 5
rows = [[1, "a", "on"]]
"""
)


class Says:
    """A subject that always says the same."""

    def __init__(self, outcome: Outcome) -> None:
        self.outcome = outcome

    def play(self, case: Case) -> Outcome:
        """Say it."""
        return self.outcome

    def judge(self, case: Case) -> Outcome:
        """Say it."""
        return self.outcome


def case(text: str) -> Case:
    """Read a case."""
    return read_case_text(text, "case")


def differences(text: str, outcome: Outcome) -> list[str]:
    """Give what the runner finds wrong with an answer."""
    return list(run_case(case(text), Says(outcome)).differences)


def test_rows_are_compared_one_by_one() -> None:
    """A missing change and one too many are both told, with their time."""
    assert differences(PLAY, Played((Row(1_000_000, "q", True),))) == []
    found = differences(PLAY, Played((Row(1_000_001, "q", True),)))
    assert found == ["missing: q on at 1.000000 s", "not expected: q on at 1.000001 s"]


def test_every_part_of_a_verdict_is_compared() -> None:
    """Verdict, time, signal, rule and window each tell where they differ."""
    good = Judged("deviates", 1_000_001, "q", "a", None, 1_000_000)
    assert differences(JUDGE, good) == []
    assert differences(JUDGE, Judged("conforms")) == ["verdict conforms, expected deviates"]
    assert differences(JUDGE, evolve(good, time=1_000_002)) == ["time 1.000002 s, expected 1.000000 s"]
    assert differences(JUDGE, evolve(good, signal="p")) == ["signal p, expected q"]
    assert differences(JUDGE, evolve(good, rule="b")) == ["rule b, expected q or a"]
    assert differences(JUDGE, evolve(good, earliest=None)) == ["earliest not given, expected 1.000000 s"]


def test_a_refusal_is_no_answer_to_another_question() -> None:
    """A spec that is turned down has failed the case, unless the case is about that."""
    assert differences(PLAY, Refused("q: no")) == ["the spec was refused: q: no"]
    refused = PLAY[: PLAY.index("outputs = [[")] + 'refused = ["q"]\n'
    assert differences(refused, Refused("q: no")) == []
    assert differences(refused, Refused("p: no")) == ["the refusal does not say 'q': p: no"]
    assert differences(refused, Played(())) == ["the spec was not refused"]


def test_a_known_failure_that_passes_is_a_failure() -> None:
    """An excuse goes away with its reason; without the excuse the case counts like any other."""
    excused = case('known_failure = "a reason that is long enough"\n' + PLAY)
    assert run_case(excused, Ours()).mark == "failed"
    assert run_case(excused, Says(Played(()))).mark == "known failure"
    assert run_case(excused, Says(Played(())), excuse=False).mark == "failed"
    assert run_case(excused, Says(Skipped("not done"))).mark == "skipped"


def test_what_another_leaves_out_is_a_pass_in_part() -> None:
    """Another implementation may not know the rule or the window; ours has to, and a wrong one is wrong for all."""
    vague = Judged("deviates", 1_000_000, "q")
    assert run_case(case(JUDGE), Says(vague), excuse=False).mark == "passed in part"
    assert run_case(case(JUDGE), Says(vague)).mark == "failed"
    assert run_case(case(JUDGE), Says(evolve(vague, rule="b")), excuse=False).mark == "failed"
    assert run_case(case(JUDGE), Says(Judged("conforms")), excuse=False).mark == "failed"


def test_a_subject_that_falls_over_fails_the_case() -> None:
    """An exception of a subject is a difference like any other."""

    class Falls(Says):
        def play(self, case: Case) -> Outcome:
            raise ValueError("no")

    assert run_case(case(PLAY), Falls(Skipped(""))).differences == ("it fell over: ValueError: no",)


def command(tmp_path: Path, body: str) -> External:
    """Give a subject that is a small program."""
    script = tmp_path / "subject.py"
    script.write_text("import json, sys\nquestion = json.load(sys.stdin)\n" + body)
    return External([sys.executable, str(script)])


def test_a_command_is_given_the_case_and_answers(tmp_path: Path) -> None:
    """What stands in the file arrives, with its name and what it asks; the answer is compared."""
    body = "assert question['asks'] == 'play' and question['case'] == 'case' and question['end'] == 5\n"
    body += "json.dump({'outputs': [[question['inputs'][0][0], 'q', 'on']]}, sys.stdout)"
    assert run_case(case(PLAY), command(tmp_path, body)).mark == "passed"
    first = "{'time': 1, 'signal': 'q', 'rule': 'q', 'earliest': 1.0}"
    body = f"json.dump({{'verdict': 'deviates', 'first': {first}}}, sys.stdout)"
    assert run_case(case(JUDGE), command(tmp_path, body)).mark == "passed"
    assert run_case(case(PLAY), command(tmp_path, 'print(\'{"skipped": "no"}\')')).mark == "skipped"


@pytest.mark.parametrize(
    ("body", "reason"),
    [
        ("sys.exit('broken')", "exit status 1: broken"),
        ("print('hello')", "not as the contract says"),
        ("print('{}')", "not as the contract says"),
        ('print(\'{"outputs": [[1, "q", "maybe"]]}\')', "not as the contract says"),
    ],
)
def test_a_command_that_breaks_the_contract_fails_the_case(tmp_path: Path, body: str, reason: str) -> None:
    """A bad exit status and nonsense on stdout fail the case and say why."""
    result = run_case(case(PLAY), command(tmp_path, body))
    assert result.mark == "failed"
    assert reason in result.differences[0]


def test_a_command_that_is_not_there_fails_the_case(tmp_path: Path) -> None:
    """A command that cannot be run is told in words."""
    result = run_case(case(PLAY), External([str(tmp_path / "nothing")]))
    assert "cannot be run" in result.differences[0]


@pytest.mark.parametrize(
    ("old", "new", "what"),
    [
        ("end = 5", "ends = 5", "no such key"),
        ("end = 5", "", "end: it is missing"),
        ("[1, \"a\", \"on\"]", "[1, \"a\"]", "no row"),
        ("[1, \"a\", \"on\"]", "[1, \"a\", \"up\"]", "no state"),
        ("[1, \"a\", \"on\"]", "[1.0000001, \"a\", \"on\"]", "finer than a microsecond"),
        ("outputs = ", "inputs_ = ", "no such key"),
        ("description = ", "description = [", "it is missing"),
    ],
)  # fmt: skip
def test_a_bad_case_file_is_told_in_words(old: str, new: str, what: str) -> None:
    """What is wrong with a case file is said with the file and the key."""
    text = (
        PLAY.replace(old, new, 1)
        if old != "description = "
        else PLAY.replace('description = "A lamp of no account"\n', "")
    )
    with pytest.raises(BadCase, match=what):
        read_case_text(text, "case", "case.toml")


def test_the_command_line_prints_a_line_a_case(capsys: pytest.CaptureFixture[str]) -> None:
    """A line a case, a closing line, and an exit status."""
    assert main(["toggle"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[-1] == f"{len(lines) - 1} passed, 0 failed"
    assert main(["nothing-of-that-name"]) == 2
    capsys.readouterr()
    assert main(["-q", "toggle"]) == 0
    assert capsys.readouterr().out == lines[-1] + "\n"


def test_the_report_counts_and_runs_nothing(capsys: pytest.CaptureFixture[str]) -> None:
    """A line a clause with its cases by side, and how many clauses lack one."""
    assert main(["--report"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[-1] == f"{len(all_cases())} cases, {len(slugs())} clauses, 0 with a side missing"
    assert [line.split()[0] for line in lines[1:-1]] == list(slugs())
    assert main(["--report", "toggle"]) == 0
    assert "no case: allowed" in capsys.readouterr().out

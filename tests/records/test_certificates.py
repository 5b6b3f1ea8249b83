"""Certificates and reports: one page, nothing left away without a word, nobody qualified without a plan."""

from __future__ import annotations

import json
import re
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from attrs import evolve
from hypothesis import given, settings
from hypothesis import strategies as st
from lxml import etree

from boardgauge.judging.judgement import Deviation, Judgement, RuleCoverage, TimingCoverage
from boardgauge.plans.plan import NO_TIME, STOPPED
from boardgauge.records.entry import Goal, LeftOut, PlanCoverage
from boardgauge.reports.as_html import to_html_report
from boardgauge.reports.as_json import report_schema, to_data
from boardgauge.reports.certificate import TooLong, certificate, fitted, to_certificate
from boardgauge.reports.junit import to_junit
from boardgauge.reports.report import BoardReport, JudgedRun, RecordingFile, statement
from boardgauge.reports.room import Room, cut
from boardgauge.sheets.as_text import to_text
from boardgauge.sheets.as_typst import to_pages
from boardgauge.sheets.blocks import Sheet, Table
from many_recordings import BYPASS, GOOD, OTHER, SLOW_CLOCK
from records.kept_boards import judged, made_up, tarnbeck

MADE = datetime(2026, 3, 2, 9, 30, tzinfo=UTC)
HERE = Path(__file__).parent
PLAN = PlanCoverage("plan P", "c" * 64, (Goal("move", "a"), Goal("limit", "b")))


def report_of(*runs: Judgement, plan: PlanCoverage | None = None, **more: Any) -> BoardReport:
    """Give a report of these judgements."""
    judged_runs = tuple(
        JudgedRun(one, (RecordingFile(f"{number}.vcd", f"{number:064x}"),), None, MADE, plan)
        for number, one in enumerate(runs, 1)
    )
    return BoardReport(tarnbeck(), judged_runs, "0.1.0", "boardgauge certificate ...", "1042", made=MADE, **more)


def words_of(report: BoardReport) -> str:
    """Give all that the certificate says, as one line of text."""
    made = fitted(report)
    text = to_text(Sheet("c", made.title, made.cover), 2000)
    return " ".join(f"{made.title} {text} {made.footer}".split())


# -- what it says --------------------------------------------------------------------------------------------------


def test_a_deviating_board_has_its_deviations_told() -> None:
    """Verdict, each deviation with its clause, digests, the command, and what was not tested stand on the page."""
    text = words_of(report_of(judged(SLOW_CLOCK)))
    for words in (
        "tarnbeck 1042 deviates",
        "32.500 s",
        "restart_delay, § 2.4",
        tarnbeck().digest,
        "boardgauge certificate ...",
        "8 of 11 rules and timed conditions were not exercised, so nothing is proved of them: lp_lockout",
        "not a certificate that a unit is safe to run",
        "Local codes",
    ):
        assert words in text


def test_runs_count_together() -> None:
    """What any run exercised is exercised, times of all runs make one, one deviation is enough."""
    report = report_of(judged(GOOD), judged(OTHER))
    both = {rule.rule for run in report.runs for rule in run.judgement.rules if rule.exercised}
    assert {rule.rule for rule in report.rules() if rule.exercised} == both
    (delay,) = [one for one in report.timings() if one.timing == "power_up_delay"]
    assert delay.ended == 4
    assert delay.room == pytest.approx(min((delay.least or 0) - 28.5, 31.5 - (delay.greatest or 0)))
    (cold,) = [one for one in report.timings() if one.timing == "cold_run"]
    assert cold.varies
    assert report.verdict == "conforms"
    assert report_of(judged(GOOD), judged(SLOW_CLOCK)).verdict == "deviates"
    assert report_of(judged(GOOD), made_up("undecided")).verdict == "undecided"
    assert report_of(made_up("undecided"), judged(SLOW_CLOCK)).verdict == "deviates"


@pytest.mark.parametrize(
    ("measured", "told"),
    [
        ((42.9, 43.0), "0.000 s (0%)"),
        ((42.8, 43.0), "not known: bounds reach past a limit"),
        ((40.0, 60.0), "not known: bounds reach past a limit"),
        ((47.1, 60.0), "not known: bounds reach past a limit"),
        ((47.2, 47.3), "-0.200 s (-10%)"),
    ],
)
def test_no_room_is_told_where_the_bounds_reach_past_a_limit(measured: tuple[float, float], told: str) -> None:
    """Bounds that hold a limit show neither room nor want of it; a time wholly outside has a figure below zero."""
    assert told in words_of(report_of(made_up("conforms", [measured], [])))


@pytest.mark.parametrize(
    ("verdict", "plan", "qualified"),
    [
        ("conforms", PLAN, True),
        ("conforms", None, False),
        ("conforms", evolve(PLAN, missed=(Goal("fault", "x"),)), False),
        ("conforms", evolve(PLAN, reached=()), False),
        ("deviates", PLAN, False),
        ("undecided", PLAN, False),
    ],
)
def test_only_a_whole_plan_qualifies(verdict: Any, plan: PlanCoverage | None, qualified: bool) -> None:
    """No output has the word where the board does not conform, or where no plan reached all its goals."""
    bad = ["restart_delay"] if verdict == "deviates" else []
    report = report_of(made_up(verdict, [(45.0, 45.1)], bad), plan=plan)
    assert report.qualified is qualified
    texts = [words_of(report), to_junit(report), to_html_report(report, [None]), statement(report)]
    assert [("qualified" in text.lower()) for text in texts] == [qualified, False, qualified, qualified]
    assert to_data(report)["qualified"] is qualified


def test_what_was_not_exercised_is_not_proved() -> None:
    """A board that conforms without having exercised everything is told to have proved nothing of the rest."""
    text = statement(report_of(judged(GOOD)))
    assert "conforms in what was exercised: 3 of 11" in text
    assert "to conform without having exercised a rule proves nothing about it" in text
    assert "No plan was run" in text
    missed = statement(report_of(judged(GOOD), plan=evolve(PLAN, missed=(Goal("fault", "x"),))))
    assert "The plan missed 1 of its goals" in missed


def test_what_a_plan_leaves_out_is_told() -> None:
    """A qualified board's certificate still says what the plan does not try, and why."""
    left = (LeftOut("fault", "slow lamp", "looks the same"),)
    report = report_of(made_up(times=[(45.0, 45.1)]), plan=evolve(PLAN, left_out=left))
    assert report.qualified
    assert "1 goal left out by plan P: slow lamp (looks the same)" in words_of(report)
    more = tuple(LeftOut("fault", name, reason) for reason in ("too quick", "no time") for name in ("a", "b"))
    report = report_of(made_up(times=[(45.0, 45.1)]), plan=evolve(PLAN, left_out=more))
    assert "4 goals left out by plan P: a, b (too quick); a, b (no time)" in words_of(report)


def test_a_plan_that_leaves_rules_out_qualifies_nobody() -> None:
    """Every goal reached, but a rule not exercised: no output has the word, and the statement says why."""
    whole = made_up(times=[(45.0, 45.1)])
    rest = evolve(whole.rules[0], rule="rest", exercised=False)
    report = report_of(evolve(whole, rules=(*whole.rules, rest)), plan=PLAN)
    assert report.not_exercised() == ("rest",)
    assert not report.qualified
    for text in (words_of(report), to_junit(report), to_html_report(report, [None])):
        assert "qualified" not in text.lower()
    assert "Every goal of the plan was reached, but it leaves out rules" in statement(report)
    other = evolve(whole, rules=(*whole.rules, evolve(rest, exercised=True)))
    assert report_of(evolve(whole, rules=(*whole.rules, rest)), other, plan=PLAN).qualified


def test_a_plan_that_was_not_planned_to_its_end_qualifies_nobody() -> None:
    """A limit left out for want of time may be broken by this board; a fault left out so is told, and no more."""
    for kind, reason, qualified in (
        ("limit", STOPPED, False), ("move", NO_TIME, False), ("limit", "proved", True), ("fault", STOPPED, True)
    ):  # fmt: skip
        left = (LeftOut(kind, "rest: no shorter than allowed", reason),)
        report = report_of(made_up(times=[(45.0, 45.1)]), plan=evolve(PLAN, left_out=left))
        assert report.qualified is qualified, (kind, reason)
        assert ("1 of its goals was not tried when the plan was made" in statement(report)) is not qualified


# -- one page ------------------------------------------------------------------------------------------------------


def crowded(runs: int, deviations: int, timings: int, letters: int) -> BoardReport:
    """Give a report of a board with so much of everything, each called by so many letters."""

    def name(kind: str, number: int) -> str:
        return f"{kind}_{number}_" + "abcdefghi " * (letters // 10)

    rules = tuple(
        RuleCoverage(
            name("rule", n),
            "delay",
            "9.9",
            n % 3 > 0,
            (TimingCoverage(name("timing", n), name("rule", n), "9.9", 10**6, 2 * 10**6, n % 2, 1500000, 1500000),),
        )
        for n in range(timings)
    )
    found = tuple(
        Deviation("late", 10**6 * n, "cc", name("cc", n), name("rule", n), "9.9", None, None, name("saw", n), "on")
        for n in range(deviations)
    )
    verdict: Any = "deviates" if deviations else "conforms"
    one = Judgement("x", "tarnbeck", verdict, found, (), rules, (), 0, 60_000_000, True)
    plan = PlanCoverage(name("plan", 0), "c" * 64, (), tuple(Goal("move", name("goal", n)) for n in range(timings)))
    report = report_of(*[one] * runs, plan=plan, notes=tuple(name("note", n) for n in range(runs)))
    return evolve(report, command=name("command", 0) * 5, operator="kim " * 20)


@settings(max_examples=6)
@given(st.integers(1, 40), st.integers(0, 60), st.integers(1, 80), st.integers(0, 300))
def test_a_certificate_is_one_page(runs: int, deviations: int, timings: int, letters: int) -> None:
    """However much there is, it is one page, and what is not written out is counted."""
    report = crowded(runs, deviations, timings, letters)
    made = fitted(report)
    assert len(to_pages(made, "letter", 12)) == 1
    text = " ".join(to_text(Sheet("c", made.title, made.cover), 2000).split())
    for kind, total in (("recording", runs), ("deviation", deviations * runs)):
        shown = len(next((t.rows for t in made.cover if getattr(t, "id", "") == f"{kind}s"), ()))
        assert shown == total or re.search(rf"And {total - shown} more {kind}", text)
    assert "rules and timed conditions were not exercised" in text
    assert "goals reached" in text


def test_recordings_that_are_alike_are_counted_one_by_one() -> None:
    """Two recordings that do not differ in anything are two: each has its number, and a row or is counted."""
    one = report_of(judged(SLOW_CLOCK)).runs[0]
    report = evolve(report_of(judged(SLOW_CLOCK)), runs=(one, evolve(one), evolve(one)))
    made = certificate(report, Room(40, 12, 2, 80, 900))
    (recordings,) = [block for block in made.cover if isinstance(block, Table) and block.id == "recordings"]
    assert [row[0] for row in recordings.rows] == ["1: 1.vcd", "2: 1.vcd"]
    assert recordings.notes == ("And 1 more recording: 1 deviates; they stand in the JSON report.",)
    (found,) = [block for block in made.cover if isinstance(block, Table) and block.id == "deviations"]
    assert [row[0].split(" in ")[1] for row in found.rows] == ["1", "1", "1", "2", "2", "2", "3", "3", "3"]


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_both_papers_hold_it(paper: Any) -> None:
    """The fullest of the tests is one page on either paper, as PDF."""
    report = crowded(40, 60, 80, 300)
    assert len(to_pages(fitted(report, paper), paper, 12)) == 1
    assert to_certificate(report, paper).startswith(b"%PDF")


def test_what_no_page_holds_is_refused() -> None:
    """A board with so many lamps and plans that their bare counts fill a page is told, not cut."""
    plans = [PlanCoverage(f"plan {n}", f"{n:064}", (Goal("move", "a"),), (Goal("limit", "b"),)) for n in range(120)]
    report = report_of(made_up(times=[(45.0, 45.1)]))
    runs = tuple(evolve(report.runs[0], plan=plan) for plan in plans)
    with pytest.raises(TooLong):
        fitted(evolve(report, runs=runs))


# -- for machines --------------------------------------------------------------------------------------------------


def test_json_keeps_to_its_schema() -> None:
    """Reports of every kind fit the schema that is shipped, which is a schema and allows nothing unnamed."""
    schema = report_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    validator = jsonschema.Draft202012Validator(schema)
    left = (LeftOut("fault", "x", "y"),)
    for report in (
        report_of(judged(GOOD), judged(SLOW_CLOCK)),
        report_of(made_up("undecided"), plan=evolve(PLAN, left_out=left), lot="A", operator="kim"),
        crowded(2, 3, 4, 10),
        evolve(report_of(judged(BYPASS)), serial=None, made=None),
    ):
        data = json.loads(json.dumps(to_data(report)))
        assert list(validator.iter_errors(data)) == []
        assert list(validator.iter_errors({**data, "unnamed": 1}))
        del data["verdict"]
        assert list(validator.iter_errors(data))


def test_junit_is_valid_and_counts_right() -> None:
    """The XML fits a part of the common schema; a deviation fails its rule, what was not exercised is skipped."""
    schema = etree.XMLSchema(etree.parse(str(HERE / "junit-subset.xsd")))
    report = report_of(judged(SLOW_CLOCK), judged(GOOD))
    root = etree.fromstring(to_junit(report).encode())
    schema.assertValid(root)
    first, second = root
    failed = {case.get("name") for case in first.iter("testcase") if case.find("failure") is not None}
    assert failed == {"verdict", "power_up_delay", "restart_delay"}
    assert [failure.get("type") for failure in first.iter("failure")] == ["deviates", "late", "late", "late"]
    skipped = {case.get("name") for case in second.iter("testcase") if case.find("skipped") is not None}
    missing = {rule.rule for rule in judged(GOOD).rules if not rule.exercised}
    assert missing <= skipped
    assert second.get("failures") == "0"
    for suite in root:
        cases = list(suite.iter("testcase"))
        assert int(suite.get("tests")) == len(cases)
        assert int(suite.get("skipped")) == sum(case.find("skipped") is not None for case in cases)
        assert len({(case.get("classname"), case.get("name")) for case in cases}) == len(cases)
    assert int(root.get("failures")) == 3


def test_an_undecided_board_does_not_pass_a_build() -> None:
    """Undecided fails the case of the verdict, with the reasons."""
    root = etree.fromstring(to_junit(report_of(made_up("undecided"))).encode())
    (failure,) = root.iter("failure")
    assert (failure.get("type"), root.get("failures")) == ("undecided", "1")


@given(st.text(max_size=40))
def test_any_name_can_stand_in_every_report(name: str) -> None:
    """Names with signs that mean something in XML or HTML, or that neither can hold, break nothing."""
    report = report_of(made_up("deviates", deviations=[name or "x"]))
    run = evolve(report.runs[0], files=(RecordingFile(name, "0" * 64),))
    report = evolve(report, runs=(run,), operator=name)
    etree.XMLSchema(etree.parse(str(HERE / "junit-subset.xsd"))).assertValid(
        etree.fromstring(to_junit(report).encode())
    )
    page = to_html_report(report, [None])
    assert page.count("<script") == 2
    assert page.count("</html>") == 1


def test_nothing_is_cut_that_is_shorter_than_what_would_tell_of_it() -> None:
    """Two letters left out are never told of in sixteen."""
    assert cut("x" * 60, 60) == "x" * 60
    assert cut("x" * 62, 60) == "x" * 62
    assert cut("x" * 160, 60) == "x" * 60 + "… (100 letters more)"

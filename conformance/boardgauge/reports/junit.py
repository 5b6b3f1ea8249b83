"""A report as JUnit XML, which build servers read.

Law of this module: a test case is a rule (or timed condition), a requirement, a line of a lamp's table, or the verdict
itself. A deviation fails its case. What was not exercised is skipped, never passed; an undecided verdict fails the
verdict's case, since a build must not go on as if it had conformed. There is no standard; the elements are among those
of junit-10.xsd, the schema of a common build server's xUnit plugin (read in a public copy of it).
"""

from __future__ import annotations

import re
from xml.etree import ElementTree as ET

from boardgauge.drawings.words import pattern
from boardgauge.judging.judgement import Deviation
from boardgauge.reports.report import BoardReport, JudgedRun, told_of

NOT_EXERCISED = "not exercised, so nothing is proved of it"
_NOT_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def to_junit(report: BoardReport) -> str:
    """Give the report as XML, a suite a run."""
    suites = [_suite(report, run) for run in report.runs]
    root = ET.Element("testsuites", name=_plain(f"boardgauge {report.name}"))
    for count in ("tests", "failures", "errors"):
        root.set(count, str(sum(int(suite.get(count, "0")) for suite in suites)))
    root.set("time", f"{sum(run.seconds for run in report.runs):.3f}")
    root.extend(suites)
    ET.indent(root)
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + ET.tostring(root, encoding="unicode") + "\n"


def _suite(report: BoardReport, run: JudgedRun) -> ET.Element:
    judgement = run.judgement
    suite = ET.Element("testsuite", name=_plain(run.name), time=f"{run.seconds:.3f}")
    if run.measured is not None:
        suite.set("timestamp", run.measured.strftime("%Y-%m-%dT%H:%M:%S"))
    properties = ET.SubElement(suite, "properties")
    facts = {
        "board": report.board.id,
        "serial": report.serial,
        "rig": report.rig,
        "rig_kind": report.rig_kind,
        "simulated": told_of(run.simulated) or None,
        "verdict": judgement.verdict,
        "start": "power-up" if judgement.known_start else "unknown",
        "spec_digest": judgement.spec_digest,
        "sha256": " ".join(file.sha256 for file in run.files),
        "boardgauge": report.version,
        "command": report.command,
    }
    for name, value in facts.items():
        if value is not None:
            ET.SubElement(properties, "property", name=name, value=_plain(value))
    _verdict(suite, report, run)
    left = list(judgement.deviations)
    for rule in judgement.rules:
        of_rule = [d for d in left if d.rule == rule.rule]
        left = [d for d in left if d.rule != rule.rule]
        case = _case(suite, run, "rules", rule.rule, of_rule)
        if not of_rule and not rule.exercised:
            ET.SubElement(case, "skipped", message=NOT_EXERCISED)
    for name in report.board.requirements:
        of_rule = [d for d in left if d.rule == name]
        left = [d for d in left if d.rule != name]
        _case(suite, run, "requirements", name, of_rule)
    for lamp in judgement.lamps:
        of_lamp = [d for d in left if d.signal == lamp.lamp]
        left = [d for d in left if d.signal != lamp.lamp]
        if of_lamp:
            _case(suite, run, "lamps", lamp.lamp, of_lamp)
        table = report.board.lamps[lamp.lamp]
        for number, (line, shown) in enumerate(zip(table.lines, lamp.lines, strict=True), 1):
            case = _case(suite, run, "lamps", f"{lamp.lamp} line {number}: {pattern(line.shows)}", [])
            if not shown:
                ET.SubElement(case, "skipped", message="not shown long enough to be read")
    for name in dict.fromkeys(d.rule for d in left):
        _case(suite, run, "other", name, [d for d in left if d.rule == name])
    suite.set("tests", str(len(suite.findall("testcase"))))
    suite.set("failures", str(len([case for case in suite.findall("testcase") if case.find("failure") is not None])))
    suite.set("errors", "0")
    suite.set("skipped", str(len(suite.findall("testcase/skipped"))))
    return suite


def _verdict(suite: ET.Element, report: BoardReport, run: JudgedRun) -> None:
    judgement = run.judgement
    case = ET.SubElement(suite, "testcase", name="verdict", classname=_plain(report.board.id))
    if judgement.verdict == "undecided":
        reasons = "; ".join(doubt.reason for doubt in judgement.doubts)
        failure = ET.SubElement(
            case, "failure", type="undecided", message="undecided: neither can be said beyond doubt"
        )
        failure.text = _plain(reasons)
    elif judgement.verdict == "deviates":
        number = len(judgement.deviations)
        ET.SubElement(case, "failure", type="deviates", message=f"{number} deviation{'s' if number > 1 else ''}")


def _case(suite: ET.Element, run: JudgedRun, kind: str, name: str, found: list[Deviation]) -> ET.Element:
    case = ET.SubElement(suite, "testcase", name=_plain(name), classname=_plain(f"{run.judgement.board}.{kind}"))
    for deviation in found:
        time = run.judgement.seconds(deviation.time)
        failure = ET.SubElement(
            case, "failure", type=deviation.kind, message=_plain(f"{time:.3f} s: {deviation.observed}")
        )
        clause = f"\nclause {deviation.clause}" if deviation.clause else ""
        where = f"\n{deviation.at}" if deviation.at is not None else ""
        failure.text = _plain(f"{deviation.channel}: expected {deviation.expected}{clause}{where}")
    return case


def _plain(text: str) -> str:
    """Give a text without what XML cannot hold."""
    return _NOT_XML.sub("\ufffd", text)

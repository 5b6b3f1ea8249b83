"""A report as JSON, for programs; ``report.schema.json`` says what it holds.

Law of this module: everything that the other reports say is in it, whole; times are seconds, moments UTC. A change that
a program could stumble over raises ``VERSION``.
"""

from __future__ import annotations

import json
from datetime import datetime
from functools import cache
from importlib.resources import files
from typing import Any

from attrs import asdict

from boardgauge.records.entry import PlanCoverage
from boardgauge.records.moments import utc
from boardgauge.reports.report import BoardReport, JudgedRun, TimingTold, statement

VERSION = 2


def to_json(report: BoardReport) -> str:
    """Give the report as text."""
    return json.dumps(to_data(report), ensure_ascii=False, indent=2) + "\n"


def to_data(report: BoardReport) -> dict[str, Any]:
    """Give the report as plain values."""
    return {
        "version": VERSION,
        "board": {"id": report.board.id, "title": report.board.title, "spec_digest": report.board.digest},
        "serial": report.serial,
        "lot": report.lot,
        "operator": report.operator,
        "rig": report.rig,
        "rig_kind": report.rig_kind,
        "simulated": report.simulated,
        "made": _utc(report.made),
        "made_by": f"Boardgauge {report.version}",
        "command": report.command,
        "notes": list(report.notes),
        "verdict": report.verdict,
        "qualified": report.qualified,
        "statement": statement(report),
        "rules": [asdict(rule) for rule in report.rules()],
        "not_exercised": list(report.not_exercised()),
        "timings": [_timing(one) for one in report.timings()],
        "lamps": [{"lamp": lamp.lamp, "lines": list(lamp.lines)} for lamp in report.lamps()],
        "plans": [_plan(plan) for plan in report.plans],
        "runs": [_run(run) for run in report.runs],
    }


@cache
def report_schema() -> dict[str, Any]:
    """Give the JSON Schema of a report."""
    text = (files("boardgauge.reports") / "report.schema.json").read_text(encoding="utf-8")
    found: dict[str, Any] = json.loads(text)
    return found


def _run(run: JudgedRun) -> dict[str, Any]:
    judgement = run.judgement.as_json()
    return {
        "run": run.number,
        "files": [asdict(file) for file in run.files],
        "measured": _utc(run.measured),
        "length": run.seconds,
        "simulated": run.simulated,
        "verdict": judgement["verdict"],
        "start": judgement["start"],
        "deviations": judgement["deviations"],
        "doubts": judgement["doubts"],
        "remarks": judgement["remarks"],
        "rules": judgement["coverage"]["rules"],
        "lamps": judgement["coverage"]["lamps"],
        "clock_rate": judgement["clock_rate"],
        "not_wired": judgement["not_wired"],
        "channels_not_used": judgement["channels_not_used"],
        "plan": None if run.plan is None else _plan(run.plan),
    }


def _timing(one: TimingTold) -> dict[str, Any]:
    return {**asdict(one), "room": one.room}


def _plan(plan: PlanCoverage) -> dict[str, Any]:
    return {**asdict(plan), "complete": plan.complete}


def _utc(moment: datetime | None) -> str | None:
    return None if moment is None else utc(moment)

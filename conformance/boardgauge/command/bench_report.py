"""Say what came of a run on the bench, in words or as plain values.

Law of this module: it adds nothing to the run.
"""

from __future__ import annotations

import shlex
from collections.abc import Iterator
from typing import Any

from boardgauge.bench.bench_run import BenchRun
from boardgauge.command.report import WORDS, report
from boardgauge.language.model import Board
from boardgauge.rigs.rig import NOT_KEPT, SIMULATED


def bench_report(run: BenchRun, board: Board, given: str) -> str:
    """Give the run in words; ``given`` is the spec as it was given, for the command that judges it again."""
    return "\n".join(_lines(run, board, given))


def _lines(run: BenchRun, board: Board, given: str) -> Iterator[str]:
    for segment in run.segments:
        if segment.judgement is None:
            yield f"{segment.recording}"
            yield "  nothing was seen yet"
        else:
            yield report(segment.judgement, board)
        yield ""
    coverage = run.coverage
    yield f"{board.title}, serial number {run.serial}: {WORDS[run.verdict]}"
    if run.simulated:
        yield f"  {SIMULATED}"
    yield f"  run {run.ending}" + (f": {run.why.splitlines()[0]}" if run.why else "")
    yield f"  {coverage.done} of {coverage.steps} steps of the plan were done" + (f": {run.plan}" if run.plan else "")
    for missed in coverage.missed:
        yield f"  not as the plan expects: {missed}"
    missing = [rule.rule for rule in coverage.rules if not rule.exercised]
    if missing:
        yield f"  not exercised in any sitting, so nothing is proved of: {', '.join(missing)}"
    for left in coverage.left_out:
        yield f"  not tested by this plan ({left.kind}): {', '.join(left.goals)}: {left.reason}"
    if run.qualifies:
        yield "  qualifies: the plan was done and shown whole, all of it conforms, and every rule was exercised"
    elif run.passes:
        yield "  passes this plan: it was done and shown whole, and all of it conforms"
        yield f"  does not qualify the board: {_why_not(run, bool(missing))}"
    else:
        yield "  does not qualify the board"
    telling = run.telling
    if telling is not None:
        again = ["boardgauge", "judge", given, str(telling.recording), "--wiring", str(telling.wiring)]
        yield f"  judge again: {shlex.join(again)}"


def _why_not(run: BenchRun, missing: bool) -> str:
    """Say why a run that passes its plan does not qualify the board; ``missing``: rules were not exercised."""
    why = []
    if run.simulated is not False:
        why.append(SIMULATED if run.simulated else NOT_KEPT)
    if missing:
        why.append("the plan leaves rules of which nothing is proved")
    untried = run.coverage.untried
    if untried:
        why.append(f"{untried} {'goal was' if untried == 1 else 'goals were'} not tried when the plan was made")
    return "; ".join(why)


def as_json(run: BenchRun) -> dict[str, Any]:
    """Give the run as plain values for ``json``."""
    coverage = run.coverage
    return {
        "board": run.board,
        "serial": run.serial,
        "operator": run.operator,
        "started": run.started,
        "rig": run.rig,
        "rig_kind": run.rig_kind,
        "simulated": run.simulated,
        "folder": str(run.folder),
        "plan": None if run.plan is None else str(run.plan),
        "plan_digest": run.plan_digest,
        "spec_digest": run.spec_digest,
        "ending": run.ending,
        "why": run.why,
        "verdict": run.verdict,
        "passes": run.passes,
        "qualifies": run.qualifies,
        "coverage": {
            "steps": coverage.steps,
            "done": coverage.done,
            "missed": list(coverage.missed),
            "exercised": [rule.rule for rule in coverage.rules if rule.exercised],
            "not_exercised": [rule.rule for rule in coverage.rules if not rule.exercised],
            "left_out": [
                {"kind": row.kind, "goals": list(row.goals), "reason": row.reason} for row in coverage.left_out
            ],
        },
        "segments": [
            {
                "sitting": segment.sitting,
                "first": segment.first,
                "last": segment.last,
                "whole": segment.whole,
                "recording": str(segment.recording),
                "wiring": str(segment.wiring),
                "judgement": None if segment.judgement is None else segment.judgement.as_json(),
            }
            for segment in run.segments
        ],
    }

"""``boardgauge bench --record``: a run on the bench is put into the records, each of its recordings a run there.

Law of this module: a plan's goals are reached by a run that did the plan whole and saw all that it looked for, and by
no other: of a run that did not, which goals it reached is not known.
"""

from __future__ import annotations

from datetime import datetime
from hashlib import sha256
from importlib.metadata import version

import click

from boardgauge.bench.bench_run import BenchRun, Segment
from boardgauge.command.failing import Unusable
from boardgauge.command.keeping import opened, typed
from boardgauge.language.model import Board
from boardgauge.plans.plan import Plan
from boardgauge.records.entry import Entry, Goal, KeptFile, LeftOut, PlanCoverage, UnusableEntry


def keep_bench(run: BenchRun, board: Board, plan: Plan, given: str, record: str, lot: str | None, quiet: bool) -> None:
    """Put a run on the bench into the records, and say so (``quiet``: on standard error). Raises Unusable."""
    from boardgauge.records.adding import add_run
    from boardgauge.records.database import UnusableRecords
    from boardgauge.records.finding import Wanted, find_runs

    with opened(record, "--record ", make=True) as records:
        try:
            kept = [row for row in find_runs(records, Wanted(run.serial, board.id)) if row.visit == visit_of(run)]
            if kept:
                numbers = ", ".join(str(row.number) for row in kept)
                what = "run" if len(kept) == 1 else "runs"
                click.echo(f"kept already as {what} {numbers} of {board.id} {run.serial} in {records.name}", err=quiet)
                return
            for entry in entries_of(run, board, plan, given, lot, typed(record)):
                number = add_run(records, entry)
                click.echo(f"kept as run {number} of {board.id} {run.serial} in {records.name}", err=quiet)
        except (UnusableEntry, UnusableRecords) as error:
            raise Unusable(f"--record {error}; the run itself is in {run.folder}") from None


def entries_of(run: BenchRun, board: Board, plan: Plan, given: str, lot: str | None, command: str) -> list[Entry]:
    """Give an entry for each recording of a run that was judged; they are one visit of the board."""
    visit = visit_of(run)
    coverage = coverage_of(run, plan)
    return [
        Entry(
            serial=run.serial,
            judgement=segment.judgement,
            board=board,
            files=(KeptFile(str(segment.recording), segment.recording.read_bytes()),),
            measured=datetime.fromisoformat(run.started),
            version=version("boardgauge"),
            spec_given=given,
            wiring_id=segment.wiring.stem,
            wiring_text=segment.wiring.read_text(encoding="utf-8"),
            wiring_given=str(segment.wiring),
            lot=lot,
            operator=run.operator or None,
            rig=run.rig or None,
            rig_kind=run.rig_kind,
            simulated=run.simulated,
            plan=coverage,
            visit=visit,
            command=command,
            note=_note(run, segment),
        )
        for segment in run.segments
        if segment.judgement is not None
    ]


def visit_of(run: BenchRun) -> str:
    """Give the visit that a run is: the same for the same recordings, so that none is kept twice."""
    seen = [run.board, run.serial, run.started, run.plan_digest, *(s.recording.name for s in run.segments)]
    seen += [sha256(s.recording.read_bytes()).hexdigest() for s in run.segments if s.recording.exists()]
    return sha256("\n".join(seen).encode()).hexdigest()[:32]


def _note(run: BenchRun, segment: Segment) -> str:
    plan = "" if run.plan is None else f"; plan {run.plan}"
    return f"sitting {segment.sitting}, steps {segment.first + 1} to {segment.last + 1}; run {run.ending}{plan}"


def coverage_of(run: BenchRun, plan: Plan) -> PlanCoverage:
    """Give what a run reached of its plan's goals."""
    found = run.coverage
    goals = tuple(Goal(row.kind, goal) for row in found.planned for goal in row.goals)
    steps = Goal("step", f"{found.steps} steps")
    left_out = tuple(LeftOut(row.kind, goal, row.reason) for row in found.left_out for goal in row.goals)
    if found.complete and run.ending == "done":
        return PlanCoverage(plan.title, run.plan_digest, (steps, *goals), (), left_out)
    missed = [Goal("seen", words) for words in found.missed]
    if found.done < found.steps:
        missed.append(Goal("step", f"{found.steps - found.done} of {found.steps} steps"))
    return PlanCoverage(plan.title, run.plan_digest, (), (*missed, *goals) or (steps,), left_out)

"""``boardgauge bench``.

Law of this module: what can be wrong with files is told before anything is driven; the rig is safe before anything is
judged and printed.
"""

from __future__ import annotations

import json
import shlex
import sys
from datetime import UTC, datetime
from hashlib import sha256
from importlib.metadata import version
from pathlib import Path
from typing import Any

import click

from boardgauge.bench.bench_run import BenchRun
from boardgauge.bench.journal import JOURNAL
from boardgauge.bench.live_judging import LiveJudge
from boardgauge.bench.preflight import refusals
from boardgauge.bench.runner import Runner
from boardgauge.bench.running import UnusableRun, begin, checked, folder_of, run_of, take_up
from boardgauge.command.bench_keeping import keep_bench
from boardgauge.command.bench_report import as_json as run_as_json
from boardgauge.command.bench_report import bench_report
from boardgauge.command.bench_watching import Watching, caution_lines, say
from boardgauge.command.failing import CONFORMS, DEVIATES, UNDECIDED, Unusable
from boardgauge.command.finding import find_board
from boardgauge.command.interrupting import Interrupted, Interrupts
from boardgauge.command.keeping import check_names, check_records
from boardgauge.command.options import time_given
from boardgauge.command.plan_choosing import Chosen, choose_plan
from boardgauge.command.taking_long import taking_long
from boardgauge.judging.judge import Judge
from boardgauge.language import Board, UnusableSpec
from boardgauge.plans.plan import Plan
from boardgauge.rigs.interlocks import Interlocks
from boardgauge.rigs.kinds import prepare
from boardgauge.rigs.needed import MissingPackage
from boardgauge.rigs.rig import SIMULATED, Rig, RigFailure
from boardgauge.rigs.rig_file import RigFile, read_rig_file
from boardgauge.sheets.cautions import cautions
from boardgauge.traces.errors import BadWiring, UnreadableRecording

RIG_FAILED, STOPPED = 4, 5
"""The exit statuses of a rig that failed, and of a person who did not agree to go on."""
UNWATCHED = (
    "caution: this rig has no watchdog. If this computer or the link fails, what is on stays on: stay beside it, "
    "with the switch of the supply in reach."
)
SLOWER = "the rig was slower than its file says; its moments are taken to be off by as much as was measured:"


def run_bench(
    given: str,
    rig_path: str,
    serial: str,
    plan_path: str | None,
    operator: str,
    output: str | None,
    *,
    planning_time: str | None = None,
    resume: bool,
    stop_at_first: bool,
    yes: bool,
    as_json: bool,
    record: str | None = None,
    lot: str | None = None,
) -> int:
    """Carry out a plan on a rig, judge it, print what came of it; give the exit status.

    A run that was not broken off is kept in the records ``record``, the board being of ``lot``.
    """
    if lot is not None and record is None:
        raise Unusable("--lot: is about the records; say with --record which they are")
    if planning_time is not None and (plan_path is not None or resume):
        raise Unusable("--planning-time: is for a plan that has to be made; --plan and --resume say which there is")
    check_names(serial, lot, operator or None)
    board = find_board(given)
    if record is not None:
        check_records(record, board.id, serial, lot)
    try:
        file = read_rig_file(rig_path, board)
        opened = prepare(file)
    except UnusableSpec as error:
        raise Unusable(str(error)) from None
    except MissingPackage as error:
        raise Unusable(f"{rig_path}: {error}") from None
    folder = Path(output) if output is not None else folder_of(serial)
    if not resume:
        # Before minutes are spent on a plan.
        _checked(folder, {}, resume)
    limit = None if planning_time is None else time_given("--planning-time", planning_time)
    chosen = choose_plan(given, board, plan_path, folder if resume else None, file, limit, say)
    plan = chosen.plan
    head = _head(board, chosen.content, serial, operator, file)
    _checked(folder, head, resume)
    watching = Watching(board, plan, yes)
    watching.say(chosen.said)
    caution = cautions(board)
    for line in caution_lines(caution.title, tuple(dict.fromkeys((*caution.items, *plan.cautions)))):
        watching.say(line)
    interrupts = Interrupts()
    failure: RigFailure | None = None
    with interrupts.listening():
        try:
            rig = opened()
            stated = rig.facts.latency
            with _safely(rig, interrupts):
                _refuse(board, chosen, rig, file, given)
                _say_of(rig, board, watching)
                if not _carried_out(
                    board, chosen, rig, file, folder, head, watching, interrupts, resume, stop_at_first
                ):
                    return STOPPED
                if rig.facts.latency > stated:
                    watching.say(f"{SLOWER} {rig.facts.latency / 1000:g} ms")
        except RigFailure as error:
            failure = error
        except Interrupted as error:
            watching.wipe()
            _say_notes(error)
            if (folder / JOURNAL).exists():
                _tell(folder, plan, board, given, as_json)
                _say_not_kept(record, folder)
            return 128 + error.signum
    watching.wipe()
    if failure is not None:
        print(f"boardgauge: the rig failed: {failure}", file=sys.stderr)
        _say_notes(failure)
    run = _tell(folder, plan, board, given, as_json) if (folder / JOURNAL).exists() else None
    if failure is not None:
        if run is not None:
            _say_not_kept(record, folder)
        return RIG_FAILED
    assert run is not None
    if record is not None:
        keep_bench(run, board, plan, given, record, lot, as_json)
    return _status(run)


def _say_notes(error: BaseException) -> None:
    """Say what else went wrong: above all that something could not be made safe."""
    for note in getattr(error, "__notes__", ()):
        print(f"boardgauge: {note}", file=sys.stderr)


def _say_not_kept(record: str | None, folder: Path) -> None:
    """Say that a run which did not come to its end is not in the records, and what brings it there."""
    if record is not None:
        say(f"not kept in the records, since the run was broken off; it is in {folder}, and --resume goes on with it")


def _say_of(rig: Rig, board: Board, watching: Watching) -> None:
    """Say before anything is begun what of the board the rig leaves alone, and whether anything watches over it."""
    facts = rig.facts
    if facts.simulated:
        watching.say(f"{facts.name}: {SIMULATED}; whatever comes of this run, it qualifies none")
    left = [name for name in board.inputs if name not in facts.drives]
    if left:
        watching.say(
            f"not driven by {facts.name}, so leave them at rest; they are not known to the judge: {', '.join(left)}"
        )
    unseen = [name for name in (*board.outputs, *board.lamps) if name not in facts.sees]
    if unseen:
        watching.say(f"not seen by {facts.name}, so nothing is said of them: {', '.join(unseen)}")
    if not facts.virtual and facts.watchdog is None and facts.kind != "person":
        watching.say(UNWATCHED)


def _status(run: BenchRun) -> int:
    if run.verdict == "deviates":
        return DEVIATES
    if run.ending == "stopped by a person":
        return STOPPED
    return CONFORMS if run.passes else UNDECIDED


class _safely:
    """Make a rig safe and let go of it, however this ends, and whatever signals come meanwhile."""

    def __init__(self, rig: Rig, interrupts: Interrupts) -> None:
        self._rig = rig
        self._interrupts = interrupts

    def __enter__(self) -> None:
        self._rig.__enter__()

    def __exit__(self, *how: Any) -> None:
        with self._interrupts.deaf():
            self._rig.__exit__(*how)


def _checked(folder: Path, head: dict[str, Any], resume: bool) -> None:
    try:
        checked(folder, head, resume)
    except UnusableRun as error:
        raise Unusable(str(error)) from None


def _refuse(board: Board, chosen: Chosen, rig: Rig, file: RigFile, given: str) -> None:
    against = refusals(board, chosen.plan, rig.facts, Interlocks(board, file.never))
    if against:
        told = "the plan is not carried out on this rig:\n" + "\n".join(map(str, against))
        if not chosen.named:
            make = shlex.join(["boardgauge", "plan", given, "--rig", file.file, "-o", f"{board.id}-{file.name}.toml"])
            told += f"\n`{make}` makes one for this rig; then name it with --plan"
        raise Unusable(told)


def _head(board: Board, plan: bytes, serial: str, operator: str, file: RigFile) -> dict[str, Any]:
    return {
        "board": board.id,
        "serial": serial,
        "operator": operator,
        "started": datetime.now(UTC).isoformat(timespec="seconds"),
        "spec_digest": board.digest,
        "plan_digest": sha256(plan).hexdigest(),
        "rig": file.name,
        "rig_kind": file.kind,
        "boardgauge": version("boardgauge"),
    }


def _carried_out(
    board: Board,
    chosen: Chosen,
    rig: Rig,
    file: RigFile,
    folder: Path,
    head: dict[str, Any],
    watching: Watching,
    interrupts: Interrupts,
    resume: bool,
    stop_at_first: bool,
) -> bool:
    """Carry out the plan, or what is left of it; gives False if a person did not agree before anything was begun."""
    if not watching.agreed("Have you read this, and may the plan begin?"):
        return False
    plan, segments, place = chosen.plan, 0, (0, 0)
    head = {**head, "simulated": rig.facts.simulated}
    try:
        if resume:
            journal, kept, place = take_up(folder, head, plan, board)
            segments = len(kept.segments)
            if place[0] == len(plan.sittings):
                watching.say(f"{folder}: the plan was done to its end; nothing is left to do")
                journal.close()
                return True
            sitting = plan.sittings[place[0]]
            watching.say(f"going on with {sitting.id}, step {place[1] + 1} of {len(sitting.steps)}")
            journal.note(resumed=head["started"])
        else:
            journal = begin(folder, head, chosen.content)
    except UnusableRun as error:
        raise Unusable(str(error)) from None
    judge = LiveJudge(board)
    try:
        runner = Runner(
            board,
            plan,
            rig,
            Interlocks(board, file.never),
            folder,
            journal,
            watching,
            judge,
            stop_at_first,
            segments,
            interrupts.held,
            interrupts.deaf,
        )
        runner.run(*place)
    finally:
        judge.close()
        journal.close()
    return True


def _tell(folder: Path, plan: Plan, board: Board, given: str, as_json: bool) -> BenchRun | None:
    """Print what came of the run in a folder; None where there is none yet."""
    try:
        with taking_long("judging the run"):
            run = run_of(folder, plan, Judge.of(board))
    except (UnusableRun, UnreadableRecording, BadWiring) as error:
        print(f"boardgauge: {error}", file=sys.stderr)
        return None
    if as_json:
        click.echo(json.dumps(run_as_json(run), ensure_ascii=False))
    else:
        click.echo(bench_report(run, board, given))
    return run

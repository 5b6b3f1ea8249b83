"""A run in its folder: begun, taken up again where it was cut off, and read back.

Law of this module: what came of a run is read from what it left on the disk, whether it came to its end or was cut off;
nothing is kept in memory that the folder does not have.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Sequence
from hashlib import sha256
from pathlib import Path
from typing import Any, cast

from attrs import define, evolve, field, frozen

from boardgauge.bench.bench_run import BenchRun, Ending, PlanCoverage, Segment
from boardgauge.bench.journal import JOURNAL, BadJournal, Journal, drop_torn_line, notes_of
from boardgauge.bench.lamps_looked_for import lamps_missed
from boardgauge.bench.live_judging import trace_so_far
from boardgauge.bench.safe_points import taken_up
from boardgauge.judging.judge import Judge
from boardgauge.judging.judgement import LampCoverage, RuleCoverage, TimingCoverage
from boardgauge.language.model import Board
from boardgauge.plans.plan import Plan
from boardgauge.traces.trace import Trace

PLAN = "run.plan.toml"
"""The plan of a run, kept in its folder as it was when the run began."""


_LONGEST_FOLDER = 200
"""Bytes of the name of a folder at most; many file systems take 255."""
_LOST = "its recording, or the wiring of it, is gone, so what the board did is not known"


class UnusableRun(ValueError):
    """A folder that holds no run of this board and plan, or one already where a new one should go."""


Traces = Sequence[Trace | None]


@frozen
class Done:
    """A step done whole: in which segment (from 0), from when to when, and what was not as the plan expects."""

    segment: int
    begun: int
    ended: int
    note: str = ""


@define
class Kept:
    """What a journal says: its ``head``, the ``segments`` in order, and what was done of each sitting."""

    head: dict[str, Any]
    segments: list[dict[str, Any]] = field(factory=list)
    done: dict[str, int] = field(factory=dict)
    """Sitting -> how many of its steps were done whole."""
    steps: dict[tuple[str, int], Done] = field(factory=dict)
    whole: set[str] = field(factory=set)
    ending: Ending = "cut off"
    why: str = ""


def kept_in(folder: Path) -> Kept:
    """Read the journal of a run. Raises UnusableRun."""
    path = folder / JOURNAL
    try:
        lines = list(notes_of(path))
    except FileNotFoundError:
        raise UnusableRun(f"{folder}: there is no run in this folder") from None
    except BadJournal as error:
        raise UnusableRun(str(error)) from None
    if not lines or not isinstance(lines[0].get("run"), dict):
        raise UnusableRun(f"{path}: it does not begin as the journal of a run")
    kept = Kept(lines[0]["run"])
    try:
        for line in lines[1:]:
            _take(kept, line)
    except (KeyError, TypeError, ValueError):
        raise UnusableRun(f"{path}: a line is not as this version of Boardgauge writes it") from None
    return kept


def _take(kept: Kept, line: dict[str, Any]) -> None:
    if "segment" in line:
        kept.segments.append({**line, "last": int(line["first"]) - 1, "whole": False})
        kept.done[line["sitting"]] = int(line["first"])
        kept.whole.discard(line["sitting"])
        kept.ending, kept.why = "cut off", ""
    elif "done" in line:
        sitting, number = line["done"]
        kept.segments[-1]["last"] = number
        kept.done[sitting] = number + 1
        done = Done(len(kept.segments) - 1, int(line["begun"]), int(line["ended"]), str(line.get("note", "")))
        kept.steps[sitting, number] = done
    elif "whole" in line:
        kept.segments[-1]["whole"] = True
        kept.whole.add(line["whole"])
    elif "ended" in line:
        kept.ending, kept.why = cast("Ending", line["ended"]), str(line.get("why", ""))


def checked(folder: Path, head: dict[str, Any], resume: bool) -> Kept | None:
    """See, touching nothing, that a run can begin in a folder, or be gone on with; gives what there is of it.

    ``head`` is that of the run as it would begin now: to go on, board, spec, plan, serial number and the kind of the
    rig must be the same; ``simulated`` stands in it once the rig is open. Raises UnusableRun.
    """
    if not resume:
        if (folder / JOURNAL).exists():
            raise UnusableRun(
                f"{folder}: there is a run in it; --resume goes on with it, -o FOLDER begins another somewhere else"
            )
        _can_be_made(folder)
        return None
    kept = kept_in(folder)
    for key, what in (
        ("board", "board"),
        ("serial", "serial number"),
        ("spec_digest", "spec (by its digest)"),
        ("plan_digest", "plan (by its digest)"),
        ("rig_kind", "kind of rig"),
    ):
        if kept.head.get(key) != head[key]:
            was = kept.head.get(key, "one that was not kept")
            raise UnusableRun(f"{folder}: the run in it is of another {what}: {was}, not {head[key]}")
    if "simulated" in head and kept.head.get("simulated") != head["simulated"]:
        now = "a simulated board" if head["simulated"] else "a real board"
        raise UnusableRun(f"{folder}: the run in it was not begun with {now}, as this would be")
    return kept


def folder_of(serial: str) -> Path:
    """Give the folder of a board's run. Letters of every script stay, so that two boards seldom come to one folder."""
    name = "bench-" + re.sub(r"[^\w-]+", "_", serial)
    return Path(name.encode()[:_LONGEST_FOLDER].decode(errors="ignore"))


def _can_be_made(folder: Path) -> None:
    there = next(path for path in (folder, *folder.absolute().parents) if path.exists())
    if not there.is_dir():
        raise UnusableRun(f"{folder}: {there} is a file; expected a folder for the run")
    if not os.access(there, os.W_OK):
        raise UnusableRun(f"{folder}: the folder {there} cannot be written into; -o FOLDER names another place")


def begin(folder: Path, head: dict[str, Any], plan: bytes) -> Journal:
    """Begin a run in a folder of its own, with its plan as a file. Raises UnusableRun where there is one already."""
    checked(folder, head, resume=False)
    folder.mkdir(parents=True, exist_ok=True)
    # Before the journal: where there is a run, there is its plan.
    with (folder / PLAN).open("wb") as file:
        file.write(plan)
        file.flush()
        os.fsync(file.fileno())
    journal = Journal(folder / JOURNAL)
    journal.note(run=head)
    return journal


def kept_plan(folder: Path) -> Path:
    """Give the file of the plan that the run in a folder began with. Raises UnusableRun, if it was changed too."""
    kept = kept_in(folder)
    path = folder / PLAN
    if not path.is_file():
        raise UnusableRun(f"{folder}: its plan is not kept in it; say with --plan which it was")
    if sha256(path.read_bytes()).hexdigest() != kept.head.get("plan_digest"):
        raise UnusableRun(f"{path}: was changed since the run began; say with --plan where the plan is as it was")
    return path


def take_up(folder: Path, head: dict[str, Any], plan: Plan, board: Board) -> tuple[Journal, Kept, tuple[int, int]]:
    """Go on with a run; gives also the sitting and the step to go on from. Raises UnusableRun; see ``checked``."""
    kept = checked(folder, head, resume=True)
    assert kept is not None
    for row in kept.segments:
        recording = folder / str(row["recording"])
        if recording.exists():
            drop_torn_line(recording)
    done = {}
    for sitting in plan.sittings:
        steps = len(sitting.steps)
        # A sitting whose last step is done, but not what is recorded after it, goes on from its last safe point.
        begun = min(kept.done.get(sitting.id, 0), steps - 1)
        done[sitting.id] = steps if sitting.id in kept.whole else begun
    journal = Journal(folder / JOURNAL)
    return journal, kept, taken_up(board, plan.sittings, done)


def run_of(folder: Path, plan: Plan, judge: Judge) -> BenchRun:
    """Give what came of a run, judged anew from its recordings. Raises UnusableRun, and what reading them raises."""
    kept, board = kept_in(folder), judge.engine.machine.board
    segments: list[Segment] = []
    traces: list[Trace | None] = []
    for row in kept.segments:
        recording, wiring = folder / str(row["recording"]), folder / str(row["wiring"])
        trace = trace_so_far(recording, wiring, board) if wiring.exists() else None
        traces.append(trace)
        judgement = None if trace is None else judge.judge(trace)
        segments.append(
            Segment(row["sitting"], row["first"], row["last"], recording, wiring, judgement, bool(row["whole"]))
        )
    head = kept.head
    return BenchRun(
        str(head["board"]),
        str(head["serial"]),
        str(head["operator"]),
        str(head["started"]),
        str(head["plan_digest"]),
        str(head["spec_digest"]),
        folder,
        tuple(segments),
        _coverage(plan, kept, segments, traces, board),
        kept.ending,
        str(head["rig"]),
        head.get("rig_kind"),
        head.get("simulated"),
        kept.why,
        folder / PLAN if (folder / PLAN).is_file() else None,
    )


def _coverage(plan: Plan, kept: Kept, segments: Sequence[Segment], traces: Traces, board: Board) -> PlanCoverage:
    judgements = [segment.judgement for segment in segments if segment.judgement is not None]
    missed = []
    for sitting in plan.sittings:
        for number, step in enumerate(sitting.steps):
            done = kept.steps.get((sitting.id, number))
            if done is None:
                continue
            trace = traces[done.segment]
            if trace is None:
                missed.append(f"sitting {sitting.id}, step {number + 1}: {_LOST}")
                continue
            lamps = lamps_missed(step, trace, done.begun, done.ended, board)
            missed += [f"sitting {sitting.id}, step {number + 1}: {note}" for note in (done.note, *lamps) if note]
    return PlanCoverage(
        sum(len(sitting.steps) for sitting in plan.sittings),
        len(kept.steps),
        _rules([judgement.rules for judgement in judgements]),
        _lamps([judgement.lamps for judgement in judgements]),
        tuple(missed),
        plan.covers,
        plan.leaves_out,
    )


def _rules(all_rules: Iterable[tuple[RuleCoverage, ...]]) -> tuple[RuleCoverage, ...]:
    found: dict[str, RuleCoverage] = {}
    for rules in all_rules:
        for rule in rules:
            before = found.get(rule.rule)
            found[rule.rule] = rule if before is None else _both(before, rule)
    return tuple(found.values())


def _both(one: RuleCoverage, other: RuleCoverage) -> RuleCoverage:
    timings = tuple(_longer(a, b) for a, b in zip(one.timings, other.timings, strict=True))
    return evolve(one, exercised=one.exercised or other.exercised, timings=timings)


def _longer(one: TimingCoverage, other: TimingCoverage) -> TimingCoverage:
    least = [t for t in (one.least, other.least) if t is not None]
    greatest = [t for t in (one.greatest, other.greatest) if t is not None]
    return evolve(
        one,
        ended=one.ended + other.ended,
        sped_up=one.sped_up + other.sped_up,
        least=min(least, default=None),
        greatest=max(greatest, default=None),
    )


def _lamps(all_lamps: Iterable[tuple[LampCoverage, ...]]) -> tuple[LampCoverage, ...]:
    found: dict[str, LampCoverage] = {}
    for lamps in all_lamps:
        for lamp in lamps:
            before = found.get(lamp.lamp)
            lines = (
                lamp.lines if before is None else tuple(a or b for a, b in zip(before.lines, lamp.lines, strict=True))
            )
            found[lamp.lamp] = evolve(lamp, lines=lines)
    return tuple(found.values())

"""Which plan ``boardgauge bench`` carries out: the one that is named, one that is there, or one that is made now.

Law of this module: what is made is kept where the next board of the spec finds it, so that a batch runs one plan; a
plan that is there is never written over, whatever it is.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

from attrs import frozen

from boardgauge.bench.running import UnusableRun, kept_plan
from boardgauge.command.failing import Unusable
from boardgauge.command.finding import plan_beside, spec_path
from boardgauge.language import Board, UnusableSpec
from boardgauge.language.text_file import text_of
from boardgauge.plans.plan import Plan
from boardgauge.plans.plan_reader import read_plan_text

if TYPE_CHECKING:
    from collections.abc import Callable

    from boardgauge.rigs.rig_file import RigFile

PLANNING_TIME = 600_000_000
"""Microseconds that are spent on a plan at most, unless said."""


@frozen
class Chosen:
    """A plan, the bytes of its file, and a line that says which it is. ``named``: with ``--plan``."""

    plan: Plan
    content: bytes
    said: str
    named: bool = False


def choose_plan(
    given: str,
    board: Board,
    named: str | None,
    run: Path | None,
    rig: RigFile,
    planning_time: int | None,
    say: Callable[[str], None],
) -> Chosen:
    """Choose the plan for a board on a rig. ``run`` is the folder of the run that is gone on with. Raises Unusable.

    ``planning_time`` bounds in microseconds how long a plan that has to be made is looked for.
    """
    if named is not None:
        return _read(Path(named), board, f"plan: {named}", named=True)
    if run is not None:
        try:
            path = kept_plan(run)
        except UnusableRun as error:
            raise Unusable(str(error)) from None
        return _read(path, board, f"plan: {path}, as the run began with it")
    found = plan_that_is_there(given, board)
    if found is not None:
        return found
    path = plan_beside(spec_path(given))
    return _make(given, board, path, rig, PLANNING_TIME if planning_time is None else planning_time, say)


def plan_that_is_there(given: str, board: Board) -> Chosen | None:
    """Give the plan that comes with a board, or is kept beside its spec; None if there is none. Raises Unusable."""
    path = plan_beside(spec_path(given))
    return _found(path, given, board) if path.is_file() else None


def _found(path: Path, given: str, board: Board) -> Chosen:
    from boardgauge.command.finding import of_the_library

    whose = "comes with the board" if of_the_library(given) else "kept beside the spec"
    try:
        return _read(path, board, f"plan: {path}, {whose}")
    except Unusable as error:
        raise Unusable(
            f"{error}\n`boardgauge plan {given} -o {path}` makes the plan anew, for all boards from now on"
        ) from None


def _read(path: Path, board: Board, said: str, *, named: bool = False) -> Chosen:
    try:
        return _of(text_of(path), path, board, said, named=named)
    except UnusableSpec as error:
        raise Unusable(str(error)) from None


def _of(text: str, path: Path, board: Board, said: str, *, named: bool = False) -> Chosen:
    return Chosen(read_plan_text(text, str(path), board), text.encode(), said, named)


def _make(given: str, board: Board, path: Path, rig: RigFile, limit: int, say: Callable[[str], None]) -> Chosen:
    from boardgauge.command.planning import for_rig, made_within
    from boardgauge.language.quantity_writer import write_plain_time
    from boardgauge.many.workers import cores
    from boardgauge.plans.making import told_time
    from boardgauge.plans.plan_writer import write_plan
    from boardgauge.plans.wish import wish_for

    wish = for_rig(wish_for(board), rig)
    say(f"plan: there is none at {path}; one is made now, which takes {write_plain_time(limit)} at most for looking")
    made = made_within(wish, limit, cores())
    if not made.plan.sittings:
        raise Unusable(
            f"no plan came of {write_plain_time(limit)} of looking, and none is kept; say more with --planning-time, "
            "or name a plan with --plan"
        )
    text = write_plan(made.plan, board)
    worth = f"{made.found} of {made.faults} faults found, {told_time(made.plan.expected_time)} of bench on a rig"
    try:
        if not _published(path, text.encode()):
            # Another bench was planning for the same spec, and came first: one plan for all.
            return _found(path, given, board)
    except OSError as error:
        say(
            f"caution: the plan cannot be kept at {path}: {error.strerror or error}; for the next board name its copy "
            "in the folder of this run with --plan, or another plan is made"
        )
        return _of(text, Path("the plan made now"), board, f"plan: made now ({worth})")
    return _of(text, path, board, f"plan: {path}, made now and kept for the boards to come ({worth})")


def _published(path: Path, content: bytes) -> bool:
    """Put a plan where there was none, whole or not at all; False where there is one meanwhile. Raises OSError."""
    path.parent.mkdir(exist_ok=True)
    part = path.with_name(f".{path.name}.{os.getpid()}")
    try:
        with part.open("wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        os.link(part, path)
    except FileExistsError:
        return False
    finally:
        part.unlink(missing_ok=True)
    return True

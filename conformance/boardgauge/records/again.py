"""Judge kept recordings again, from their bytes.

Law of this module: the judge is the one that judges files; what differs from the verdict that was kept can only come
from the spec or from the version of the program, and both are told.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from importlib.metadata import version
from typing import cast

from attrs import frozen

from boardgauge.judging.judge import Judge
from boardgauge.judging.judgement import Judgement
from boardgauge.judging.run import Start
from boardgauge.language import UnusableSpec, read_board_text
from boardgauge.language.model import Board
from boardgauge.many.job import Item, Job
from boardgauge.many.judging_one import judge_item
from boardgauge.records.adding import add_run
from boardgauge.records.database import Records
from boardgauge.records.entry import Entry, KeptFile
from boardgauge.records.finding import KeptRun, find_run
from boardgauge.records.packing import DamagedFile, content_of
from boardgauge.records.written import START, WRITTEN, trace_of_written
from boardgauge.traces.errors import BadWiring
from boardgauge.traces.trace import Trace
from boardgauge.traces.wiring import Wiring, default_wiring
from boardgauge.traces.wiring_reader import wiring_from


class CannotJudgeAgain(Exception):
    """A run that cannot be judged again; the message says why."""


@frozen
class Again:
    """A run judged again: what was kept of it, the board it was judged by now, its bytes and what came of it.

    ``written`` is the trace of a sheet that a person wrote, None of a recording.
    """

    kept: KeptRun
    board: Board
    wiring: Wiring
    files: tuple[KeptFile, ...]
    judgement: Judgement
    written: Trace | None = None

    @property
    def same(self) -> bool:
        """Tell whether the verdict is the one that was kept."""
        return self.judgement.verdict == self.kept.row.verdict


def judge_again(records: Records, number: int, today: Callable[[str], Board] | None = None) -> Again:
    """Judge a kept run again, by the spec as it was, or by what ``today`` gives for the name of its spec.

    Raises NoSuchRun, and CannotJudgeAgain where its bytes, its spec or its wiring cannot be read any more.
    """
    kept = find_run(records, number)
    row = kept.row
    try:
        contents = [content_of(records, file.sha256) for file in kept.files]
    except DamagedFile as error:
        raise CannotJudgeAgain(f"run {number}: {error}") from None
    if not contents:
        raise CannotJudgeAgain(f"run {number}: no recording is kept of it")
    board = _board(kept) if today is None else today(row.spec_given or row.board)
    files = tuple(KeptFile(file.name, content) for file, content in zip(kept.files, contents, strict=True))
    if row.wiring_id == WRITTEN:
        trace = _trace(kept, files, board)
        return Again(kept, board, default_wiring(board), files, Judge.of(board).judge(trace, START), trace)
    wiring = _wiring(kept, board)
    job = Job(row.spec_given or row.board, board, wiring, cast("Start | None", kept.start), kept.settings)
    item = Item(0, tuple(file.name for file in kept.files))
    outcome = judge_item(job.packed(), item, contents)
    if outcome.judgement is None:
        raise CannotJudgeAgain(f"run {number}: {outcome.error}")
    return Again(kept, board, wiring, files, outcome.judgement)


def keep_again(records: Records, again: Again, visit: str, command: str = "", now: datetime | None = None) -> int:
    """Put a run that was judged again into the records as a new one, beside the old; give its number."""
    kept, row = again.kept, again.kept.row
    return add_run(
        records,
        Entry(
            serial=row.serial,
            judgement=again.judgement,
            board=again.board,
            files=again.files,
            measured=row.measured,
            version=version("boardgauge"),
            spec_given=row.spec_given,
            wiring_id=WRITTEN if again.written is not None else again.wiring.id,
            wiring_text=kept.wiring_text,
            wiring_given=kept.wiring_given,
            start=kept.start,
            settings=kept.settings,
            operator=row.operator,
            rig=row.rig,
            rig_kind=row.rig_kind,
            simulated=row.simulated,
            # What a plan covers, it covers of the spec that it was made from.
            plan=kept.plan if again.board.digest == row.spec_digest else None,
            visit=visit,
            command=command,
            note=f"run {row.number} judged again",
        ),
        now,
    )


def _board(kept: KeptRun) -> Board:
    row = kept.row
    try:
        board = read_board_text(kept.spec_text, f"spec {row.board} {row.spec_digest[:12]} of the records")
    except UnusableSpec as error:
        raise CannotJudgeAgain(f"run {row.number}: its spec cannot be read any more:\n{error}") from None
    if board.digest != row.spec_digest:
        raise CannotJudgeAgain(f"run {row.number}: the text of its spec was changed in the records")
    return board


def _trace(kept: KeptRun, files: tuple[KeptFile, ...], board: Board) -> Trace:
    try:
        return trace_of_written([(file.name, file.content) for file in files], kept.wiring_text or "", board)
    except UnusableSpec as error:
        raise CannotJudgeAgain(f"run {kept.row.number}: what was written cannot be read any more:\n{error}") from None


def _wiring(kept: KeptRun, board: Board) -> Wiring:
    if kept.wiring_text is None:
        return default_wiring(board)
    try:
        # By the name that it had, since it may name files that stand beside it.
        return wiring_from(kept.wiring_text, kept.wiring_given or "the wiring of the records")
    except BadWiring as error:
        raise CannotJudgeAgain(f"run {kept.row.number}: its wiring cannot be read any more:\n{error}") from None

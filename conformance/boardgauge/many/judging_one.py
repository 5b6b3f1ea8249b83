"""Judge one recording.

Law of this module: every recording is judged here, in whatever process; whatever is wrong with it comes out as an
``Outcome`` with words, so that one bad file costs the others nothing.
"""

from __future__ import annotations

import os
import shlex
from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from attrs import evolve

from boardgauge.boards import board_names, board_path
from boardgauge.judging.judge import Judge
from boardgauge.language.model import NOWHERE
from boardgauge.machine.picture import CannotSettle
from boardgauge.many.job import Item, Job, Outcome, Picture
from boardgauge.traces.conditioning import condition
from boardgauge.traces.errors import BadWiring, UnreadableRecording
from boardgauge.traces.reading import read_recording, recording_from
from boardgauge.traces.reduction import Reduction
from boardgauge.traces.trace import Trace

if TYPE_CHECKING:
    from boardgauge.judging.judgement import Judgement
    from boardgauge.language.model import Board
    from boardgauge.machine.table import Machine
    from boardgauge.traces.wiring import Wiring

DEBUG = "BOARDGAUGE_DEBUG"
"""With this in the environment a fault of our own is shown with its traceback."""


class CannotRead(Exception):
    """A recording that cannot be read, or does not fit its wiring; the message says why."""


def trace_of(parts: Sequence[str], wiring: Wiring, board: Board, contents: Sequence[bytes] | None = None) -> Trace:
    """Read a recording, in one or more parts that follow each other, and condition it for a board.

    ``contents`` are the bytes of the parts, where they are not read from the files. Raises CannotRead.
    """
    try:
        # Of a noisy channel only what the board's limits make of it is kept, so that no file is too long.
        reduction = Reduction(wiring, board)
        if contents is None:
            recordings = [read_recording(part, reduction=reduction) for part in parts]
        else:
            recordings = [
                recording_from(data, part, reduction=reduction) for part, data in zip(parts, contents, strict=True)
            ]
        if len(recordings) == 1:
            return condition(recordings[0], wiring, board)
        from boardgauge.traces.joining import join

        return condition(join(recordings), wiring, board)
    except UnreadableRecording as error:
        raise CannotRead(str(error)) from None
    except BadWiring as error:
        draft = shlex.join(["boardgauge", "look", parts[0], "--board", _called(board), "-o", "wiring.toml"])
        told = f"{draft} drafts one, to be read and completed"
        raise CannotRead(f"{parts[0]} does not fit the wiring {wiring.id}:\n{error}\n{told}") from None


def _called(board: Board) -> str:
    """Give what a command calls a board by: the file of its spec, or its id where it is one of the library."""
    file = board.at.file
    known = board.id in board_names() and Path(file).resolve() == board_path(board.id).resolve()
    return board.id if known or board.at == NOWHERE else file


def judge_item(packed: bytes, item: Item, contents: Sequence[bytes] | None = None) -> Outcome:
    """Judge a recording for a packed job; see ``trace_of`` for ``contents``."""
    job, judge = _judge_of(packed)
    try:
        trace = trace_of(item.parts, job.wiring, job.board, contents)
        trace = evolve(trace, settings={**trace.settings, **job.settings})
        judgement = evolve(judge.judge(trace, job.start), file=item.name)
        charts = () if job.charts is None else drawn(judge.engine.machine, trace, judgement, job.charts)
    except CannotRead as error:
        return _failed(item, str(error), contents)
    except OSError as error:
        return _failed(item, f"{error.filename or item.name}: {error.strerror or error}", contents)
    except CannotSettle as error:
        return _failed(item, f"{job.given} cannot be judged with: {error}", contents)
    except (RecursionError, MemoryError):
        return _failed(item, f"{item.name}: the recording is too large or too deeply nested", contents)
    except Exception as error:
        return _failed(item, f"{item.name}: {_fault(error)}", contents)
    return Outcome(item.number, item.name, judgement, None, judgement.trace_digest, charts)


def drawn(machine: Machine, trace: Trace, judgement: Judgement, picture: Picture) -> tuple[bytes, ...]:
    """Draw each deviation of a judgement as a timing chart."""
    # Here, since most recordings are judged without a chart.
    from boardgauge.drawings.rendering import typeset
    from boardgauge.drawings.timing_chart import timing_chart
    from boardgauge.judging.chart import chart_of

    charts = [chart_of(machine, trace, judgement, deviation) for deviation in judgement.deviations]
    if picture == "svg":
        return tuple(timing_chart(chart).encode() for chart in charts)
    return tuple(typeset(timing_chart(chart), picture, chart.title) for chart in charts)


@lru_cache(maxsize=2)
def _judge_of(packed: bytes) -> tuple[Job, Judge]:
    job = Job.unpacked(packed)
    return job, Judge.of(job.board)


def _failed(item: Item, error: str, contents: Sequence[bytes] | None) -> Outcome:
    return Outcome(item.number, item.name, None, error, _digest(item, contents))


def _digest(item: Item, contents: Sequence[bytes] | None) -> str:
    """Give the SHA-256 of a file that could not be judged, where there is one to know it by."""
    from io import BytesIO
    from pathlib import Path

    from boardgauge.traces.source import digest

    if len(item.parts) > 1:
        return ""
    try:
        if contents is not None:
            return digest(BytesIO(contents[0]))
        path = Path(item.parts[0])
        if not path.is_file():
            return ""
        with path.open("rb") as stream:
            return digest(stream)
    except (OSError, ValueError):
        return ""


def _fault(error: Exception) -> str:
    words = f"a fault of Boardgauge itself, not of your files: {type(error).__name__}: {error}"
    if not os.environ.get(DEBUG):
        return f"{words}\nPlease report it; {DEBUG}=1 in the environment shows where it happened."
    import traceback

    return f"{words}\n{''.join(traceback.format_exception(error)).rstrip()}"

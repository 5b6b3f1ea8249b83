"""Our own implementation as the subject of the suite.

Law of this module: it translates and decides nothing. The spec goes to the reader, inputs to the reference machine,
recordings to the judge.
"""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache
from importlib.resources import as_file, files

import numpy as np
from attrs import evolve

from boardgauge.cases.case import Case
from boardgauge.cases.subject import Judged, Outcome, Played, Refused, Row, Skipped, State
from boardgauge.judging.judge import Judge
from boardgauge.judging.judgement import Judgement
from boardgauge.language import UnusableSpec, read_board, read_board_text
from boardgauge.language.model import Board, InputKind
from boardgauge.machine.compile import compile_board
from boardgauge.machine.picture import CannotSettle
from boardgauge.machine.run import Timeline
from boardgauge.machine.simulate import Simulator
from boardgauge.traces.conditioning import condition
from boardgauge.traces.recording import Channel, Recording, channel_of
from boardgauge.traces.trace import Trace
from boardgauge.traces.wiring import Wiring, default_wiring

POWER = "power"
LEAD = 1_000_000
"""A recording of a power-up begins so long before it, without power (microseconds)."""


class Ours:
    """Reader, reference machine and judge of this project."""

    def play(self, case: Case) -> Outcome:
        """Give what the reference machine does at nominal times."""
        try:
            board = board_of(case)
            if case.end is None:
                return Played(())
            run = Simulator(compile_board(board), "nominal", 0, dict(case.settings)).run(timeline_of(case, case.end))
        except (UnusableSpec, CannotSettle) as error:
            return Refused(str(error))
        shown = {**run.outputs, **run.lamps}
        found = [Row(time, name, value) for name, edges in shown.items() for time, value in edges.changes]
        return Played(tuple(sorted(found, key=lambda row: (row.time, row.signal))))

    def judge(self, case: Case) -> Outcome:
        """Give the verdict of the judge."""
        try:
            board = board_of(case)
        except UnusableSpec as error:
            return Refused(str(error))
        if case.settings and not set(case.settings) <= set(board.settings):
            return Skipped("the case sets what the board does not have")
        judgement = Judge.of(board).judge(trace_of(case, board))
        return judged(judgement, LEAD if case.start == "power-up" else 0)


def judged(judgement: Judgement, lead: int = 0) -> Judged:
    """Give what a case compares of a judgement; times count from ``lead`` after the start of the recording."""
    if not judgement.deviations:
        return Judged(judgement.verdict)
    first = judgement.deviations[0]
    zero = judgement.start + lead
    earliest, latest = (None if time is None else time - zero for time in (first.earliest, first.latest))
    return Judged(judgement.verdict, first.time - zero, first.channel, first.rule, first.clause, earliest, latest)


def board_of(case: Case) -> Board:
    """Read the board of a case. Raises UnusableSpec."""
    return _read(case.board, case.from_library, tuple(sorted(case.bases.items())))


@lru_cache(maxsize=256)
def _read(text: str, from_library: bool, bases: tuple[tuple[str, str], ...]) -> Board:
    if from_library:
        with as_file(files("boardgauge.boards").joinpath(f"{text}.toml")) as path:
            return read_board(path)
    return read_board_text(text, "board.toml", library=dict(bases).get)


def timeline_of(case: Case, end: int) -> Timeline:
    """Give the inputs of a case as the reference machine takes them."""
    changes: dict[str, list[tuple[int, bool | Fraction]]] = {}
    for row in case.rows:
        if row.value is not None:
            changes.setdefault(row.signal, []).append((row.time, row.value))
    changes.setdefault(POWER, [(0, True)])
    return Timeline({name: tuple(rows) for name, rows in changes.items()}, end)


def trace_of(case: Case, board: Board) -> Trace:
    """Give the recording of a case as the judge takes it; a signal without a row stands at rest throughout."""
    recording = recording_of(case, board)
    wiring = default_wiring(board)
    return condition(
        recording, Wiring(wiring.id, wiring.title, wiring.boards, wiring.wires, settings=dict(case.settings)), board
    )


def recording_of(case: Case, board: Board) -> Recording:
    """Lay the rows of a case out as a recorder would have written them down."""
    assert case.end is not None
    start = -LEAD if case.start == "power-up" else 0
    samples = None
    if case.sampled_every is not None:
        samples = np.arange(start, case.end + 1, case.sampled_every, dtype=np.int64)
    channels = {}
    for name in (POWER, *board.inputs, *board.outputs, *board.lamps):
        if name not in case.not_recorded:
            channels[name] = _channel(case, board, name, start, samples)
    return Recording(case.name, "long CSV", start, case.end, channels, samples)


def _channel(
    case: Case, board: Board, name: str, start: int, samples: np.ndarray[tuple[int], np.dtype[np.int64]] | None
) -> Channel:
    rows = [row for row in case.rows if row.signal == name]
    if name in board.outputs and board.outputs[name].contact == "normally closed":
        # Rows speak of the coil, as the language does; a recorder sees the contact.
        rows = [evolve(row, value=not row.value) if isinstance(row.value, bool) else row for row in rows]
    if name == POWER and not rows and case.start == "power-up":
        rows = [Row(0, POWER, True)]
    # How an input stands when the supply comes on is how it stood before.
    before = [row for row in rows if row.time <= start or (name in board.inputs and row.time <= 0)]
    initial = before[-1].value if before else _at_rest(board, name, case.start == "unknown")
    times = [start] + [row.time for row in rows if row not in before]
    values = [_level(initial)] + [_level(row.value) for row in rows if row not in before]
    changes = channel_of(name, np.array(times, dtype=np.int64), np.array(values))
    if samples is None:
        return changes
    return channel_of(name, samples, np.array([changes.at(int(time)) for time in samples]))


def _at_rest(board: Board, name: str, powered: bool) -> State:
    row = board.inputs.get(name)
    if name in board.outputs:
        return board.outputs[name].contact == "normally closed"
    if row is None:
        return name == POWER and powered
    if row.kind is InputKind.SENSOR:
        return None
    return row.contact == "normally closed"


def _level(value: State) -> float:
    return float("nan") if value is None else float(value)

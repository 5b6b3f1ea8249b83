"""The recordings of the library's boards, each made by a simulated board in order or with one fault.

Law of this module: the same files come out every time, byte for byte, from the scenarios and the list beside them;
nothing is written by hand, and what the table says of a recording is what the judge says of its file. Run ``python
tests/boards/library_recordings.py`` after a change of a board.
"""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path
from typing import cast

from attrs import frozen

from boardgauge.boards import board_path
from boardgauge.command.finding import find_wiring
from boardgauge.faults import fault_of
from boardgauge.judging.judge import Judge
from boardgauge.judging.judgement import Judgement
from boardgauge.language import Board, read_board
from boardgauge.machine.chance import Timings
from boardgauge.machine.compile import compile_board
from boardgauge.machine.run import Run
from boardgauge.machine.scenario import ScenarioStuck, play
from boardgauge.machine.scenario_reader import read_scenario
from boardgauge.traces import Wiring, condition, read_recording
from boardgauge.traces.simulated import recording_of
from boardgauge.traces.writing import write_recording

FOLDER = Path(__file__).parents[1] / "recordings" / "library"
BEGINS = "<!-- the table is written by tests/boards/library_recordings.py -->"
HEAD = "| recording | what is wrong with the board | verdict | clause | moment |\n|---|---|---|---|---|"


@frozen
class Entry:
    """One recording: its file, the scenario, the fault (None: a board in order), and the durations used."""

    file: str
    scenario: str
    timings: str
    seed: int
    fault: str | None = None

    @property
    def board(self) -> str:
        """The board, as the name of the scenario begins with it."""
        return self.scenario.split("_", 1)[0]


def entries() -> tuple[Entry, ...]:
    """Give the list of ``recordings.toml``."""
    listed = tomllib.loads((FOLDER / "recordings.toml").read_text(encoding="utf-8"))["recording"]
    return tuple(Entry(**row) for row in listed)


def board_of(entry: Entry) -> Board:
    """Give the board in order."""
    return read_board(board_path(entry.board))


def wiring_of(entry: Entry) -> Wiring:
    """Give the wiring that ``boardgauge judge`` takes unless it is told another."""
    return find_wiring(None, board_of(entry), board_path(entry.board))


def make(entry: Entry, folder: Path) -> Path:
    """Write the recording into a folder, and give its file."""
    board = board_of(entry)
    scenario = read_scenario(FOLDER / "scenarios" / f"{entry.scenario}.toml", board)
    maker = board if entry.fault is None else fault_of(board, entry.fault).board
    try:
        run: Run = play(compile_board(maker), scenario, cast("Timings", entry.timings), entry.seed)
    except ScenarioStuck as error:
        if entry.fault is None:
            raise
        run = error.run
    write_recording(recording_of(run, board, wiring_of(entry), entry.file), folder / entry.file)
    return folder / entry.file


def judged(entry: Entry) -> Judgement:
    """Give the judgement of the file, by the board in order."""
    trace = condition(read_recording(FOLDER / entry.file), wiring_of(entry), board_of(entry))
    return judge_of(entry.board).judge(trace)


@cache
def judge_of(name: str) -> Judge:
    """Give the judge of a board, which remembers from one recording to the next."""
    return Judge.of(read_board(board_path(name)))


def row_of(entry: Entry) -> str:
    """Give the row of the table that the judge's verdict makes."""
    judgement = judged(entry)
    wrong = "nothing" if entry.fault is None else fault_of(board_of(entry), entry.fault).name
    clause, moment = "", ""
    if judgement.deviations:
        first = judgement.deviations[0]
        clause, moment = first.clause or "", f"{judgement.seconds(first.time):.3f} s"
    return f"| `{entry.file}` | {wrong} | {judgement.verdict} | {clause} | {moment} |"


def rows_written() -> tuple[str, ...]:
    """Give the rows of the table that stand in the README."""
    _, table = (FOLDER / "README.md").read_text(encoding="utf-8").split(BEGINS)
    return tuple(table.replace(HEAD, "").strip().splitlines())


def main() -> None:
    """Write the recordings, and the table of the README."""
    for entry in entries():
        make(entry, FOLDER)
    prose, _ = (FOLDER / "README.md").read_text(encoding="utf-8").split(BEGINS)
    table = "\n".join((BEGINS, "", HEAD, *(row_of(entry) for entry in entries()), ""))
    (FOLDER / "README.md").write_text(prose + table, encoding="utf-8")


if __name__ == "__main__":
    main()

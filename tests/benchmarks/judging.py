"""How fast a recording is judged, beside the same board in a general state-machine library, a temporal logic, plain
Python and C, all in one run over the same edges.

    python tests/benchmarks/judging.py [--edges 1000,100000,1000000] [--logic-edges 57000]

Law of this program: it measures and tells, and nothing hangs on a time. Times are processor seconds of this process, so
that what else the machine does counts little; only the command's time is by the clock on the wall too. Peak memory is
the greatest resident set of the command's own process (``wait4``). Its ratios, not its seconds, are worth keeping.
"""

from __future__ import annotations

import os
import platform
import subprocess
import sys
import tempfile
import time
from argparse import ArgumentParser
from collections.abc import Callable, Sequence
from importlib import import_module
from pathlib import Path
from types import ModuleType
from typing import Any, TypeVar

from attrs import define, field
from board_life import heat_pump, life
from nominal_c import compiled
from nominal_edges import edges_of
from nominal_plain import nominal_run
from speed_table import Measured, table

from boardgauge.judging.judge import Judge
from boardgauge.language.model import Board
from boardgauge.traces import Recording, Wiring, condition, read_recording
from boardgauge.traces.vcd_writer import write_vcd

T = TypeVar("T")
AT_MOST = 3
ENOUGH = 1.0
"""Each thing is done again up to so many times in all, until it has taken so many seconds; the best time counts."""
AGAIN = 6
"""A recording is judged so many more times by the same judge; the best time counts."""


def timed(do: Callable[[], T], at_most: int = AT_MOST) -> tuple[float, T]:
    """Do something a few times; give its best time in processor seconds, and what came of it."""
    best, spent = float("inf"), 0.0
    for _ in range(at_most):
        since = time.process_time()
        found = do()
        took = time.process_time() - since
        best, spent = min(best, took), spent + took
        if spent > ENOUGH:
            break
    return best, found


def command(path: Path) -> tuple[float, float, int]:
    """Judge a file by the command line; give seconds on the wall, processor seconds and peak memory in kB."""
    arguments = [sys.executable, "-c", "from boardgauge.command import main; main()", "judge", "tarnbeck", str(path)]
    # As a person runs it: what was imported once is kept compiled.
    keeping = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    best = (float("inf"), float("inf"), 0)
    for _ in range(AT_MOST):
        since = time.perf_counter()
        process = subprocess.Popen(arguments, stdout=subprocess.DEVNULL, env=keeping)
        _, status, usage = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
        if process.returncode not in {0, 1, 3}:
            raise RuntimeError(f"boardgauge judge {path} failed with exit status {process.returncode}")
        wall = time.perf_counter() - since
        best = min(best, (wall, usage.ru_utime + usage.ru_stime, usage.ru_maxrss))
        if wall > ENOUGH:
            break
    return best


def _optional(library: str, module: str, left_out: list[str]) -> ModuleType | None:
    try:
        import_module(library)
    except ImportError:
        left_out.append(f"the comparison with {library} (pip install '.[bench]')")
        return None
    return import_module(module)


@define
class Benchmark:
    """What is measured, on what; ``left_out`` says which comparison was not made."""

    board: Board
    wiring: Wiring
    logic_edges: int
    left_out: list[str] = field(factory=list)
    machines: ModuleType | None = None
    logic: ModuleType | None = None
    c_loop: Callable[..., dict[str, int]] | None = None

    def __attrs_post_init__(self) -> None:
        self.machines = _optional("transitions", "nominal_transitions", self.left_out)
        self.logic = _optional("rtamt", "monitored_rtamt", self.left_out)
        self.c_loop = compiled()
        if self.c_loop is None:
            self.left_out.append("the comparison with a C loop (there is no gcc or cc)")

    def measure(self, recording: Recording, folder: Path) -> Measured:
        """Judge a recording, and step every other one over its edges."""
        path = folder / "life.vcd"
        with path.open("w") as stream:
            write_vcd(recording, stream)
        edges = sum(len(channel.times) - 1 for channel in recording.channels.values())
        read, fresh = timed(lambda: read_recording(path))
        conditioned, trace = timed(lambda: condition(fresh, self.wiring, self.board))
        judge = Judge.of(self.board)
        # A judge keeps what it met often: the first recording pays for that, those after it have the use of it.
        first, judgement = timed(lambda: judge.judge(trace), 1)
        judged = min(timed(lambda: judge.judge(trace), 1)[0] for _ in range(AGAIN))
        columns = edges_of(trace)
        rows = list(zip(*(column.tolist() for column in columns), strict=True))
        runs: dict[str, tuple[float, Any]] = {"plain": timed(lambda: nominal_run(rows))}
        if self.c_loop is not None:
            c_loop = self.c_loop
            runs["c"] = timed(lambda: c_loop(columns))
        if self.machines is not None:
            machines = self.machines
            runs["transitions"] = timed(lambda: machines.nominal_run(rows))
        if len({tuple(tally.items()) for _, tally in runs.values()}) != 1:
            raise AssertionError(f"the nominal runs differ: {runs}")
        others = {name: took for name, (took, _) in runs.items()}
        if self.logic is not None and edges <= self.logic_edges:
            logic = self.logic
            others["rtamt"] = timed(lambda: logic.check(columns, trace.end))[0]
        wall, processor, peak = command(path)
        return Measured(
            edges, recording.end, judgement.verdict, read, conditioned, judged, first, others, wall, processor, peak
        )


def main(arguments: Sequence[str] | None = None) -> None:
    """Measure, and print the table."""
    parser = ArgumentParser(description="How fast a recording is judged, beside other ways of stepping the same board.")
    parser.add_argument("--edges", default="1000,100000,1000000", help="how many edges, separated by commas")
    parser.add_argument("--logic-edges", type=int, default=57_000, help="rtamt gets no more (its time is quadratic)")
    given = parser.parse_args(arguments)
    numbers = {int(number) for number in given.edges.split(",")}
    board, wiring = heat_pump()
    bench = Benchmark(board, wiring, given.logic_edges)
    if bench.logic is not None and max(numbers) > given.logic_edges:
        numbers.add(given.logic_edges)
    print(f"Python {platform.python_version()}, {platform.machine()}, {os.cpu_count()} processors; board {board.id}")
    print("times in processor seconds, best of up to three; ratios to judging (reading and conditioning apart)\n")
    with tempfile.TemporaryDirectory() as folder:
        found = [bench.measure(recording, Path(folder)) for recording in life(board, wiring, *sorted(numbers))]
    print(table(found))
    for what in bench.left_out:
        print(f"left out: {what}")


if __name__ == "__main__":
    main()

"""How often a diagnosis names the fault that a board has: first, and among the first three.

``python tests/benchmarks/diagnosis.py [BOARD ...] [--faults N] [--seed N]``. Of each board a seeded sample of faults is
simulated through random lives with random timings; those whose recording deviates are diagnosed as the command does it.

Two ranks are counted. ``fault``: the place of the very fault among the explanations, one after another as they are
listed. ``group``: the place of its group, that is, of the explanations that look alike to it whatever single step is
done next; every member has to look like every other. A fault that is not among the explanations, or too far down for
groups to be worked out, has no group but itself. ``size`` is how many explanations the first three groups have in all.
"""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path
from random import Random

from attrs import define, field

sys.path.insert(0, str(Path(__file__).parent.parent))

from benchmarks.faulty_lives import life, trace_of
from boardgauge.boards import board_names, board_path
from boardgauge.diagnosis import Diagnoser, Diagnosis
from boardgauge.faults import Fault, faults_of
from boardgauge.faults.listing import unwatched
from boardgauge.judging.first import FirstJudge
from boardgauge.language import read_board
from boardgauge.language.model import Board
from boardgauge.traces import Trace

LIVES = 4
"""So many lives are tried until a fault shows."""


@define
class Tally:
    """What came of the faults of one board."""

    board: str
    ranks: list[int | None] = field(factory=list)
    group_ranks: list[int | None] = field(factory=list)
    sizes: list[int] = field(factory=list)
    hidden: int = 0
    seconds: float = 0.0

    def told(self) -> str:
        """Give the row of the table."""
        number = len(self.ranks)
        if not number:
            return f"{self.board:<26} none of {self.hidden} faults showed"
        shares = [_share(row, most) for row in (self.ranks, self.group_ranks) for most in (1, 3)]
        shares.append(_share(self.ranks, 10_000))
        words = "  ".join(f"{100 * share:5.1f} %" for share in shares)
        size = sum(self.sizes) / number
        return f"{self.board:<26} {number:>4} {self.hidden:>6}   {words}   {size:5.1f} {self.seconds / number:7.1f} s"

    def add(self, other: Tally) -> None:
        """Take in what came of another board's."""
        self.ranks += other.ranks
        self.group_ranks += other.group_ranks
        self.sizes += other.sizes
        self.hidden += other.hidden
        self.seconds += other.seconds


HEADING = "board                     shown hidden  fault 1st   in 3  group 1st   in 3   at all    size    each"


def _share(ranks: list[int | None], most: int) -> float:
    return sum(1 for rank in ranks if rank is not None and rank <= most) / len(ranks)


def showing_life(fault: Fault, board: Board, seed: int) -> Trace | None:
    """Give the trace of the first of some random lives in which a fault shows; None where it shows in none."""
    judge = FirstJudge.of(unwatched(board))
    for attempt in range(LIVES):
        run = life(fault, board, seed + attempt)
        if run is not None and judge.judge(trace := trace_of(run, board)).verdict == "deviates":
            return trace
    return None


def ranks_of(fault: Fault, diagnosis: Diagnosis) -> tuple[int | None, int | None]:
    """Give the place of a fault among the explanations, and that of its group among the groups."""
    alone = [e.faults[0].id for e in diagnosis.explanations]
    grouped = [fault.id in [e.faults[0].id for e in group] for group in diagnosis.groups]
    if fault.id not in alone:
        return None, None
    return alone.index(fault.id) + 1, grouped.index(True) + 1


def diagnose_faults(board: Board, faults: list[Fault], seed: int, *, verbose: bool = False) -> Tally:
    """Diagnose a random life of each fault that shows."""
    tally = Tally(board.id)
    for number, fault in enumerate(faults):
        trace = showing_life(fault, board, seed + 1000 * number)
        if trace is None:
            tally.hidden += 1
            continue
        begun = time.perf_counter()
        diagnosis = Diagnoser(board).diagnose(trace)
        tally.seconds += time.perf_counter() - begun
        rank, group_rank = ranks_of(fault, diagnosis)
        tally.ranks.append(rank)
        tally.group_ranks.append(group_rank)
        tally.sizes.append(sum(len(group) for group in diagnosis.groups[:3]))
        if verbose and (group_rank is None or group_rank > 3):
            first = [group[0].faults[0].id for group in diagnosis.groups[:4]]
            print(
                f"  {fault.id}: rank {rank} (group {group_rank}) of {len(diagnosis.explanations)}: {first}", flush=True
            )
    return tally


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser()
    parser.add_argument("boards", nargs="*", default=board_names())
    parser.add_argument("--faults", type=int, default=25, help="how many faults of each board")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument(
        "--verbose", action="store_true", help="name the faults whose group is not among the first three"
    )
    given = parser.parse_args()
    print(HEADING)
    whole = Tally("all")
    for name in given.boards:
        board = read_board(board_path(name))
        faults = list(faults_of(board))
        sample = Random(given.seed).sample(faults, min(given.faults, len(faults)))
        tally = diagnose_faults(board, sample, given.seed, verbose=given.verbose)
        print(tally.told(), flush=True)
        whole.add(tally)
    print(whole.told())


if __name__ == "__main__":
    main()

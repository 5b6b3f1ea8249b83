"""How often a diagnosis names the fault that a board has: first, and among the first three.

``python tests/benchmarks/diagnosis.py [BOARD ...] [--faults N] [--seed N]``. Of each board a seeded sample of faults is
simulated through random lives with random timings; of those whose recording deviates it is told how the fault ranks:
alone (``fault``), and with those that no single step would part from it taken as one (``group``).
"""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path
from random import Random

from attrs import define, field

sys.path.insert(0, str(Path(__file__).parent))

from faulty_lives import life, trace_of

from boardgauge.boards import board_path
from boardgauge.diagnosis.explaining import candidates, explained, first_deviation
from boardgauge.diagnosis.foretelling import foretell
from boardgauge.diagnosis.rehearsing import Rehearsal
from boardgauge.faults import Fault, faults_of
from boardgauge.faults.listing import unwatched
from boardgauge.language import read_board
from boardgauge.language.model import Board

BOARDS = ("tarnbeck", "tarnbeck-thermistor", "quillmere", "hearthgate", "sump-pumps", "extract-fan")
LIVES = 4
"""So many lives are tried until a fault shows."""
FORETOLD = 8


@define
class Tally:
    """What came of the faults of one board."""

    board: str
    ranks: list[int | None] = field(factory=list)
    group_ranks: list[int | None] = field(factory=list)
    hidden: int = 0
    seconds: float = 0.0

    def told(self) -> str:
        """Give the row of the table."""
        number = len(self.ranks)
        if not number:
            return f"{self.board:<20} none of {self.hidden} faults showed"
        shares = [_share(row, most) for row in (self.ranks, self.group_ranks) for most in (1, 3)]
        shares.append(_share(self.ranks, 10_000))
        words = "  ".join(f"{100 * share:5.1f} %" for share in shares)
        return f"{self.board:<20} {number:>4} {self.hidden:>6}   {words}   {self.seconds / number:6.1f} s"


def _share(ranks: list[int | None], most: int) -> float:
    return sum(1 for rank in ranks if rank is not None and rank <= most) / len(ranks)


def diagnose_faults(board: Board, faults: list[Fault], seed: int, *, verbose: bool = False) -> Tally:
    """Diagnose a random life of each fault that shows."""
    tally = Tally(board.id)
    good = unwatched(board)
    for number, fault in enumerate(faults):
        for attempt in range(LIVES):
            run = life(fault, board, seed + 1000 * number + attempt)
            trace = None if run is None else trace_of(run, board)
            deviation = None if trace is None else first_deviation(good, trace)
            if deviation is not None:
                break
        else:
            tally.hidden += 1
            continue
        assert trace is not None
        begun = time.perf_counter()
        assert deviation is not None
        tried = candidates(good, faults_of(board), trace, None, deviation)
        found = explained(good, tried, trace)
        tally.seconds += time.perf_counter() - begun
        ids = [e.faults[0].id for e in found]
        rank = ids.index(fault.id) + 1 if fault.id in ids else None
        tally.ranks.append(rank)
        tally.group_ranks.append(rank)
        if rank is not None and rank > 1:
            top = found[: max(FORETOLD, rank)][:16]
            told = foretell(Rehearsal(good, trace), top, [e.faults[0].board for e in top]).explanations
            groups = list(dict.fromkeys(e.group for e in told))
            mine = next((e.group for e in told if e.faults[0].id == fault.id), None)
            tally.group_ranks[-1] = rank if mine is None else groups.index(mine) + 1
        if verbose and (rank is None or rank > 3):
            print(f"  {fault.id}: rank {rank} (group {tally.group_ranks[-1]}) of {len(found)}: {ids[:4]}", flush=True)
    return tally


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser()
    parser.add_argument("boards", nargs="*", default=BOARDS)
    parser.add_argument("--faults", type=int, default=25, help="how many faults of each board")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--verbose", action="store_true", help="name the faults that do not come among the first three")
    given = parser.parse_args()
    print("board              shown hidden   fault 1st  in 3    group 1st  in 3     at all   each")
    tallies = []
    for name in given.boards:
        board = read_board(board_path(name))
        faults = list(faults_of(board))
        sample = Random(given.seed).sample(faults, min(given.faults, len(faults)))
        tallies.append(diagnose_faults(board, sample, given.seed, verbose=given.verbose))
        print(tallies[-1].told(), flush=True)
    whole = Tally("all")
    for tally in tallies:
        whole.ranks += tally.ranks
        whole.group_ranks += tally.group_ranks
        whole.hidden += tally.hidden
        whole.seconds += tally.seconds
    print(whole.told())


if __name__ == "__main__":
    main()

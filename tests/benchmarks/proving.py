"""How fast a spec is explored with its times, and what each reduction saves.

Law of this module: every figure is of one exploration to its end or to the bound, and says which; the seconds hang on
the machine, the numbers of zones do not. Run it: ``python tests/benchmarks/proving.py [--most ZONES] [--up-to N]``.

The reductions: *slicing* (only what a requirement hangs on), *active clocks* (a timing is followed only where it can
rule a way out: ``prove`` finds which), *joining* (the zones of a place as one), and what ``prove`` does (a few rules at
first, the others left open). Off means: the whole board, every timing followed, every zone apart.
"""

from __future__ import annotations

import argparse
import time
import tracemalloc
from collections.abc import Iterator

from attrs import evolve, frozen

from boardgauge.boards import board_path
from boardgauge.language import read_board, read_board_text
from boardgauge.language.model import Board, Together
from boardgauge.machine.compile import compile_board
from boardgauge.machine.settle import Engine
from boardgauge.proving.requirements import prove
from boardgauge.proving.slicing import slice_of
from boardgauge.proving.timed import explore_timed

BOARDS = ("extract-fan", "hearthgate", "sump-pumps", "tarnbeck", "quillmere")
SIZES = (2, 3, 4, 6, 8, 12, 16, 20)


@frozen
class Measured:
    """One exploration: zones kept, whether to the end, seconds, and the most memory it took beside the rest."""

    what: str
    timings: int
    zones: int
    complete: bool
    seconds: float
    megabytes: float


def synthetic(timings: int) -> Board:
    """Give a board with so many timings: chains of three delays, each chain begun by an input of its own.

    Its one requirement hangs on the first two timings alone.
    """
    chains = -(-timings // 3)
    lines = ['language = 1\n[board]\nid = "chains"\ntitle = "Chains (invented)"\ntolerance = "± 5 %"']
    for chain in range(chains):
        lines.append(f'[inputs.go{chain}]\nkind = "call"')
        here = min(3, timings - 3 * chain)
        for link in range(here):
            begins = f"go{chain} begins" if link == 0 else f"d{chain}_{link - 1} expires"
            lines.append(
                f'[rules.d{chain}_{link}]\nkind = "delay"\nbegins = "{begins}"\nlasts = "{7 + 3 * link + chain} s"\n'
                f'if_begun_again = "runs on"'
            )
        on = " or ".join(f"d{chain}_{link}" for link in range(here))
        lines.append(f'[outputs.lit{chain}]\non = "{on}"')
    lines.append('[requirements.quick]\nnever = "d0_1 begins less than 5 s after d0_0 begins"')
    return read_board_text("\n".join(lines), "chains.toml")


def measured(
    what: str, board: Board, most: int, joined: int | None = None, timed: frozenset[int] | None = None
) -> Measured:
    """Explore a board with its times."""
    engine = Engine(compile_board(board))
    with _Watched() as watched:
        space = explore_timed(engine, None, None, most, None, joined, False, timed)
    return Measured(what, len(engine.machine.timings), space.zones, space.complete, watched.seconds, watched.megabytes)


def rows_of(board: Board, requirement: str, most: int) -> Iterator[Measured]:
    """Measure one requirement of a board with the reductions off, each added in turn, and as it is proved."""
    whole = evolve(board, requirements={requirement: board.requirements[requirement]}, lamps={}, not_judged=())
    part = slice_of(board, requirement)
    hidden = frozenset(t.index for t in compile_board(part).timings if t.role == "requirement")
    yield measured("nothing reduced", whole, most)
    yield measured("sliced", part, most)
    yield measured("sliced, zones joined", part, most, joined=1)
    yield measured("sliced, joined, only its own time followed", part, most, joined=1, timed=hidden)
    alone = evolve(board, requirements={requirement: board.requirements[requirement]})
    with _Watched() as watched:
        (proof,) = prove(alone, most)
    complete = proof.verdict != "undecided"
    number = len(compile_board(alone).timings)
    what = f"as it is proved: {proof.verdict}"
    yield Measured(what, number, proof.explored, complete, watched.seconds, watched.megabytes)


class _Watched:
    seconds = 0.0
    megabytes = 0.0

    def __enter__(self) -> _Watched:
        tracemalloc.start()
        self._begin = time.perf_counter()
        return self

    def __exit__(self, *_: object) -> None:
        self.seconds = time.perf_counter() - self._begin
        self.megabytes = tracemalloc.get_traced_memory()[1] / 1e6
        tracemalloc.stop()


def told(row: Measured) -> str:
    """Give a row of the table."""
    end = "" if row.complete else " (bound reached)"
    speed = row.zones / row.seconds if row.seconds else 0
    return (
        f"  {row.what:<46} {row.timings:>3} timings {row.zones:>8} zones {row.seconds:>8.2f} s "
        f"{speed:>8.0f} zones/s {row.megabytes:>7.1f} MB{end}"
    )


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", 1)[0])
    parser.add_argument("--most", type=int, default=20_000, help="zones kept in one exploration")
    parser.add_argument("--up-to", type=int, default=20, help="timings of the greatest synthetic board")
    parser.add_argument("--boards", nargs="*", default=BOARDS)
    asked = parser.parse_args()
    print("Tracing memory slows every row alike.\n\nBoards that grow, by their number of timings:")
    for size in SIZES:
        if size <= asked.up_to:
            for row in rows_of(synthetic(size), "quick", asked.most):
                print(told(row))
    for name in asked.boards:
        board = read_board(board_path(name))
        for requirement, row in board.requirements.items():
            if isinstance(row.demand, Together):
                continue
            print(f"{name}, {requirement}:")
            for found in rows_of(board, requirement, asked.most):
                print(told(found))


if __name__ == "__main__":
    main()

"""How fast a spec is explored with its times, and what each reduction saves.

Law of this module: every figure is of one exploration to its end or to the bound, and says which; the seconds hang on
the machine, the numbers of zones do not. Run it: ``python tests/benchmarks/proving.py [--most ZONES] [--up-to N]``.

The reductions: *slicing* (only what a requirement hangs on), *active clocks* (a timing is followed only where it can
rule a way out: ``prove`` finds which), *joining* (the zones of a place as one), *folding* (ways of the inputs that lead
into one another without a trace count as one), and what ``prove`` does (a few rules at first, the others left open).
Off means: the whole board, every timing followed, every zone apart.

``--library`` goes through what ``vet`` proves of every board of the library, each in a process of its own, and
``--library --write`` puts the table into ``docs/proving.md``.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import resource
import subprocess
import sys
import time
import tracemalloc
from collections import Counter
from collections.abc import Iterator, Sequence
from pathlib import Path

from attrs import asdict, evolve, frozen

from boardgauge.boards import board_names, board_path
from boardgauge.language import read_board, read_board_text
from boardgauge.language.model import Board, Together
from boardgauge.machine.compile import compile_board
from boardgauge.machine.settle import Engine
from boardgauge.proving.folding import folds_of
from boardgauge.proving.reach import reachable_parts
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


def in_a_row(timings: int) -> Board:
    """Give a board with so many timings in one row, and a requirement that hangs on every one of them."""
    lines = ['language = 1\n[board]\nid = "row"\ntitle = "A row (invented)"\ntolerance = "± 10 %"']
    lines.append('[inputs.go]\nkind = "call"')
    for link in range(timings):
        begins = 'power_up"' if link == 0 else f'd{link - 1} expires"\nif_begun_again = "starts over"'
        lines.append(f'[rules.d{link}]\nkind = "delay"\nbegins = "{begins}\nlasts = "10 s"\ncut_by = "go begins"')
    last = f"d{timings - 1}"
    lines.append(f'[outputs.lit]\non = "{last}"')
    least = 9 * (timings - 1)
    lines.append(f'[requirements.whole]\nnever = "{last} begins less than {max(1, least)} s after power_up"')
    return read_board_text("\n".join(lines), "row.toml")


def measured(
    what: str,
    board: Board,
    most: int,
    joined: int | None = None,
    timed: frozenset[int] | None = None,
    folded: bool = False,
) -> Measured:
    """Explore a board with its times."""
    engine = Engine(compile_board(board))
    with _Watched() as watched:
        folds = folds_of(engine, False, timed) if folded else None
        space = explore_timed(engine, None, None, most, None, joined, False, timed, folds=folds)
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
    yield measured("the same, inputs folded", part, most, joined=1, timed=hidden, folded=True)
    yield as_proved(board, requirement, most)


def as_proved(board: Board, requirement: str, most: int) -> Measured:
    """Measure one requirement as it is proved."""
    alone = evolve(board, requirements={requirement: board.requirements[requirement]})
    with _Watched() as watched:
        (proof,) = prove(alone, most)
    complete = proof.verdict != "undecided"
    number = len(compile_board(alone).timings)
    what = f"as it is proved: {proof.verdict}"
    return Measured(what, number, proof.explored, complete, watched.seconds, watched.megabytes)


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


# -- the library ----------------------------------------------------------------------------------------------------

DOCUMENT = Path(__file__).resolve().parents[2] / "docs" / "proving.md"
BEGINS, ENDS = "% the table of the library begins", "% the table of the library ends"


@frozen
class OfBoard:
    """What proving everything of a board took: processor seconds, the peak of memory in MB, and the zones kept."""

    name: str
    verdicts: dict[str, int]
    zones: int
    seconds: float
    megabytes: float

    def row(self) -> str:
        """Give a row of the table."""
        decided = self.verdicts.get("proved", 0) + self.verdicts.get("refuted", 0)
        asked = decided + self.verdicts.get("undecided", 0)
        told = f"{decided} of {asked}" if asked else "-"
        seconds = "under 0.5" if self.seconds < 0.5 else f"{self.seconds:.1f}"
        return f"| {self.name} | {told} | {self.zones:,} | {seconds} | {self.megabytes:.0f} |"


def prove_all(name: str) -> OfBoard:
    """Do in this process what ``vet`` does to prove everything of a board."""
    board = read_board(board_path(name))
    begin = time.process_time()
    reached = reachable_parts(board)
    proofs = list(prove(board))
    seconds = time.process_time() - begin
    zones = reached.explored + sum(proof.explored for proof in proofs)
    unit = 1e6 if sys.platform == "darwin" else 1e3
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / unit
    return OfBoard(name, dict(Counter(proof.verdict for proof in proofs)), zones, seconds, peak)


def library(names: Sequence[str]) -> Iterator[OfBoard]:
    """Prove everything of these boards, one after the other."""
    for name in names:
        done = subprocess.run([sys.executable, __file__, "--one", name], capture_output=True, text=True, check=True)
        yield OfBoard(**json.loads(done.stdout))


def library_table(rows: Sequence[OfBoard]) -> str:
    """Give the table, the dearest boards first, those that take next to nothing in one row."""
    dear = sorted((row for row in rows if row.seconds >= 0.5), key=lambda row: -row.seconds)
    cheap = [row for row in rows if row.seconds < 0.5]
    lines = ["| board | decided | zones | seconds | MB |", "|---|---|---|---|---|", *(row.row() for row in dear)]
    if cheap:
        verdicts = sum((Counter(row.verdicts) for row in cheap), Counter[str]())
        most = max(row.megabytes for row in cheap)
        together = OfBoard(f"{len(cheap)} others, each", dict(verdicts), max(row.zones for row in cheap), 0.0, most)
        lines.append(together.row())
    machine = f"Python {platform.python_version()} on {platform.machine()}, one of {os.cpu_count()} shared cores"
    return "\n".join([f"Processor seconds and peak memory with {machine}:", "", *lines])


def put_in(text: str, table: str) -> str:
    """Give a document with the table between its two marks."""
    before, rest = text.split(BEGINS + "\n")
    _, after = rest.split(ENDS)
    return f"{before}{BEGINS}\n\n{table}\n\n{ENDS}{after}"


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", 1)[0])
    parser.add_argument("--most", type=int, default=20_000, help="zones kept in one exploration")
    parser.add_argument("--up-to", type=int, default=20, help="timings of the greatest synthetic board")
    parser.add_argument("--boards", nargs="*", default=BOARDS)
    parser.add_argument("--library", nargs="*", metavar="BOARD", help="what vet proves of each board of the library")
    parser.add_argument("--write", action="store_true", help="put the table of the library into docs/proving.md")
    parser.add_argument("--one", metavar="BOARD", help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.one:
        print(json.dumps(asdict(prove_all(asked.one))))
    elif asked.library is not None:
        table = library_table(list(library(asked.library or list(board_names()))))
        print(table)
        if asked.write:
            DOCUMENT.write_text(put_in(DOCUMENT.read_text(encoding="utf-8"), table), encoding="utf-8")
    else:
        print_reductions(asked.most, asked.up_to, asked.boards)


def print_reductions(most: int, up_to: int, boards: Sequence[str]) -> None:
    """Print what each reduction saves, on boards that grow and on some of the library."""
    print("Tracing memory slows every row alike.\n\nBoards that grow, by their number of timings:")
    for size in SIZES:
        if size <= up_to:
            for row in rows_of(synthetic(size), "quick", most):
                print(told(row))
    print("Boards that grow, and a requirement that hangs on all of their timings:")
    for size in SIZES:
        if size <= up_to:
            print(told(as_proved(in_a_row(size), "whole", most)))
    for name in boards:
        board = read_board(board_path(name))
        for requirement, asked in board.requirements.items():
            if isinstance(asked.demand, Together):
                continue
            print(f"{name}, {requirement}:")
            for found in rows_of(board, requirement, most):
                print(told(found))


if __name__ == "__main__":
    main()

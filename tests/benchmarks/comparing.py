"""How long it takes to compare boards, and what comes of it: pairs of the library, and each board with itself.

Law of this module: every figure is of one comparison to its verdict, in a process of its own; the seconds are the
processor's and hang on the machine, the verdicts do not. Run it: ``python tests/benchmarks/comparing.py [--only A B]``;
``--write`` puts the table into ``docs/comparing.md``.

A board is compared with itself by proof alone: both machines are taken through everything, as if their specs were
written otherwise. It is what a comparison costs where nothing differs.
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
from collections.abc import Iterator, Sequence
from fractions import Fraction
from pathlib import Path

from attrs import asdict, frozen

from boardgauge.boards import board_names, board_path
from boardgauge.comparing.comparison import Comparer
from boardgauge.comparing.terminals import not_comparable
from boardgauge.language import read_board
from boardgauge.language.model import Board
from boardgauge.machine.run import Value
from boardgauge.pairing.lockstep import lockstep
from boardgauge.pairing.pair import Pair, engine_of
from boardgauge.pairing.renaming import Renaming

DOCUMENT = Path(__file__).resolve().parents[2] / "docs" / "comparing.md"
BEGINS, ENDS = "% the table of comparisons begins", "% the table of comparisons ends"

COIL: Value = Fraction(20)
PAIRS: tuple[tuple[str, str, Renaming], ...] = (
    ("quillmere", "quillmere-split", Renaming(second_only={"inputs": {"overflow": True}})),
    ("tarnbeck", "tarnbeck-renewed", Renaming(second_only={"inputs": {"hold": False}})),
    (
        "tarnbeck",
        "tarnbeck-thermistor",
        Renaming(first_only={"inputs": {"cold": False, "warm": True}}, second_only={"inputs": {"coil": COIL}}),
    ),
    ("heat-pump-defrost", "heat-pump-defrost-demand", Renaming(second_only={"inputs": {"air": COIL}})),
    ("heat-pump-defrost", "heat-pump-defrost-sampled", Renaming()),
    ("hearthgate", "hearthgate-spark", Renaming(second_only={"inputs": {"reset": False}})),
    ("cold-room", "cold-room-timed", Renaming(first_only={"inputs": {"coil": COIL}, "outputs": {"alarm": None}})),
    ("cold-room", "cold-room-adaptive", Renaming()),
)
"""The pairs with what a mapping file has to say: an overflow that stands closed, coils at 20 °C, the rest at rest."""


@frozen
class Compared:
    """One comparison: its boards, the verdict, how much was explored or tried, processor seconds, peak memory in MB."""

    first: str
    second: str
    verdict: str
    what: str
    seconds: float
    megabytes: float

    def row(self) -> str:
        """Give a row of the table."""
        seconds = "under 0.5" if self.seconds < 0.5 else f"{self.seconds:.1f}"
        return f"| {self.first} | {self.second} | {self.verdict} | {self.what} | {seconds} | {self.megabytes:.0f} |"


def turned(renaming: Renaming) -> Renaming:
    """Give the mapping the other way round."""
    return Renaming(renaming.names, renaming.second_only, renaming.first_only)


def pairs() -> Iterator[tuple[str, str, Renaming]]:
    """Give every pair, both ways round."""
    for first, second, renaming in PAIRS:
        yield first, second, renaming
        yield second, first, turned(renaming)


def compare(first: str, second: str) -> Compared:
    """Compare two boards in this process; one with itself by proof alone."""
    one, other = (read_board(board_path(name)) for name in (first, second))
    begin = time.process_time()
    verdict, what = _by_proof(one) if first == second else _as_asked(one, other)
    seconds = time.process_time() - begin
    unit = 1e6 if sys.platform == "darwin" else 1e3
    return Compared(first, second, verdict, what, seconds, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / unit)


def _by_proof(board: Board) -> tuple[str, str]:
    found = lockstep(Pair(engine_of(board), engine_of(board)), False)
    verdict = {"held": "same", "open": "undecided"}[found.verdict]
    return verdict, f"{found.explored:,} pairs of states"


def _as_asked(one: Board, other: Board) -> tuple[str, str]:
    renaming = next(row for first, second, row in pairs() if (first, second) == (one.id, other.id))
    other = renaming.in_first_words(other)
    reasons = not_comparable(one, other, renaming)
    if reasons:
        raise SystemExit("\n".join(reasons))
    held = {**renaming.first_only.get("inputs", {}), **renaming.second_only.get("inputs", {})}
    found = Comparer(one, other, held={name: value for name, value in held.items() if value is not None}).compare()
    alone = sum(row.said in {"tells", "no difference"} for row in found.rows)
    asked = sum(row.said in {"tells", "no difference", "not found"} for row in found.rows)
    return found.verdict, f"{alone} of {asked} entries decided alone"


def measured(boards: Sequence[tuple[str, str]]) -> Iterator[Compared]:
    """Compare these, one after the other, each in a process of its own."""
    for pair in boards:
        done = subprocess.run([sys.executable, __file__, "--one", *pair], capture_output=True, text=True, check=False)
        if done.returncode:
            raise SystemExit(done.stderr)
        found = Compared(**json.loads(done.stdout))
        print(found.row(), file=sys.stderr, flush=True)
        yield found


def table_of(rows: Sequence[Compared]) -> str:
    """Give the table: the pairs, then the boards by themselves, those that take next to nothing in one row."""
    lines = ["| first | second | verdict | what | seconds | MB |", "|---|---|---|---|---|---|"]
    lines += [row.row() for row in rows if row.first != row.second]
    alone = [row for row in rows if row.first == row.second]
    dear = sorted((row for row in alone if row.seconds >= 0.5), key=lambda row: -row.seconds)
    lines += [_of_itself(row) for row in dear]
    cheap = [row for row in alone if row.seconds < 0.5]
    if cheap:
        verdicts = ", ".join(sorted({row.verdict for row in cheap}))
        most = max(row.megabytes for row in cheap)
        lines.append(f"| {len(cheap)} others, each | itself | {verdicts} | | under 0.5 | {most:.0f} |")
    machine = f"Python {platform.python_version()} on {platform.machine()}, one of {os.cpu_count()} shared cores"
    return "\n".join([f"Processor seconds and peak memory with {machine}:", "", *lines])


def _of_itself(row: Compared) -> str:
    return row.row().replace(f"| {row.first} | {row.second} |", f"| {row.first} | itself |")


def put_in(text: str, table: str) -> str:
    """Give a document with the table between its two marks."""
    before, rest = text.split(BEGINS + "\n")
    _, after = rest.split(ENDS)
    return f"{before}{BEGINS}\n\n{table}\n\n{ENDS}{after}"


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", 1)[0])
    parser.add_argument("--only", nargs="*", metavar="BOARD", help="comparisons of these boards alone")
    parser.add_argument("--write", action="store_true", help="put the table into docs/comparing.md")
    parser.add_argument("--one", nargs=2, metavar="BOARD", help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.one:
        print(json.dumps(asdict(compare(*asked.one))))
        return
    boards = [(first, second) for first, second, _ in pairs()] + [(name, name) for name in board_names()]
    if asked.only is not None:
        boards = [pair for pair in boards if set(pair) <= set(asked.only)]
    table = table_of(list(measured(boards)))
    print(table)
    if asked.write:
        DOCUMENT.write_text(put_in(DOCUMENT.read_text(encoding="utf-8"), table), encoding="utf-8")


if __name__ == "__main__":
    main()

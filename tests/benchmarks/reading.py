"""How fast recordings are read to their edges, and in how much memory, beside general libraries, all in one run.

    python tests/benchmarks/reading.py [--rows 10000000] [--changes 5000000] [--short 200000] [--times 2]

and in how much memory they are looked into and converted: of the noisy table, and of its first three tenths.

Law of this program: it measures and tells, and nothing hangs on a time. Each way reads each file in a process of its
own; seconds are by the clock on the wall, of reading alone (libraries are loaded before), the best of ``--times``; peak
memory is the greatest resident set of that process. Ratios are pair by pair on one file, so they are worth keeping and
the seconds are not. Slow ways read a file of ``--short`` rows or changes, and are compared by megabytes a second.
"""

from __future__ import annotations

import json
import os
import platform
import resource
import subprocess
import sys
import tempfile
import time
from argparse import ArgumentParser
from collections.abc import Iterator, Sequence
from pathlib import Path

from attrs import frozen
from reading_files import write_dump, write_long_table, write_wide_table
from reading_ways import SLOW, WAYS

TABLES = ("boardgauge", "polars", "pyarrow", "numpy", "csv", "bytes")
KINDS: dict[str, tuple[str, tuple[str, ...]]] = {
    "clean": ("wide CSV, clean", TABLES),
    "noisy": ("wide CSV, one noisy channel", TABLES),
    "long": ("long CSV", tuple(way for way in TABLES if way != "numpy")),
    "dump": ("VCD", ("boardgauge", "pywellen", "vcdvcd", "pyvcd", "bytes")),
    "parquet": ("wide Parquet, clean", ("boardgauge", "polars", "pyarrow", "bytes")),
}
MOST_MEMORY = 300
COMMANDS = ("look", "convert to Parquet", "convert to VCD")


@frozen
class Measured:
    """One way on one file: seconds on the wall and of the processor, edges found, peak memory in MB."""

    way: str
    size: int
    wall: float
    processor: float
    edges: int
    peak: float

    @property
    def rate(self) -> float:
        """Megabytes a second."""
        return self.size / self.wall / 1e6


def measure(way: str, path: Path, times: int) -> Measured | None:
    """Read a file in a process of its own; None if the library is not there."""
    command = [sys.executable, __file__, "--way", way, "--file", str(path)]
    best: Measured | None = None
    for _ in range(times):
        done = subprocess.run(command, capture_output=True, text=True, check=False)
        if "ModuleNotFoundError" in done.stderr:
            return None
        if done.returncode:
            raise RuntimeError(f"{way} on {path.name}:\n{done.stderr}")
        found = Measured(way, path.stat().st_size, **json.loads(done.stdout))
        best = found if best is None or found.wall < best.wall else best
    return best


def one(way: str, path: Path) -> None:
    """Do the reading, and print what it took."""
    short = path.with_name(f"{path.stem}.tiny{path.suffix}")
    WAYS[way](short if short.exists() else path)  # so that everything is loaded
    since, processor = time.perf_counter(), time.process_time()
    edges = WAYS[way](path)
    took, used = time.perf_counter() - since, time.process_time() - processor
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(json.dumps({"wall": took, "processor": used, "edges": edges, "peak": peak}))


def make(kind: str, path: Path, count: int) -> None:
    """Make a file of a kind with so many rows or changes."""
    if kind in ("clean", "noisy"):
        write_wide_table(path, count, kind == "noisy")
    elif kind == "long":
        write_long_table(path, count)
    elif kind == "dump":
        write_dump(path, count)
    else:
        import pyarrow.csv
        import pyarrow.parquet

        table = path.with_suffix(".csv")
        write_wide_table(table, count, noisy=False)
        rows = pyarrow.csv.open_csv(table)
        with pyarrow.parquet.ParquetWriter(path, rows.schema) as writer:
            for batch in rows:
                writer.write_batch(batch)
        table.unlink()


def told(kind: str, found: Sequence[Measured]) -> Iterator[str]:
    """Give a table of what was found on one kind of file."""
    own = found[0]
    yield f"\n{KINDS[kind][0]}: {own.size / 1e6:,.1f} MB, {own.edges:,} edges"
    yield f"  {'':<12}{'MB/s':>9}{'edges/s':>14}{'wall s':>9}{'cpu s':>9}{'peak MB':>9}{'boardgauge is':>16}"
    for row in found:
        rate = f"{row.edges / row.wall:,.0f}" if row.edges else "-"
        ratio = "" if row is own else f"{own.rate / row.rate:.3g}x"
        name = f"{row.way}{' *' if row.size != own.size else ''}"
        yield f"  {name:<12}{row.rate:>9.1f}{rate:>14}{row.wall:>9.2f}{row.processor:>9.2f}{row.peak:>9.0f}{ratio:>16}"


def by_commands(path: Path, rows: int, times: int) -> Iterator[str]:
    """Give a table of what the commands that keep everything take, on a noisy table and on a shorter one."""
    shorter = path.with_name("shorter.csv")
    make("noisy", shorter, max(rows * 3 // 10, 1))
    goals = []
    yield f"\nwide CSV, one noisy channel, as commands: {rows:,} rows, and {max(rows * 3 // 10, 1):,}"
    yield f"  {'':<20}{'MB/s':>9}{'wall s':>9}{'cpu s':>9}{'peak MB':>9}{'of the shorter':>16}"
    for command in COMMANDS:
        whole, part = measure(command, path, times), measure(command, shorter, times)
        assert whole is not None
        assert part is not None
        took = f"{whole.rate:>9.1f}{whole.wall:>9.2f}{whole.processor:>9.2f}"
        yield f"  {command:<20}{took}{whole.peak:>9.0f}{part.peak:>16.0f}"
        goals.append(
            _goal(f"{command} in less than {MOST_MEMORY} MB", f"{whole.peak:.0f} MB", whole.peak < MOST_MEMORY)
        )
    yield from ("", *goals)


def goals(found: dict[str, list[Measured]]) -> Iterator[str]:
    """Hold what was found against the goals; one that is missed is told like one that is met."""
    for kind, rows in found.items():
        own, others = rows[0], {row.way: row for row in rows[1:] if row.way != "bytes"}
        name = KINDS[kind][0]
        if kind == "dump":
            for way, least in (("vcdvcd", 2.0), ("pywellen", 1.0)):
                if way in others:
                    ratio = own.rate / others[way].rate
                    yield _goal(
                        f"{name} at least {least:g} times as fast as {way}", f"{ratio:.3g} times", ratio >= least
                    )
        elif others:
            fastest = max(others.values(), key=lambda row: row.rate)
            ratio = own.rate / fastest.rate
            what = f"{name} at least half as fast as the fastest general reader"
            yield _goal(what, f"{ratio:.3g} times {fastest.way}", ratio >= 0.5)
        yield _goal(f"{name} in less than {MOST_MEMORY} MB", f"{own.peak:.0f} MB", own.peak < MOST_MEMORY)


def _goal(what: str, found: str, met: bool) -> str:
    return f"{'met   ' if met else 'missed'}  {what}: {found}"


def main(arguments: Sequence[str] | None = None) -> None:
    """Make the files, measure, and print the tables."""
    parser = ArgumentParser(description="How fast recordings are read, beside general libraries.")
    parser.add_argument("--rows", type=int, default=10_000_000, help="rows of the wide tables")
    parser.add_argument("--changes", type=int, default=5_000_000, help="changes of the long table and the dump")
    parser.add_argument("--short", type=int, default=200_000, help="rows or changes for what is slow")
    parser.add_argument("--times", type=int, default=2, help="how often each is done; the best counts")
    parser.add_argument("--kinds", default=",".join(KINDS), help=f"which of {', '.join(KINDS)}")
    parser.add_argument("--way", help="for its own use: do one reading")
    parser.add_argument("--file", type=Path)
    given = parser.parse_args(arguments)
    if given.way:
        one(given.way, given.file)
        return
    print(f"Python {platform.python_version()}, {platform.machine()}, {os.cpu_count()} processors")
    print("* reads a shorter file; rates are by the clock on the wall")
    left_out: set[str] = set()
    everything: dict[str, list[Measured]] = {}
    for kind in given.kinds.split(","):
        with tempfile.TemporaryDirectory() as folder:
            suffix = {"dump": ".vcd", "parquet": ".parquet"}.get(kind, ".csv")
            count = given.changes if kind in ("long", "dump") else given.rows
            sizes = {"": count, ".short": min(given.short, count), ".tiny": 500}
            paths = {size: Path(folder) / f"{kind}{size}{suffix}" for size in sizes}
            for size, path in paths.items():
                make(kind, path, sizes[size])
            paths[""].with_name(f"{kind}.short.tiny{suffix}").write_bytes(paths[".tiny"].read_bytes())
            found: list[Measured] = []
            numbers: dict[str, set[int]] = {}
            for way in KINDS[kind][1]:
                size = ".short" if way in SLOW else ""
                row = measure(way, paths[size], given.times)
                if row is None:
                    left_out.add(way)
                    continue
                found.append(row)
                if way != "bytes":
                    numbers.setdefault(size, set()).add(row.edges)
            own_short = measure("boardgauge", paths[".short"], 1)
            if ".short" in numbers and own_short is not None:
                numbers[".short"].add(own_short.edges)
            if any(len(each) > 1 for each in numbers.values()):
                raise AssertionError(f"the numbers of edges differ on {kind}: {numbers}, {found}")
            everything[kind] = found
            print("\n".join(told(kind, found)), flush=True)
            if kind == "noisy":
                print("\n".join(by_commands(paths[""], given.rows, given.times)), flush=True)
    print("\n" + "\n".join(goals(everything)))
    for way in sorted(left_out):
        print(f"left out: {way} (pip install '.[dev]')")


if __name__ == "__main__":
    main()

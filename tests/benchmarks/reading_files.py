"""Recordings to measure reading with: made on the spot, the same ones every time.

Law of this module: what a logger would write, row by row; nothing is made easier to read than that.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TextIO

import numpy as np

CHANNELS = tuple(f"ch{number}" for number in range(16))
NOISY = "ch8"
THRESHOLD = 2.5
ROWS_A_CHANGE = 300
"""In a wide table one of the channels changes so often, in rows."""
_AT_ONCE = 20_000


def _toggles(chance: np.random.Generator, count: int) -> Iterator[tuple[int, int]]:
    """Give the rows at which a channel changes, and which."""
    rows = np.sort(chance.integers(0, count, count // ROWS_A_CHANGE + 1))
    return zip(rows.tolist(), chance.integers(0, len(CHANNELS), len(rows)).tolist(), strict=True)


def write_wide_table(path: Path, rows: int, noisy: bool) -> None:
    """Write a sampled table at 1 kHz; with ``noisy`` one of the channels is a measured one, noise all the way."""
    chance = np.random.default_rng(1)
    levels = [0] * len(CHANNELS)
    middle = CHANNELS.index(NOISY)
    with path.open("w") as stream:
        stream.write("t_s," + ",".join(CHANNELS) + "\n")
        for first in range(0, rows, _AT_ONCE):
            count = min(_AT_ONCE, rows - first)
            noise = (THRESHOLD + 0.4 + chance.normal(0, 0.25, count)).round(3).tolist() if noisy else [0.0] * count
            changes: dict[int, list[int]] = {}
            for row, channel in _toggles(chance, count):
                changes.setdefault(row, []).append(channel)
            before, behind, lines = "", "", []
            for row in range(count):
                for channel in changes.get(row, ()):
                    levels[channel] ^= 1
                if row in changes or not row:
                    texts = list(map(str, levels))
                    before, behind = ",".join(texts[:middle]), ",".join(texts[middle + 1 :])
                time = first + row
                own = noise[row] if noisy else levels[middle]
                lines.append(f"{time // 1000}.{time % 1000:03},{before},{own},{behind}\n")
            stream.write("".join(lines))


def _changes(changes: int) -> Iterator[tuple[int, int, int]]:
    """Give changes: time in microseconds, channel, level."""
    chance = np.random.default_rng(2)
    levels, now = [0] * len(CHANNELS), 0
    for first in range(0, changes, _AT_ONCE):
        count = min(_AT_ONCE, changes - first)
        times = np.cumsum(chance.integers(1, 5000, count)) + now
        now = int(times[-1])
        for time, channel in zip(times.tolist(), chance.integers(0, len(levels), count).tolist(), strict=True):
            levels[channel] ^= 1
            yield time, channel, levels[channel]


def write_long_table(path: Path, changes: int) -> None:
    """Write a table with a row for each change."""
    with path.open("w") as stream:
        stream.write("t_s,signal,value\n")
        _written(
            stream,
            (f"{t // 10**6}.{t % 10**6:06},{CHANNELS[channel]},{level}\n" for t, channel, level in _changes(changes)),
        )


def write_dump(path: Path, changes: int) -> None:
    """Write a value change dump."""
    with path.open("w") as stream:
        stream.write("$timescale 1 us $end\n$scope module bench $end\n")
        stream.write("".join(f"$var wire 1 {chr(33 + n)} {name} $end\n" for n, name in enumerate(CHANNELS)))
        stream.write("$upscope $end\n$enddefinitions $end\n#0\n$dumpvars\n")
        stream.write("".join(f"0{chr(33 + n)}\n" for n in range(len(CHANNELS))) + "$end\n")
        _written(stream, (f"#{t}\n{level}{chr(33 + channel)}\n" for t, channel, level in _changes(changes)))


def _written(stream: TextIO, lines: Iterator[str]) -> None:
    some: list[str] = []
    for line in lines:
        some.append(line)
        if len(some) == _AT_ONCE:
            stream.write("".join(some))
            some.clear()
    stream.write("".join(some))

"""Ways to read a recording to its edges: ours, and those of general libraries.

Law of this module: each way ends with the same, for every channel the times (whole microseconds) at which it changes,
in arrays; and gives their number. A measured channel changes where it crosses its threshold.
"""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterable
from contextlib import redirect_stdout
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np
from reading_files import CHANNELS, NOISY, THRESHOLD

Way = Callable[[Path], int]


def ours(path: Path) -> int:
    """Read as ``boardgauge judge`` does: of the measured channel only its crossings are kept."""
    from boardgauge.traces import read_recording

    reduction = _reduction() if path.name.startswith("noisy") else None
    recording = read_recording(path, most_unpacked=2**40, reduction=reduction)
    return sum(len(channel.times) - 1 for channel in recording.channels.values())


@cache
def _reduction() -> Any:
    from boardgauge.boards import board_path
    from boardgauge.language import read_board
    from boardgauge.traces import wiring_from
    from boardgauge.traces.reduction import Ask, Reduction

    class Measured(Reduction):
        def of(self, names: Iterable[str]) -> Ask | None:
            # The other channels are not wired here, and yet to be kept.
            return super().of(names) if NOISY in names else None

    wiring = (
        f'language = 1\nboard = "tarnbeck"\n[wiring]\nid = "w"\ntitle = "w"\n'
        f'[channels.{NOISY}]\nsignal = "fan"\nthreshold = {THRESHOLD}\n'
    )
    return Measured(wiring_from(wiring), read_board(board_path("tarnbeck")))


def plain(path: Path) -> int:
    """Read the bytes, and do nothing with them."""
    with path.open("rb") as stream:
        while stream.read(1 << 20):
            pass
    return 0


def _columns(times: Any, columns: dict[str, Any]) -> int:
    micros = np.rint(np.asarray(times) * 1e6).astype(np.int64)
    edges = []
    for name, values in columns.items():
        given = np.asarray(values)
        found = given > THRESHOLD if name == NOISY and given.max() > 1 else given
        edges.append(micros[np.flatnonzero(found[1:] != found[:-1]) + 1])
    return sum(map(len, edges))


def _signals(times: Any, numbers: Any, values: Any) -> int:
    micros = np.rint(np.asarray(times) * 1e6).astype(np.int64)
    order = np.argsort(numbers, kind="stable")
    micros, given, inside = micros[order], np.asarray(values)[order], np.asarray(numbers)[order]
    edges = []
    for rows in np.split(np.arange(len(order)), np.flatnonzero(inside[1:] != inside[:-1]) + 1):
        own = given[rows[0] : rows[-1] + 1]
        edges.append(micros[rows[0] : rows[-1] + 1][np.flatnonzero(own[1:] != own[:-1]) + 1])
    return sum(map(len, edges))


def with_polars(path: Path) -> int:
    """Read a table with polars."""
    import polars as pl

    table = pl.read_parquet(path) if path.suffix == ".parquet" else pl.read_csv(path)
    if "signal" in table.columns:
        numbers = table["signal"].cast(pl.Categorical).to_physical().to_numpy().astype(np.uint16)
        return _signals(table["t_s"].to_numpy(), numbers, table["value"].to_numpy())
    return _columns(table["t_s"].to_numpy(), {name: table[name].to_numpy() for name in CHANNELS})


def with_pyarrow(path: Path) -> int:
    """Read a table with pyarrow."""
    import pyarrow.csv
    import pyarrow.parquet

    table = pyarrow.parquet.read_table(path) if path.suffix == ".parquet" else pyarrow.csv.read_csv(path)
    if "signal" in table.column_names:
        numbers = table["signal"].combine_chunks().dictionary_encode().indices.to_numpy().astype(np.uint16)
        return _signals(table["t_s"].to_numpy(), numbers, table["value"].to_numpy())
    return _columns(table["t_s"].to_numpy(), {name: table[name].to_numpy() for name in CHANNELS})


def with_numpy(path: Path) -> int:
    """Read a wide table with numpy alone."""
    table = np.loadtxt(path, delimiter=",", skiprows=1)
    return _columns(table[:, 0], dict(zip(CHANNELS, table[:, 1:].T, strict=True)))


def with_csv(path: Path) -> int:
    """Read a table with Python's own csv module."""
    edges: dict[str, list[int]] = {}
    last: dict[str, object] = {}
    with path.open(newline="") as stream:
        rows = csv.reader(stream)
        names = next(rows)[1:]
        for row in rows:
            micros = round(float(row[0]) * 1e6)
            for name, text in ((row[1], row[2]),) if names[0] == "signal" else zip(names, row[1:], strict=True):
                value = float(text) > THRESHOLD if "." in text else text
                if last.setdefault(name, value) != value:
                    edges.setdefault(name, []).append(micros)
                    last[name] = value
    return sum(map(len, edges.values()))


def with_pywellen(path: Path) -> int:
    """Read a value change dump with pywellen."""
    import pywellen

    waveform = pywellen.Waveform(str(path))
    edges = []
    for variable in waveform.all_vars():
        signal = variable.signal
        edges.append(np.array([signal[index][0] for index in range(1, len(signal))], dtype=np.int64))
    return sum(map(len, edges))


def with_vcdvcd(path: Path) -> int:
    """Read a value change dump with vcdvcd."""
    from vcdvcd import VCDVCD

    dump = VCDVCD(str(path))
    edges = [np.array([time for time, _ in dump[name].tv[1:]], dtype=np.int64) for name in dump.references_to_ids]
    return sum(map(len, edges))


def with_pyvcd(path: Path) -> int:
    """Read a value change dump with pyvcd."""
    from vcd.reader import TokenKind, tokenize

    edges: dict[str, list[int]] = {}
    now = 0
    with path.open("rb") as stream:
        for token in tokenize(stream):
            if token.kind is TokenKind.CHANGE_TIME:
                now = token.time_change
            elif token.kind is TokenKind.CHANGE_SCALAR:
                edges.setdefault(token.scalar_change.id_code, []).append(now)
    return sum(len(np.array(times, dtype=np.int64)) - 1 for times in edges.values())


def _by_command(*arguments: str, output: str = "") -> Way:
    def run(path: Path) -> int:
        from boardgauge.command import main

        with TemporaryDirectory() as folder, Path(folder, "printed").open("w") as printed, redirect_stdout(printed):
            written = ("-o", str(Path(folder, output))) if output else ()
            main([arguments[0], str(path), *written], standalone_mode=False)
        return 0

    return run


WAYS: dict[str, Way] = {
    "boardgauge": ours, "polars": with_polars, "pyarrow": with_pyarrow, "numpy": with_numpy, "csv": with_csv,
    "pywellen": with_pywellen, "vcdvcd": with_vcdvcd, "pyvcd": with_pyvcd, "bytes": plain,
    "look": _by_command("look"), "convert to Parquet": _by_command("convert", output="a.parquet"),
    "convert to VCD": _by_command("convert", output="a.vcd"),
}  # fmt: skip
SLOW = frozenset({"numpy", "csv", "vcdvcd", "pyvcd"})
"""These get a shorter file: per byte it makes no difference to them, and their memory grows with it."""

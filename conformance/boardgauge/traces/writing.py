"""From a recording to a file, in any format that can be read.

Law of this module: nothing is lost. What a format cannot hold goes into notes that we read again (``notes``), and is
told, since other programs do not read them; what is written reads back equal.
"""

from __future__ import annotations

import bz2
import gzip
import io
import lzma
import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager, nullcontext
from functools import partial
from os import PathLike, fspath
from pathlib import Path
from typing import Any, BinaryIO, Literal

from attrs import evolve, frozen

from boardgauge.language.problems import nearest_of
from boardgauge.traces.csv_writer import fits_in_csv, write_long, write_wide
from boardgauge.traces.json_writer import fits_in_json, write_json_long, write_json_wide
from boardgauge.traces.naming import fitted
from boardgauge.traces.notes import KEY, Notes
from boardgauge.traces.recording import Recording
from boardgauge.traces.vcd_writer import fits_in_vcd, scopes_of, write_vcd

FileFormat = Literal["vcd", "csv", "jsonl", "parquet", "arrow", "arrows"]
Shape = Literal["wide", "long"]
FORMATS: dict[FileFormat, str] = {
    "vcd": "value change dump",
    "csv": "table of text",
    "jsonl": "JSON lines",
    "parquet": "Parquet",
    "arrow": "Arrow file",
    "arrows": "Arrow stream",
}
_ENDINGS: dict[str, FileFormat] = {
    ".vcd": "vcd",
    ".csv": "csv",
    ".tsv": "csv",
    ".jsonl": "jsonl",
    ".ndjson": "jsonl",
    ".parquet": "parquet",
    ".pq": "parquet",
    ".arrow": "arrow",
    ".feather": "arrow",
    ".ipc": "arrow",
    ".arrows": "arrows",
}
_PACKINGS = {".gz": "gzip", ".xz": "xz", ".bz2": "bzip2", ".zst": "zstd"}
_TEXT = ("vcd", "csv", "jsonl")


class CannotWrite(ValueError):
    """A recording that cannot be written as asked: what is wrong, and what could be asked."""


@frozen
class Target:
    """A file to write: its format, how it is packed (None: not), and the delimiter its name asks for."""

    path: Path
    format: FileFormat
    packing: str | None = None
    delimiter: str = ","


def target_of(path: str | PathLike[str], format_: str | None = None) -> Target:
    """Tell from the name of a file, or from the format asked for, how it is to be written. Raises CannotWrite."""
    file = Path(path)
    suffixes = [suffix.lower() for suffix in file.suffixes]
    packing = _PACKINGS.get(suffixes[-1]) if suffixes else None
    if packing is not None:
        suffixes.pop()
    ending = suffixes[-1] if suffixes else ""
    found = _ENDINGS.get(ending)
    if format_ is not None:
        if format_ not in FORMATS:
            raise CannotWrite(f"there is no format {format_!r}; there are {', '.join(FORMATS)}")
        found = format_
    if found is None:
        near = nearest_of(ending, _ENDINGS) if ending else None
        hint = f"; did you mean {near}?" if near else ""
        raise CannotWrite(
            f"{fspath(path)}: its name does not say the format: it may end in {', '.join(_ENDINGS)}{hint}; for the "
            f"formats of text, followed by {', '.join(_PACKINGS)}"
        )
    if packing is not None and found not in _TEXT:
        raise CannotWrite(f"{fspath(path)}: {FORMATS[found]} is not packed as a whole; leave out {file.suffix}")
    return Target(file, found, packing, "\t" if ending == ".tsv" else ",")


def write_recording(
    recording: Recording,
    target: Target | str | PathLike[str],
    shape: Shape | None = None,
    delimiter: str | None = None,
    decimal_comma: bool = False,
) -> tuple[str, ...]:
    """Write a recording into a file, and give a sentence for each thing that only a note in the file tells.

    ``shape`` is by default wide for a sampled recording and long for one of changes. The file is replaced when it
    has been written whole, and not before. Raises CannotWrite, and OSError where the file cannot be written.
    """
    target = target if isinstance(target, Target) else target_of(target)
    if not recording.channels and target.format != "vcd":
        raise CannotWrite(f"{recording.file} has no channels; only a value change dump can be written of it")
    if target.format == "vcd" and shape is not None:
        raise CannotWrite("a value change dump is neither wide nor long")
    if target.format != "csv" and (delimiter is not None or decimal_comma):
        raise CannotWrite("a delimiter or a decimal comma is for a CSV file only")
    parted = delimiter or (";" if decimal_comma and target.delimiter == "," else target.delimiter)
    if decimal_comma and parted == ",":
        raise CannotWrite("a decimal comma needs a semicolon or a tab between columns")
    long = (shape or ("long" if recording.samples is None else "wide")) == "long"
    fitting, notes, told = _noted(recording, target, long)
    with _replaced(target.path) as stream, _packed(stream, target.packing) as packed:
        if target.format in ("parquet", "arrow", "arrows"):
            from boardgauge.traces.arrow_writer import write_arrow

            kind = {"parquet": "Parquet", "arrow": "Arrow", "arrows": "Arrow stream"}[target.format]
            write_arrow(fitting, packed, kind, long, list(notes.written()))
            return told
        text = io.TextIOWrapper(packed, encoding="utf-8", newline="", write_through=False)
        before, after = {"vcd": ("$comment boardgauge ", " $end"), "csv": ("# boardgauge ", "")}.get(
            target.format, (f'{{"{KEY}": ', "}")
        )
        text.writelines(f"{before}{line}{after}\n" for line in notes.written())
        if target.format == "vcd":
            write_vcd(fitting, text)
        elif target.format == "csv" and long:
            write_long(fitting, text, parted, decimal_comma)
        elif target.format == "csv":
            write_wide(fitting, text, parted, decimal_comma, changes=True)
        else:
            (write_json_long if long else write_json_wide)(fitting, text)
        text.flush()
        text.detach()
    return told


def _fits(format_: FileFormat) -> Callable[[str], bool]:
    if format_ == "vcd":
        return fits_in_vcd
    if format_ == "csv":
        return fits_in_csv
    if format_ == "jsonl":
        return fits_in_json
    from boardgauge.traces.arrow_writer import fits_in_arrow

    return fits_in_arrow


def _noted(recording: Recording, target: Target, long: bool) -> tuple[Recording, Notes, tuple[str, ...]]:
    """Give the recording as the format can hold it, the notes that say the rest, and what is to be told of that."""
    told: list[str] = []
    what = FORMATS[target.format]
    fitting, names = fitted(recording, _fits(target.format))
    for new, old in names.items():
        told.append(f"a channel cannot be called {old!r} there: it is {new}")
    shift = 0
    if target.format == "vcd" and recording.start < 0:
        shift = -recording.start
        told.append(f"a {what} begins at 0 or later: every time is {shift / 1_000_000:g} s later there")
        channels = {name: channel.moved(shift) for name, channel in fitting.channels.items()}
        moved = None if recording.samples is None else recording.samples + shift
        fitting = evolve(fitting, start=0, end=recording.end + shift, channels=channels, samples=moved)
    changes = target.format != "vcd" and not long and recording.samples is None
    if changes:
        told.append("the recording has changes and no samples, and a wide table reads as samples: its rows are changes")
    samples = recording.samples if target.format == "vcd" or long else None
    if samples is not None:
        table = f"a {what}" if target.format == "vcd" else "a long table"
        told.append(f"{table} has changes and not the times of samples: other programs take them as exact")
    if recording.rounded:
        told.append("some time was finer than a microsecond and is up to one microsecond later than it says")
    scopes = scopes_of(recording) if target.format == "vcd" else {}
    kept = {f"{scopes[name]}.{name}" for name in fitting.channels if name in scopes and name not in names}
    paths = {path: name for path, name in recording.paths.items() if path not in kept}
    return (
        fitting,
        Notes(recording.rounded, shift, changes, names, paths, samples),
        tuple(told),
    )


@contextmanager
def _replaced(path: Path) -> Iterator[BinaryIO]:
    """Write beside a file and put what was written in its place at the end; leave nothing behind where that fails."""
    if path.exists() and not path.is_file():
        # A pipe or a device cannot be replaced.
        with path.open("wb") as stream:
            yield stream
        return
    beside = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        with beside.open("wb") as stream:
            yield stream
        beside.replace(path)
    except OSError as error:
        beside.unlink(missing_ok=True)
        # Nobody knows the file beside it.
        raise OSError(error.errno, error.strerror, str(path)) from None
    except BaseException:
        beside.unlink(missing_ok=True)
        raise


@contextmanager
def _packed(stream: BinaryIO, packing: str | None) -> Iterator[BinaryIO]:
    packer: Any
    if packing is None:
        packer = nullcontext
    elif packing == "gzip":
        # Without a name and a time: what is written depends on the recording alone.
        packer = partial(gzip.GzipFile, "", "wb", 6, mtime=0)
    elif packing == "xz":
        packer = partial(lzma.LZMAFile, mode="wb")
    elif packing == "bzip2":
        packer = partial(bz2.BZ2File, mode="wb")
    else:
        import pyarrow as pa

        packer = partial(pa.CompressedOutputStream, compression="zstd")
    with packer(stream) as packed:
        yield packed

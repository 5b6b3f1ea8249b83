"""From a file to a recording.

Law of this module: the content decides the format, and whatever the bytes are, the answer is a recording or one
UnreadableRecording.
"""

from __future__ import annotations

import itertools
import os
from collections.abc import Callable, Iterator
from io import BytesIO
from os import PathLike, fspath
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

from attrs import evolve

from boardgauge.traces.errors import UnreadableRecording
from boardgauge.traces.notes import taken_off, with_notes
from boardgauge.traces.recording import Recording
from boardgauge.traces.source import MOST_UNPACKED, Block, blocks, digest

if TYPE_CHECKING:
    from boardgauge.traces.reduction import Reduction
    from boardgauge.traces.shelf import Shelf

ARROW_HEADS = (b"PAR1", b"ARROW1", b"\xff\xff\xff\xff")
"""How a Parquet file, an Arrow file and an Arrow stream begin."""
_PACKED_AGAIN = "it is packed twice, or its packing is not known here"
_OTHERS: tuple[tuple[bytes, str, str], ...] = (
    (b"PK\x03\x04", "it is a ZIP archive, or a workbook of a spreadsheet", "the file in it, or the table saved as CSV"),
    (b"\x1f\x8b", _PACKED_AGAIN, "gzip, xz, bzip2 or zstd, and once"),
    (b"\xfd7zXZ\x00", _PACKED_AGAIN, "gzip, xz, bzip2 or zstd, and once"),
    (b"BZh", _PACKED_AGAIN, "gzip, xz, bzip2 or zstd, and once"),
    (b"\x28\xb5\x2f\xfd", _PACKED_AGAIN, "gzip, xz, bzip2 or zstd, and once"),
    (b"\x04\x22\x4d\x18", _PACKED_AGAIN, "gzip, xz, bzip2 or zstd, and once"),
    (b"FEA1", "it is Arrow data in a form that is no longer written", "an Arrow file or stream"),
    (b"\xff\xfe", "it is text in UTF-16", "the file saved in UTF-8"),
    (b"\xfe\xff", "it is text in UTF-16", "the file saved in UTF-8"),
    (b"%PDF", "it is a PDF document", "a recording"),
    (b"[{", "it is one JSON array", "a JSON object on each line"),
)
"""How files begin that are something else, what they are, and what is read instead."""
_LONG = 16 * 1024**2


def read_recording(
    path: str | PathLike[str],
    most_unpacked: int = MOST_UNPACKED,
    reduction: Reduction | None = None,
    shelf: Shelf | None = None,
) -> Recording:
    """Read a recording: VCD, CSV or JSON lines, plain or packed with gzip, xz, bzip2 or zstd; Parquet or Arrow.

    ``most_unpacked`` is the most bytes a packed file may unpack to. With a ``reduction`` of a board and its wiring,
    what conditioning for that board will not ask for is left out while reading: a long recording with a noisy measured
    channel then takes little memory, and gives the same trace. With a ``shelf`` everything is kept in little memory:
    changes are put away there, and the recording is good for as long as the shelf is open.

    Raises UnreadableRecording, with the line where there is one.
    """
    file = fspath(path)
    try:
        with Path(path).open("rb") as stream, Path(path).open("rb") as again:
            if os.fstat(stream.fileno()).st_size < _LONG:
                return recording_from(stream, file, most_unpacked, reduction, shelf)
            from concurrent.futures import ThreadPoolExecutor

            # The digest of a long file is made beside the reading.
            with ThreadPoolExecutor(1) as pool:
                return _recording(stream, file, most_unpacked, reduction, shelf, pool.submit(digest, again).result)
    except OSError as error:
        raise UnreadableRecording(file, error.strerror or "it cannot be opened", expected="a file to read") from None


def recording_from(
    data: bytes | BinaryIO,
    name: str,
    most_unpacked: int = MOST_UNPACKED,
    reduction: Reduction | None = None,
    shelf: Shelf | None = None,
) -> Recording:
    """Read a recording from bytes or a stream that can go back; ``name`` stands for it in messages."""
    stream = BytesIO(data) if isinstance(data, bytes) else data
    sha256 = digest(stream)
    return _recording(stream, name, most_unpacked, reduction, shelf, lambda: sha256)


def _recording(
    stream: BinaryIO,
    name: str,
    most_unpacked: int,
    reduction: Reduction | None,
    shelf: Shelf | None,
    sha256: Callable[[], str],
) -> Recording:
    # Each reader is loaded where a file asks for it.
    head = stream.read(6)
    stream.seek(0)
    if head.startswith(ARROW_HEADS):
        from boardgauge.traces.arrow_format import read_arrow

        return evolve(read_arrow(stream, name, most_unpacked, reduction, shelf), sha256=sha256())
    notes, source = taken_off(blocks(stream, name, most_unpacked), name)
    first = next(source, None)
    if first is None:
        raise UnreadableRecording(name, "the file is empty", line=1, expected="a recording")
    if first.data.startswith(ARROW_HEADS):
        raise UnreadableRecording(name, "it is Parquet or Arrow data, packed as a whole", expected="the file unpacked")
    for head, what, expected in _OTHERS:
        if first.data.startswith(head):
            raise UnreadableRecording(name, what, line=1, expected=expected)
    if notes is not None and notes.names:
        reduction = None  # it knows the channels by other names than the file's
    recording = _of_text(first, itertools.chain([first], source), name, reduction, shelf)
    return evolve(recording if notes is None else with_notes(notes, recording), sha256=sha256())


def _of_text(
    first: Block, whole: Iterator[Block], name: str, reduction: Reduction | None, shelf: Shelf | None
) -> Recording:
    if first.data.lstrip().startswith(b"$"):
        from boardgauge.traces.vcd_format import read_vcd

        return read_vcd(whole, name, reduction, shelf)
    if first.data.lstrip().startswith(b"{"):
        from boardgauge.traces.json_lines import read_json_lines

        return read_json_lines(whole, name, shelf)
    from boardgauge.traces.csv_format import read_csv

    return read_csv(whole, name, reduction, shelf)

"""From a file to a recording.

Law of this module: the content decides the format, and whatever the bytes are, the answer is a recording or one
UnreadableRecording.
"""

from __future__ import annotations

import itertools
from io import BytesIO
from os import PathLike, fspath
from pathlib import Path
from typing import BinaryIO

from attrs import evolve

from boardgauge.traces.errors import UnreadableRecording
from boardgauge.traces.recording import Recording
from boardgauge.traces.source import MOST_UNPACKED, blocks, digest


def read_recording(path: str | PathLike[str], most_unpacked: int = MOST_UNPACKED) -> Recording:
    """Read a recording: VCD or CSV, plain or packed with gzip, xz or bzip2.

    ``most_unpacked`` is the most bytes a packed file may unpack to. Raises UnreadableRecording, with the line where
    there is one.
    """
    file = fspath(path)
    try:
        with Path(path).open("rb") as stream:
            return recording_from(stream, file, most_unpacked)
    except OSError as error:
        raise UnreadableRecording(file, error.strerror or "it cannot be opened", expected="a file to read") from None


def recording_from(data: bytes | BinaryIO, name: str, most_unpacked: int = MOST_UNPACKED) -> Recording:
    """Read a recording from bytes or a stream that can go back; ``name`` stands for it in messages."""
    stream = BytesIO(data) if isinstance(data, bytes) else data
    sha256 = digest(stream)
    source = blocks(stream, name, most_unpacked)
    first = next(source, None)
    if first is None:
        raise UnreadableRecording(name, "the file is empty", line=1, expected="a VCD or CSV recording")
    whole = itertools.chain([first], source)
    # Either reader is loaded where a file asks for it.
    if first.data.lstrip().startswith(b"$"):
        from boardgauge.traces.vcd_format import read_vcd

        return evolve(read_vcd(whole, name), sha256=sha256)
    from boardgauge.traces.csv_format import read_csv

    return evolve(read_csv(whole, name), sha256=sha256)

"""The bytes of a recording, unpacked, in blocks of whole lines.

Law of this module: what a file is, is told by its content and never by its name; and no file, however small, is
unpacked without bound.
"""

from __future__ import annotations

import bz2
import gzip
import hashlib
import lzma
import zlib
from collections.abc import Iterator
from typing import BinaryIO

import numpy as np
from attrs import frozen

from boardgauge.traces.errors import UnreadableRecording

MOST_UNPACKED = 4 * 1024**3
"""The most bytes a compressed recording may unpack to."""

BLOCK = 1024**2
LONGEST_LINE = 16 * 1024**2
_NEWLINE = 10


@frozen
class Block:
    """Whole lines of the file; ``line`` is the number of the first."""

    line: int
    data: bytes


def digest(stream: BinaryIO) -> str:
    """Give the SHA-256 of a stream from its beginning, and put it back there."""
    stream.seek(0)
    found = hashlib.sha256()
    while piece := stream.read(BLOCK):
        found.update(piece)
    stream.seek(0)
    return found.hexdigest()


def _unpacked(stream: BinaryIO) -> tuple[BinaryIO, str | None]:
    head = stream.read(6)
    stream.seek(0)
    if head.startswith(b"\x1f\x8b"):
        return gzip.GzipFile(fileobj=stream), "gzip"  # type: ignore[return-value]
    if head == b"\xfd7zXZ\x00":
        return lzma.LZMAFile(stream), "xz"  # type: ignore[return-value]
    if head.startswith(b"BZh"):
        return bz2.BZ2File(stream), "bzip2"  # type: ignore[return-value]
    if head.startswith(b"\x28\xb5\x2f\xfd"):
        import pyarrow as pa  # slow to load

        return pa.CompressedInputStream(pa.PythonFile(stream, mode="r"), "zstd"), "zstd"
    return stream, None


def blocks(stream: BinaryIO, file: str, most: int = MOST_UNPACKED) -> Iterator[Block]:
    """Give the text of a stream (gzip, xz, bzip2, zstd or plain) in blocks of whole lines, a UTF-8 mark left out.

    Raises UnreadableRecording when the packing is damaged or cut off, when it unpacks to more than ``most`` bytes,
    or when a line has no end.
    """
    text, packing = _unpacked(stream)
    line, total, rest, first = 1, 0, b"", True
    while True:
        try:
            piece = text.read(BLOCK)
        except EOFError:
            raise UnreadableRecording(file, f"the {packing} file is cut off", expected="the whole file") from None
        except (zlib.error, lzma.LZMAError, gzip.BadGzipFile, OSError, ValueError) as error:
            what = f"the {packing} file is damaged ({error})" if packing else f"it cannot be read ({error})"
            raise UnreadableRecording(file, what) from None
        total += len(piece)
        if packing and total > most:
            raise UnreadableRecording(
                file, f"the {packing} file unpacks to more than {most:,} bytes", expected="a smaller recording"
            )
        if first:
            piece = piece.removeprefix(b"\xef\xbb\xbf")
            first = False
        if not piece:
            break
        cut = piece.rfind(b"\n") + 1
        if not cut:
            rest += piece
            if len(rest) > LONGEST_LINE:
                raise UnreadableRecording(
                    file, f"a line of more than {LONGEST_LINE:,} bytes", line=line, expected="lines of text"
                )
            continue
        data = rest + piece[:cut]
        rest = piece[cut:]
        yield Block(line, data)
        # A tenth of the time that bytes.count takes where there is a line end every few characters.
        line += int(np.count_nonzero(np.frombuffer(data, dtype=np.uint8) == _NEWLINE))
    if rest:
        yield Block(line, rest)

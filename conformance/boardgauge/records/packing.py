"""The bytes of a recording, packed to be kept, and unpacked again.

Law of this module: what comes out is what went in, by its SHA-256, or is told as damaged; nothing is mended.
"""

from __future__ import annotations

import hashlib
import zlib
from typing import Any

from sqlalchemy import select

from boardgauge.records.database import Records
from boardgauge.records.entry import KeptFile, UnusableEntry
from boardgauge.records.tables import MOST_BYTES, files


class DamagedFile(Exception):
    """The bytes of a recording are not those that were kept; the message says how."""


def packed(file: KeptFile) -> dict[str, Any]:
    """Give the row of ``files`` that a file is kept as. Raises UnusableEntry if it is too large."""
    small = zlib.compress(file.content, 6)
    packing = "zlib" if len(small) < len(file.content) else "none"
    content = small if packing == "zlib" else file.content
    if len(content) > MOST_BYTES:
        raise UnusableEntry(
            f"{file.name}: {len(content):,} bytes even when packed; records take {MOST_BYTES:,} of one file: "
            "cut the recording, or convert it to a smaller form (boardgauge convert)"
        )
    return {"sha256": file.sha256, "size": len(file.content), "packing": packing, "content": content}


def content_of(records: Records, sha256: str) -> bytes:
    """Give the bytes kept under a digest, held against it. Raises DamagedFile."""
    with records.reading() as connection:
        row = connection.execute(select(files).where(files.c.sha256 == sha256)).one_or_none()
    if row is None:
        raise DamagedFile("its bytes are missing from the records")
    content: bytes = row.content
    if row.packing == "zlib":
        try:
            # No more than was packed: damaged bytes may unpack to anything.
            content = zlib.decompressobj().decompress(content, row.size + 1)
        except zlib.error:
            raise DamagedFile("its bytes were changed: they cannot be unpacked any more") from None
    if len(content) != row.size:
        raise DamagedFile(f"its bytes were changed: they are no longer {row.size:,}")
    found = hashlib.sha256(content).hexdigest()
    if found != sha256:
        raise DamagedFile(f"its bytes were changed: their SHA-256 is now {found[:12]}..., not {sha256[:12]}...")
    return content

"""The journal of a run: what was begun, done and seen of the plan, a JSON object a line.

Law of this module: a line is on the disk before the next thing is done, and is never changed. Of a file that was cut
off in the middle of a line everything before that line counts.
"""

from __future__ import annotations

import contextlib
import json
import os
from collections.abc import Iterator
from pathlib import Path
from typing import IO, Any

from attrs import define, field

JOURNAL = "run.journal"


class BadJournal(ValueError):
    """A journal that is none; the message says where and why."""


@define
class Journal:
    """A journal being written."""

    path: Path
    _file: IO[bytes] = field(init=False)

    def __attrs_post_init__(self) -> None:
        if self.path.exists():
            drop_torn_line(self.path)
        self._file = self.path.open("ab", buffering=0)
        _sync_folder(self.path.parent)

    def note(self, **said: Any) -> None:
        """Write one line and see it onto the disk."""
        self._file.write(json.dumps(said, ensure_ascii=False, separators=(",", ":")).encode() + b"\n")
        os.fsync(self._file.fileno())

    def close(self) -> None:
        """Close the file."""
        self._file.close()


def whole_lines(path: Path) -> bytes:
    """Give a file as far as its lines are whole: a last line that was cut off is left out."""
    data = path.read_bytes()
    return data[: data.rfind(b"\n") + 1]


def drop_torn_line(path: Path) -> None:
    """Take away what of a last line was written before its writer was cut off, so that lines can follow."""
    whole = len(whole_lines(path))
    if whole != path.stat().st_size:
        with path.open("r+b") as file:
            file.truncate(whole)
            os.fsync(file.fileno())


def notes_of(path: Path) -> Iterator[dict[str, Any]]:
    """Give the lines of a journal. Raises BadJournal."""
    for number, line in enumerate(whole_lines(path).splitlines(), 1):
        try:
            said = json.loads(line)
        except ValueError:
            raise BadJournal(f"{path}:{number}: this is no line of a journal") from None
        if not isinstance(said, dict):
            raise BadJournal(f"{path}:{number}: this is no line of a journal")
        yield said


def _sync_folder(folder: Path) -> None:
    """See a new file's name onto the disk; where folders cannot be synced it is the system's matter."""
    try:
        descriptor = os.open(folder, os.O_RDONLY)
    except OSError:
        return
    try:
        with contextlib.suppress(OSError):
            os.fsync(descriptor)
    finally:
        os.close(descriptor)

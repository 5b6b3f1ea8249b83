"""From files, folders and patterns to recordings.

Law of this module: what was asked for comes in the order asked, a folder's files by name, each file once; what a folder
holds besides recordings is told.
"""

from __future__ import annotations

import glob
import os
from collections.abc import Iterable, Iterator
from pathlib import Path

from attrs import define, field

ENDINGS = (
    ".vcd", ".csv", ".tsv", ".jsonl", ".ndjson", ".parquet", ".pq", ".arrow", ".arrows", ".feather", ".ipc",
)  # fmt: skip
"""What a file's name ends in if it is a recording, packed or not."""
PACKED = (".gz", ".xz", ".bz2", ".zst")


@define
class Listing:
    """The files found. ``skipped`` holds, by folder asked for, what in it is no recording; ``empty`` what gave none."""

    files: list[str] = field(factory=list)
    skipped: dict[str, list[str]] = field(factory=dict)
    empty: list[str] = field(factory=list)
    _seen: set[str] = field(factory=set)

    def add(self, file: str) -> bool:
        """Take a file, if it is not there yet."""
        key = os.path.abspath(file)
        if key in self._seen:
            return False
        self._seen.add(key)
        self.files.append(file)
        return True


def list_recordings(given: Iterable[str]) -> Listing:
    """Find the recordings of files, folders (with all in them) and patterns such as ``logs/*.vcd`` or ``logs/**``.

    A file asked for by name is taken whatever it is called, and whether or not it exists: reading it tells.
    """
    listing = Listing()
    for path in given:
        if not os.path.lexists(path) and glob.has_magic(path):
            matches = sorted(glob.glob(path, recursive=True))
            if not matches:
                listing.empty.append(f"{path}: no file matches this pattern")
            # A pattern that says nothing of names takes what a folder would give.
            choosy = os.path.basename(path) in ("*", "**")
            for match in matches:
                if not os.path.isdir(match):
                    if not choosy or is_recording(match):
                        listing.add(match)
                    else:
                        listing.skipped.setdefault(path, []).append(match)
                elif "**" not in path:
                    _add_folder(listing, match)
        elif os.path.isdir(path):
            _add_folder(listing, path)
        else:
            listing.add(path)
    return listing


def is_recording(name: str) -> bool:
    """Tell a recording by the ending of its name."""
    stem, ending = os.path.splitext(name.lower())
    return (os.path.splitext(stem)[1] if ending in PACKED else ending) in ENDINGS


def _add_folder(listing: Listing, folder: str) -> None:
    found, skipped = False, []
    for file in _files_below(folder):
        if is_recording(file):
            found = True
            listing.add(file)
        else:
            skipped.append(os.path.relpath(file, folder))
    if skipped:
        listing.skipped[folder] = skipped
    if not found:
        listing.empty.append(f"{folder}: no recordings in this folder; expected files ending in {', '.join(ENDINGS)}")


def _files_below(folder: str) -> Iterator[str]:
    for place, folders, names in os.walk(folder):
        folders.sort()
        for name in sorted(names):
            yield str(Path(place, name))

"""``boardgauge judge --explain``: where the charts of deviations go.

Law of this module: one chart a deviation; no chart is written over another of the same run.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import cast

from attrs import define, field

from boardgauge.command.failing import Unusable
from boardgauge.many.job import Picture

_FORMATS = (".svg", ".png", ".pdf")
_PACKED = (".gz", ".xz", ".bz2", ".zst")


@define
class Charts:
    """Where the charts of a run go: a file (its later charts are numbered from 2), or a folder."""

    target: Path
    _numbers: dict[str, int] = field(factory=dict, init=False)

    @classmethod
    def at(cls, given: str) -> Charts:
        """Take a path as a file if it ends as a picture does, and as a folder if it has no ending or is one."""
        path = Path(given)
        ending = path.suffix.lower()
        if ending in _FORMATS or path.is_dir() or (not ending and not path.exists()):
            return cls(path)
        raise Unusable(
            f"--explain {given}: expected a folder, or a file that ends in {', '.join(_FORMATS)}"
            + ("" if path.exists() else f"; if {path.name} is to be a folder, make it first")
        )

    @property
    def picture(self) -> Picture:
        """The kind of picture to draw."""
        return cast(Picture, self.target.suffix.lower()[1:]) if self._one_file() else "svg"

    def write(self, recording: str, pictures: Sequence[bytes]) -> list[Path]:
        """Write the charts of a recording; give the files written."""
        written = []
        for picture in pictures:
            path = self._next(recording)
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(picture)
            written.append(path)
        return written

    def _one_file(self) -> bool:
        return self.target.suffix.lower() in _FORMATS and not self.target.is_dir()

    def _next(self, recording: str) -> Path:
        if self._one_file():
            number = self._count("")
            return self.target if number == 1 else self.target.with_stem(f"{self.target.stem}-{number}")
        stem = stem_of(recording)
        return self.target / f"{stem}-{self._count(stem)}.svg"

    def _count(self, stem: str) -> int:
        self._numbers[stem] = self._numbers.get(stem, 0) + 1
        return self._numbers[stem]


def stem_of(recording: str) -> str:
    """Give the name of a recording without its folder and endings: ``run7`` of ``logs/run7.csv.gz``."""
    path = Path(recording)
    if path.suffix.lower() in _PACKED:
        path = path.with_suffix("")
    return path.stem or "recording"

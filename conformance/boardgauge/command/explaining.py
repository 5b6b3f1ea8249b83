"""``boardgauge judge --explain``: draw what deviated.

Law of this module: one chart a deviation; no chart is written over another of the same run.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from attrs import define, field

from boardgauge.command.failing import Unusable

if TYPE_CHECKING:
    from boardgauge.judging.judgement import Judgement
    from boardgauge.machine.table import Machine
    from boardgauge.traces.trace import Trace

_FORMATS = (".svg", ".png", ".pdf")
_PACKED = (".gz", ".xz", ".bz2", ".zst")


@define
class Charts:
    """Where the charts of a run go: a file (its later charts are numbered from 2), or a folder."""

    target: Path
    _numbers: dict[str, int] = field(factory=dict, init=False)

    @classmethod
    def at(cls, given: str) -> Charts:
        """Take a path as a file if it ends as a picture does, else as a folder."""
        path = Path(given)
        if path.is_file() and path.suffix.lower() not in _FORMATS:
            raise Unusable(f"--explain {given}: expected a folder, or a file that ends in {', '.join(_FORMATS)}")
        return cls(path)

    def draw(self, machine: Machine, trace: Trace, judgement: Judgement) -> list[Path]:
        """Draw each deviation of a judgement; give the files written."""
        # Here, since most recordings are judged without a chart.
        from boardgauge.drawings.rendering import typeset
        from boardgauge.drawings.timing_chart import timing_chart
        from boardgauge.judging.chart import chart_of

        written = []
        for deviation in judgement.deviations:
            chart = chart_of(machine, trace, judgement, deviation)
            path = self._next(judgement.file)
            path.parent.mkdir(parents=True, exist_ok=True)
            svg, ending = timing_chart(chart), path.suffix.lower()
            if ending == ".svg":
                path.write_text(svg, encoding="utf-8")
            else:
                path.write_bytes(typeset(svg, "png" if ending == ".png" else "pdf", chart.title))
            written.append(path)
        return written

    def _next(self, recording: str) -> Path:
        target = self.target
        if target.suffix.lower() in _FORMATS and not target.is_dir():
            number = self._count("")
            return target if number == 1 else target.with_stem(f"{target.stem}-{number}")
        stem = stem_of(recording)
        return target / f"{stem}-{self._count(stem)}.svg"

    def _count(self, stem: str) -> int:
        self._numbers[stem] = self._numbers.get(stem, 0) + 1
        return self._numbers[stem]


def stem_of(recording: str) -> str:
    """Give the name of a recording without its folder and endings: ``run7`` of ``logs/run7.csv.gz``."""
    path = Path(recording)
    if path.suffix.lower() in _PACKED:
        path = path.with_suffix("")
    return path.stem or "recording"

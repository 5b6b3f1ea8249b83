"""The recording of one segment, written as it is seen.

Law of this module: rows are appended in the order of time and none is changed, so that what was written counts whatever
happens next; nothing is written of a time that the rig may still tell of. The file is read by ``boardgauge judge`` with
the wiring beside it.
"""

from __future__ import annotations

import json
import os
import time
from collections.abc import Callable, Mapping
from fractions import Fraction
from pathlib import Path
from typing import IO

from attrs import define, field

from boardgauge.language.model import Board
from boardgauge.rigs.points import Point, by_name
from boardgauge.rigs.rig import Report, Value
from boardgauge.traces.csv_writer import seconds_of

SYNC_EVERY = 0.2
"""Seconds on the clock between two times at which what was written is seen onto the disk."""
MARK_EVERY = 0.5
"""Seconds on the clock between two rows that only say how far the rig has come."""


@define
class Recorder:
    """Writes one recording: of changes, as JSON lines; of a rig that is sampled, of samples, as a table of text.

    All signals have to be told of with the first report.
    """

    board: Board
    path: Path
    sampled: bool
    clock: Callable[[], float] = time.monotonic
    levels: dict[str, Value] = field(factory=dict)
    end: int = -1
    _points: dict[str, Point] = field(factory=dict)
    _waiting: list[tuple[int, str, Value]] = field(factory=list)
    _last: dict[str, int] = field(factory=dict)
    _synced: float = 0.0
    _marked: float = 0.0
    _file: IO[bytes] = field(init=False)

    def __attrs_post_init__(self) -> None:
        self._file = self.path.open("xb", buffering=0)
        self._synced = self._marked = self.clock()

    def drove(self, moment: int, levels: Mapping[str, Value]) -> None:
        """Note what was driven, and when."""
        for name, value in levels.items():
            self._waiting.append((moment, name, value))

    def saw(self, report: Report) -> None:
        """Write what was seen, and what was driven before it."""
        self._waiting += [(change.time, change.signal, change.value) for change in report.changes]
        due = sorted((row for row in self._waiting if row[0] <= report.now), key=lambda row: row[0])
        self._waiting = [row for row in self._waiting if row[0] > report.now]
        rows = []
        for moment, name, value in due:
            if self.levels.get(name) == value:
                continue
            self.levels[name] = value
            # Two changes of one signal at one moment cannot be written; the second is a microsecond later.
            moment = max(moment, self._last.get(name, -1) + 1, self.end)
            self._last[name] = moment
            if not self.sampled:
                rows.append(self._row(moment, name, value))
                self.end = moment
        now = self.clock()
        if self.sampled:
            if report.now > self.end:
                rows += [self._head()] if self.end < 0 else []
                rows.append(self._sample(report.now))
                self.end = report.now
        elif now - self._marked >= MARK_EVERY:
            rows += self._mark(report.now)
        if rows:
            self._file.write(b"".join(rows))
            self._marked = now
        if now - self._synced >= SYNC_EVERY:
            self.sync()

    def mark(self, moment: int) -> None:
        """Write that nothing else was seen up to a moment, and see all onto the disk."""
        if not self.sampled:
            self._file.write(b"".join(self._mark(moment)))
        self.sync()

    def _mark(self, moment: int) -> list[bytes]:
        if moment <= self.end or not self.levels:
            return []
        name = next(iter(self.levels))
        self.end = self._last[name] = moment
        return [self._row(moment, name, self.levels[name])]

    def sync(self) -> None:
        """See what was written onto the disk."""
        os.fsync(self._file.fileno())
        self._synced = self.clock()

    def close(self) -> None:
        """Write out and close the file."""
        self.sync()
        self._file.close()

    def _level(self, name: str, value: Value) -> str:
        point = self._points.get(name)
        if point is None:
            point = self._points[name] = by_name(self.board, name)
        level = point.level(value)
        return str(int(level)) if isinstance(level, bool) else _number(level)

    def _row(self, moment: int, name: str, value: Value) -> bytes:
        said = f'{{"t_s": {seconds_of(moment)}, "signal": {json.dumps(name)}, "value": {self._level(name, value)}}}\n'
        return said.encode()

    def _head(self) -> bytes:
        return (",".join(["t_s", *self.levels]) + "\n").encode()

    def _sample(self, moment: int) -> bytes:
        levels = [self._level(name, value) for name, value in self.levels.items()]
        return (",".join([seconds_of(moment), *levels]) + "\n").encode()


def _number(value: Fraction | int) -> str:
    return repr(float(value))

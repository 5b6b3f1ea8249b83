"""Other readings of what a lamp showed: where a part of one pattern and a part of the next look like a third.

Law of this module: what was seen is read with the fewest changes of line that explain it. A row that some such reading
does without is not told for a line: its two borders may be one moment, so each holds all moments the other does. Where
a reading without it has as many changes, it is told but not sure.

A group cut short and the first group of another number, with no pause between, look like one whole group; a lit part
cut off and a lit part behind it look like a long one. So a change may lie inside a look, and a look against a line says
only that this line was not shown for the whole of it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence

from attrs import frozen

from boardgauge.traces.lamps import LampWatch


@frozen
class Row:
    """What each of ``lines`` alone explains from ``ready`` to ``until``; nothing does if there are none."""

    ready: int
    until: int
    lines: frozenset[int]


@frozen
class Doubt:
    """Rows from ``first`` to ``last`` that a reading does without; ``lines`` may have been shown in their place.

    With ``fewer`` changes of line than there are with them: the line before gave way to the line behind at a moment
    from ``since`` to ``until``. Otherwise the line before gave way to one of ``lines`` not before ``since``, and that
    gave way to the line behind not after ``until``.
    """

    first: int
    last: int
    lines: frozenset[int]
    fewer: bool
    since: int
    until: int


@frozen
class _Step:
    """From a row right to a later one, by which lines, and between which moments the one change lies."""

    start: int
    stop: int
    lines: frozenset[int]
    since: int
    until: int


def doubts(watch: LampWatch, rows: Sequence[Row]) -> Iterator[Doubt]:
    """Give the rows that other readings do without, of a stretch in which lit and dark are known."""
    return _Readings(watch, rows).doubts() if len(rows) > 1 else iter(())


class _Readings:
    def __init__(self, watch: LampWatch, rows: Sequence[Row]) -> None:
        self.watch, self.rows = watch, rows
        self.all = frozenset(line for line in range(len(watch.parts)) if not watch.looks.too_coarse(watch.parts[line]))
        self.end = rows[-1].until
        self.steps = tuple(self._steps())
        # How many rows are needed to explain all up to each row, and from each row on.
        self.up_to, self.onward = self._fewest()

    def doubts(self) -> Iterator[Doubt]:
        best, last = self.onward[0], len(self.rows) - 1
        for step in self.steps:
            if self.up_to[step.start] + self.onward[step.stop] == best:
                yield Doubt(step.start + 1, step.stop - 1, step.lines, True, step.since, step.until)
        yield from self._instead()
        # Before the first row and behind the last, no whole turn tells which line is shown at all.
        for stop in range(1, len(self.rows)):
            until = {line: self._until(line, self.rows[0].ready) for line in self.all}
            lines = self._meeting(until, self._begins(stop))[0] - self.rows[0].lines
            if not lines:
                break
            if 1 + self.onward[stop] <= best:
                yield self._instead_of(0, stop - 1, {line: (self.rows[0].ready, until[line]) for line in lines})
        for start in reversed(range(last)):
            begins = {line: self._begin(line, self.end) for line in self.all}
            lines = self._meeting(self._untils(start), begins)[1] - self.rows[last].lines
            if not lines:
                break
            if self.up_to[start] + 1 <= best:
                yield self._instead_of(start + 1, last, {line: (begins[line], self.end) for line in lines})

    def _instead(self) -> Iterator[Doubt]:
        """Give rows of which another line explains all that the lines before and behind leave to be explained."""
        last = len(self.rows) - 1
        for at, row in enumerate(self.rows):
            untils = self._untils(at - 1) if at else {}
            begins = self._begins(at + 1) if at < last else {}
            spans = dict[int, tuple[int, int]]()
            for line in self.all - row.lines if row.lines else ():
                since = max((until for other, until in untils.items() if other != line), default=row.ready)
                behind = (begin for other, begin in begins.items() if other != line)
                until = self._until(line, since)
                if until >= min(behind, default=row.until if at < last else self.end):
                    spans[line] = self._begin(line, since), until
            if spans:
                yield self._instead_of(at, at, spans)

    def _instead_of(self, first: int, last: int, spans: dict[int, tuple[int, int]]) -> Doubt:
        """Give the doubt that lines, each from one time to another, may have been shown in the place of rows."""
        before = self.rows[first - 1].lines if first else frozenset[int]()
        behind = self.rows[last + 1].lines if last + 1 < len(self.rows) else frozenset[int]()
        # Where it is the line before or behind that was shown, their own borders hold.
        since = min((begin for line, (begin, _) in spans.items() if line not in before), default=self.end)
        until = max((until for line, (_, until) in spans.items() if line not in behind), default=self.rows[0].ready)
        return Doubt(first, last, frozenset(spans), False, since, until)

    def _steps(self) -> Iterator[_Step]:
        for start in range(len(self.rows) - 2):
            untils = self._untils(start)
            for stop in range(start + 2, len(self.rows)):
                begins = self._begins(stop)
                before, behind = self._meeting(untils, begins)
                if not before:
                    break
                since, until = min(begins[line] for line in behind), max(untils[line] for line in before)
                yield _Step(start, stop, before | behind, since, until)

    def _fewest(self) -> tuple[list[int], list[int]]:
        into, out = defaultdict[int, list[int]](list), defaultdict[int, list[int]](list)
        for step in self.steps:
            into[step.stop].append(step.start)
            out[step.start].append(step.stop)
        count = len(self.rows)
        up_to, onward = [1] * count, [1] * count
        for row in range(1, count):
            up_to[row] = 1 + min(up_to[start] for start in (row - 1, *into[row]))
        for row in reversed(range(count - 1)):
            onward[row] = 1 + min(onward[stop] for stop in (row + 1, *out[row]))
        return up_to, onward

    @staticmethod
    def _meeting(untils: dict[int, int], begins: dict[int, int]) -> tuple[frozenset[int], frozenset[int]]:
        """Give which lines may have been shown up to a moment, and which from it on: each with one of the others."""
        latest, earliest = max(untils.values(), default=0), min(begins.values(), default=0)
        # A moment later than that at which the look begins, and earlier than that at which the other is complete.
        before = frozenset(line for line, until in untils.items() if begins and earliest + 1 < until)
        behind = frozenset(line for line, begin in begins.items() if untils and begin + 1 < latest)
        return before, behind

    def _untils(self, row: int) -> dict[int, int]:
        """Give until when each line of a row may have been shown; of one too fast to be read, only the row tells."""
        of = self.rows[row]
        return {line: self._until(line, of.ready) if line in self.all else of.until for line in of.lines}

    def _begins(self, row: int) -> dict[int, int]:
        """Give from when each line of a row may have been shown; of one too fast to be read, only the row tells."""
        of = self.rows[row]
        return {line: self._begin(line, of.ready) if line in self.all else of.ready for line in of.lines}

    def _until(self, line: int, ready: int) -> int:
        known = self.watch.ruled_out(line, ready)
        return self.end if known is None else min(known, self.end)

    def _begin(self, line: int, ready: int) -> int:
        begin = self.watch.last_against(line, ready)
        return self.rows[0].ready if begin is None else max(begin, self.rows[0].ready)

"""What a lamp showed over time, read by the table of its board.

Law of this module: it stands on the same looks as the judge (``lamps``); a line of the table is named only for a
stretch in which nothing rules it out and at least one whole turn of it was seen; what could have looked the same is
listed beside it, also where a part of one pattern and a part of the next could have; and what is too short, or sampled
too far apart, to be read is said to be so.

How: from the beginning of a stretch on, the line is taken that is ruled out last. It is the one shown if a whole turn
of it (a lit and a dark part, a group between two pauses, a stretch too long for any other line) lies before that. The
change to what follows lies between the last look that rules that out and the first that rules this out. What is left
between two lines was no line of the table if it is longer than any change of lines explains. Whether the lines before
and behind explain a line between them as well is asked in ``lamp_readings``.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

import numpy as np
from attrs import evolve, frozen

from boardgauge.traces.lamp_closely import CloseWatch
from boardgauge.traces.lamp_readings import Doubt, Row, doubts
from boardgauge.traces.lamp_seen import seen_between
from boardgauge.traces.lamp_short_looks import ShortLooks
from boardgauge.traces.lamp_turns import LampTurns
from boardgauge.traces.lamps import LampWatch
from boardgauge.traces.trace import Trace

MOST_SHORT = 4
"""A look in which the longest turn of the table fits so often is a short one."""
Certainty = Literal["sure", "likely", "open", "none", "not read", "not known", "no supply"]
"""``sure``: a whole turn was seen, and all other lines are ruled out; ``likely``: all others are, but less than a whole
turn was seen; ``open``: others are not ruled out, or lines one after the other could have looked so; ``none``: no line
of the table; ``not read``: too short between two changes; ``not known``: the recording does not tell lit from dark;
``no supply``: the lamp has no power."""


@frozen
class Shown:
    """A stretch of a lamp. Times in microseconds, as in the recording: true times, each somewhere between two.

    ``lines`` are the lines of the table (by number, from 0) that it fits, those with the same pattern together;
    ``may_be`` those that are not told apart from them in this stretch. ``seen`` says what was seen, whatever the table
    says. ``open_before`` and ``open_behind``: it began before the recording (or an unknown stretch), or went on behind.
    Where it is told that the line before may have changed to the line behind at once, both ends lie between the same
    moments, and the stretch may last no time at all.
    """

    begins: tuple[int, int]
    ends: tuple[int, int]
    lines: tuple[int, ...]
    may_be: tuple[int, ...]
    seen: str
    certainty: Certainty
    open_before: bool = False
    open_behind: bool = False


@frozen
class _Turn:
    """A stretch in which one line explains what was seen: from ``ready`` on until it is ruled out at ``until``."""

    line: int
    begin: int
    ready: int
    until: int


def decode(trace: Trace, watch: LampWatch) -> tuple[Shown, ...]:
    """Give what a lamp showed, stretch after stretch, from the start of a trace to its end."""
    return tuple(_Decoder(trace, CloseWatch(watch)).shown())


class _Decoder:
    def __init__(self, trace: Trace, watch: LampWatch) -> None:
        self.trace, self.watch, self.s = trace, watch, watch.stretches
        self.turns = LampTurns(trace, watch)
        self.short = ShortLooks(self.turns)
        self.lines = self.turns.lines

    # -- stretches -------------------------------------------------------------------------------------------------

    def shown(self) -> Iterator[Shown]:
        s = self.s
        known = s.value >= 0
        borders = np.flatnonzero(np.diff(known.astype(np.int8))) + 1
        firsts, lasts = np.concatenate(([0], borders)), np.append(borders, len(s)) - 1
        for first, last in zip(firsts.tolist(), lasts.tolist(), strict=True):
            begins = int(s.begin_early[first]), int(s.begin_late[first])
            ends = int(s.end_early[last]), int(s.end_late[last])
            if ends[1] <= begins[0] and ends[1] <= self.trace.start:
                continue
            if known[first]:
                yield from self._known(begins, ends, first == 0, last == len(s) - 1)
                continue
            off = self.trace.power.at(begins[1]) is False
            what: Certainty = "no supply" if off else "not known"
            yield Shown(begins, ends, (), (), what, what)

    def _known(self, begins: tuple[int, int], ends: tuple[int, int], at_start: bool, at_end: bool) -> list[Shown]:
        """Give what was shown in a stretch in which lit and dark are known throughout."""
        end = ends[0]
        turns = self._followed(begins[1], end)
        rows: list[Shown] = []
        read: list[Row] = []
        since, open_before = begins, at_start
        for turn in turns:
            is_last = turn.until >= end
            if turn.begin > since[1]:
                change = turn.begin, self._latest(turn.ready)
                between = self._between(since, change, open_before)
                # Its first whole turn, too, may be a part of another line and a part of it.
                change = change[0], max(change[1], self._may_go_on(between, turn))
                rows.append(evolve(between, ends=change))
                read.append(_read(rows[-1], since[1], turn.begin))
                open_before = False
            else:
                # It explains all back to where the line before it is ruled out: one change, somewhere between. The last
                # whole turn of that line may be a part of it and a part of this one.
                change = max(turn.begin, rows[-1].begins[0] if rows else begins[0]), since[1]
                if rows:
                    rows[-1] = evolve(rows[-1], ends=change)
            last = self.turns.last_turn(turn.line, turn.ready, turn.until)
            over = ends if is_last else (max(change[0], last), turn.until)
            rows.append(self._line(turn, change, over, open_before, is_last and at_end))
            read.append(_read(rows[-1], turn.ready, turn.until))
            since, open_before = over, False
        if not turns or turns[-1].until < end:
            rows.append(self._between(since, ends, open_before))
            read.append(_read(rows[-1], since[1], end))
        return self._doubted(rows, read)

    def _doubted(self, rows: list[Shown], read: list[Row]) -> list[Shown]:
        """Give rows with what other readings make of them."""
        spans: list[Doubt] = []
        for doubt in doubts(self.watch, read):
            if doubt.fewer:
                spans.append(doubt)
                continue
            for at in range(doubt.first, doubt.last + 1):
                if rows[at].certainty in {"sure", "likely"}:
                    may_be = tuple(sorted(doubt.lines - set(rows[at].lines)))
                    rows[at] = evolve(rows[at], may_be=may_be, certainty="open")
            first, last = doubt.first, doubt.last
            if first and (early := max(doubt.since, rows[first - 1].begins[0])) < rows[first].begins[0]:
                rows[first] = evolve(rows[first], begins=(early, rows[first].begins[1]))
                rows[first - 1] = evolve(rows[first - 1], ends=rows[first].begins)
            if last + 1 < len(rows) and (late := min(doubt.until, rows[last + 1].ends[1])) > rows[last].ends[1]:
                rows[last] = evolve(rows[last], ends=(rows[last].ends[0], late))
                rows[last + 1] = evolve(rows[last + 1], begins=rows[last].ends)
        for at, (row, look) in enumerate(zip(rows, read, strict=True)):
            if row.lines and not any(self.turns.seen_again(line, look.ready, look.until) for line in row.lines):
                before, behind = (read[other].lines if 0 <= other < len(read) else () for other in (at - 1, at + 1))
                instead = self.short.instead(row.lines, row.begins, row.ends, before, behind)
                if instead:
                    rows[at] = evolve(row, may_be=tuple(sorted({*row.may_be, *instead})), certainty="open")
        return _joined(rows, spans)

    def _followed(self, begin: int, end: int) -> list[_Turn]:
        """Give the lines shown one after another, as far as each is explained by nothing else."""
        found: list[_Turn] = []
        ready = begin
        while ready < end and self.turns.readable:
            until, line = max((self.turns.ruled_out(line, ready, end), -line) for line in self.turns.readable)
            line = -line
            if self.turns.turn_inside(line, ready, until):
                earliest = self.watch.last_against(line, ready)
                since = begin if earliest is None else max(begin, earliest)
                found.append(_Turn(line, since, ready, until))
                ready = max(until, ready + 1)
                continue
            # Nothing can be told before the next whole turn of some line.
            following = [self.turns.next_turn(line, ready + 1) for line in self.turns.readable]
            ready = min((turn for turn in following if turn is not None), default=end)
        return found

    def _latest(self, begin: int) -> int:
        """Give when a stretch began at the latest that began at a time at the earliest; any other time as it is."""
        place = int(np.searchsorted(self.s.begin_early, begin))
        same = place < len(self.s) and int(self.s.begin_early[place]) == begin
        return max(begin, int(self.s.begin_late[place])) if same else begin

    def _may_go_on(self, before: Shown, turn: _Turn) -> int:
        """Give until when what was shown before a line may have been shown at the latest."""
        pattern = self.watch.parts[turn.line].pattern
        lines = {*before.lines, *before.may_be} or self.lines
        others = (line for line in lines if self.watch.parts[line].pattern != pattern)
        return max((self.turns.until(line, turn.ready, turn.until) for line in others), default=turn.ready)

    # -- what is told ----------------------------------------------------------------------------------------------

    def _line(
        self, turn: _Turn, begins: tuple[int, int], ends: tuple[int, int], open_before: bool, open_behind: bool
    ) -> Shown:
        pattern = self.watch.parts[turn.line].pattern
        lines = tuple(line for line in self.lines if self.watch.parts[line].pattern == pattern)
        others = tuple(
            line for line in self.lines if line not in lines and self.turns.possible(line, turn.ready, turn.until)
        )
        seen = seen_between(self.s, turn.ready, turn.until)
        return Shown(begins, ends, lines, others, seen, "open" if others else "sure", open_before, open_behind)

    def _between(self, begins: tuple[int, int], ends: tuple[int, int], open_before: bool) -> Shown:
        """Give a stretch of which no line was seen for a whole turn."""
        since, until = begins[1], ends[0]
        lines = tuple(line for line in self.lines if self.turns.possible(line, since, until))
        seen = seen_between(self.s, since, until)
        if lines and until > since:
            single = len({self.watch.parts[line].pattern for line in lines}) == 1
            what: Certainty = "likely" if single and not set(lines) & set(self.turns.unreadable) else "open"
            return Shown(begins, ends, lines if single else (), () if single else lines, seen, what, open_before)
        held = self.watch.grace + self.turns.longest_turn()
        # Lines that each stay so long change at most once more often than that fits in.
        most = (until - since) // held + 1
        long = self.turns.changes_needed(since, until, most + 1) > most
        # Of a short look it is tried whether shorter turns explain it.
        long = long and (most > MOST_SHORT or not self.short.explain(since, until))
        return Shown(begins, ends, (), (), seen, "none" if long else "not read", open_before)


def _read(row: Shown, ready: int, until: int) -> Row:
    return Row(ready, until, frozenset(row.lines or row.may_be))


def _joined(rows: list[Shown], spans: list[Doubt]) -> list[Shown]:
    """Give rows with those left open that a reading with fewer changes does without."""
    spans = sorted(spans, key=lambda doubt: doubt.first)
    found: list[Shown] = []
    at = 0
    while at < len(rows):
        if not spans or at < spans[0].first:
            found.append(rows[at])
            at += 1
            continue
        first, last, lines = at, spans[0].last, set[int]()
        since, until = rows[first].begins[0], rows[first].begins[1]
        while spans and spans[0].first <= last + 1:
            doubt = spans.pop(0)
            last, lines = max(last, doubt.last), lines | doubt.lines
            since, until = min(since, doubt.since), max(until, doubt.until)
        lines.update(*({*row.lines, *row.may_be} for row in rows[first : last + 1]))
        since = max(found[-1].begins[0], min(since, rows[last].ends[0]))
        until = max(until, *(row.ends[1] for row in rows[first : last + 1]))
        seen = rows[first].seen if first == last else "too little to say"
        found[-1] = evolve(found[-1], ends=(since, until))
        found.append(Shown((since, until), (since, until), (), tuple(sorted(lines)), seen, "open"))
        rows[last + 1] = evolve(rows[last + 1], begins=(since, until))
        at = last + 1
    return found

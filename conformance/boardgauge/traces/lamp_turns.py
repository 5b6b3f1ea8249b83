"""Whole turns of a lamp's patterns: where they were seen, and for how long a line of the table explains what was.

Law of this module: it stands on the same looks as the judge (``lamps``). A turn is a lit and a dark part, a group
between two pauses, or a stretch too long for any other line. A line whose parts may fall between samples is ruled out
by no look, but where something was seen that is too slow for it.
"""

from __future__ import annotations

import numpy as np
from attrs import frozen

from boardgauge.language.model import Blink, Dark, Steady
from boardgauge.traces.lamp_closely import CloseWatch
from boardgauge.traces.lamp_looks import Indices
from boardgauge.traces.lamps import LampWatch
from boardgauge.traces.recording import Times
from boardgauge.traces.trace import Trace

MOST_PLACES = 50
"""So many places are looked at to find out whether a line was shown long enough to be read."""


def lines_read(trace: Trace, watch: LampWatch) -> frozenset[int]:
    """Give the lines of the table that were shown for two whole turns somewhere, with all other patterns ruled out.

    A steady light has been read when it is too long for any other line.
    """
    turns = LampTurns(trace, CloseWatch(watch))
    return frozenset(line for line in turns.readable if turns.was_read(line))


@frozen
class _Turns:
    """Whole turns of one line: their first and last stretches, and from when to when they lasted, one place a turn."""

    first: Indices
    last: Indices
    begins: Times
    ends: Times


class LampTurns:
    """The turns of one lamp in one trace."""

    def __init__(self, trace: Trace, watch: LampWatch) -> None:
        self.trace, self.watch = trace, watch
        self.s, self.looks = watch.stretches, watch.looks
        self.lines = range(len(watch.parts))
        self.unreadable = tuple(line for line in self.lines if self.looks.too_coarse(watch.parts[line]))
        self.readable = tuple(line for line in self.lines if line not in self.unreadable)
        self._turns = {line: self._whole_turns(line) for line in self.readable}

    def was_read(self, line: int) -> bool:
        """Tell whether a line was shown for long enough to be read, at one of the first places where it was."""
        end = int(self.s.end_early[-1]) if len(self.s) else 0
        ready = self.next_turn(line, self.trace.start)
        for _ in range(MOST_PLACES):
            if ready is None:
                return False
            until = self.ruled_out(line, ready, end)
            others = (o for o in self.lines if self.watch.parts[o].pattern != self.watch.parts[line].pattern)
            if self._two_inside(line, ready, until) and all(self.until(o, ready, until) < until for o in others):
                return True
            ready = self.next_turn(line, max(until, ready + 1))
        return False

    def _two_inside(self, line: int, begin: int, end: int) -> bool:
        if self.held_for(line) is not None:
            return self.turn_inside(line, begin, end)
        turns = self._turns[line]
        place = int(np.searchsorted(turns.begins, begin))
        if place == len(turns.last):
            return False
        # From lit to lit and from dark to dark, turns lie over each other: the second begins behind the whole first.
        second = int(np.searchsorted(turns.first, turns.last[place], side="right"))
        return second < len(turns.ends) and int(turns.ends[second]) <= end

    # -- whole turns ------------------------------------------------------------------------------------------------

    def _whole_turns(self, line: int) -> _Turns:
        """Give the whole turns of a line that were seen, in order."""
        s, parts = self.s, self.watch.parts[line]
        if parts.number is not None:
            first, last = self.looks.groups(parts)
            right = (last - first) // 2 + 1 == parts.number
            first, last = first[right], last[right]
            return _Turns(first, last, s.begin_early[first], s.end_late[last])
        if isinstance(parts.pattern, Blink):
            fits = self.looks.parts_that_fit(parts)
            first = np.flatnonzero(fits[:-1] & fits[1:])
            return _Turns(first, first + 1, s.begin_early[first], s.end_late[first + 1])
        least = self.held_for(line)
        assert least is not None
        lit = isinstance(parts.pattern, Steady)
        first = np.flatnonzero((s.value == int(lit)) & (s.sure_to - s.sure_from > least))
        return _Turns(first, first, s.begin_late[first], s.end_early[first])

    def turn_inside(self, line: int, begin: int, end: int) -> bool:
        least = self.held_for(line)
        if least is not None:
            return end - begin > least
        turns = self._turns[line]
        place = int(np.searchsorted(turns.begins, begin))
        return place < len(turns.ends) and int(turns.ends[place]) <= end

    def seen_again(self, line: int, begin: int, end: int) -> bool:
        """Tell whether a line was seen for a whole turn, and for one more: of two groups, the pause between is one."""
        if line in self.unreadable or self.held_for(line) is not None:
            return True
        turns = self._turns[line]
        place = int(np.searchsorted(turns.begins, begin))
        again = place + (1 if self.watch.parts[line].number is not None else 2)
        return again < len(turns.ends) and int(turns.ends[again]) <= end

    def next_turn(self, line: int, begin: int) -> int | None:
        """Give where the next whole turn of a line begins, at a time or after it."""
        turns = self._turns[line]
        least = self.held_for(line)
        if least is None:
            place = int(np.searchsorted(turns.begins, begin))
            return int(turns.begins[place]) if place < len(turns.begins) else None
        # A steady light may be looked at from any moment on.
        place = int(np.searchsorted(turns.ends, begin + least, side="right"))
        return max(begin, int(turns.begins[place])) if place < len(turns.begins) else None

    def held_for(self, line: int) -> int | None:
        """Give how long a steady (or dark) lamp must be looked at so that it is nothing else; None for other lines."""
        parts = self.watch.parts[line]
        if not isinstance(parts.pattern, (Steady, Dark)):
            return None
        longest = [other.longest(isinstance(parts.pattern, Steady)) for other in self.watch.parts]
        return self.s.stretched(max((length for length in longest if length is not None), default=0))

    def last_turn(self, line: int, begin: int, end: int) -> int:
        """Give until when, at least, a line was shown that explains all between two times: up to its last whole turn.

        That one may be a part of it and a part of another line.
        """
        least = self.held_for(line)
        if least is not None:
            # Had another line begun before, it would have changed the lamp by then.
            return max(min(end, begin + least), end - least)
        turns = self._turns[line]
        place = int(np.searchsorted(turns.ends, end, side="right")) - 1
        return max(begin, int(turns.begins[place])) if place >= 0 else begin

    def longest_turn(self) -> int:
        lamp = self.watch.lamp
        longest = 0
        for parts in self.watch.parts:
            lit, dark = (max((high for _, high in row), default=0) for row in (parts.lit, parts.dark))
            inside = lamp.flash.dark * 2 if lamp.flash is not None else 0
            longest = max(longest, lit + dark + ((parts.number or 1) - 1) * (lit + inside))
        return longest

    # -- how long a line explains what was seen -----------------------------------------------------------------------

    def ruled_out(self, line: int, ready: int, end: int) -> int:
        known = self.watch.ruled_out(line, ready)
        return end if known is None else min(known, end)

    def until(self, line: int, begin: int, end: int) -> int:
        """Give until when a line, whether it can be read or not, could have looked so; past ``begin`` in any case."""
        if line not in self.unreadable:
            return max(begin + 1, self.ruled_out(line, begin, end))
        slow = self.too_slow_at(line, begin, end)
        return end if slow is None else max(begin + 1, slow)

    def changes_needed(self, begin: int, end: int, most: int) -> int:
        """Give how often, up to ``most``, the line must have changed between two times if only lines were shown."""
        changes = -1
        while begin < end and changes < most:
            changes += 1
            begin = max((self.until(line, begin, end) for line in self.lines), default=begin)
        return changes

    def possible(self, line: int, begin: int, end: int) -> bool:
        """Tell whether a line could have looked so from one time to another."""
        if line in self.unreadable:
            return self.too_slow_at(line, begin, end) is None
        known = self.watch.ruled_out(line, begin)
        return known is None or known >= end

    def too_slow_at(self, line: int, begin: int, end: int) -> int | None:
        """Give when a longer stretch had been seen than a pattern too fast to be read has; None if none was."""
        parts, samples = self.watch.parts[line], self.trace.samples
        if samples is None or parts.shortest is None:
            return None
        # A whole part of it may have fallen between two samples so far apart.
        gap_begins, gap_ends = samples.gaps(parts.shortest - 1)
        s = self.s
        first = max(0, int(np.searchsorted(s.begin_late, begin, side="right")) - 1)
        for stretch in range(first, int(np.searchsorted(s.begin_early, end))):
            since, until = max(int(s.sure_from[stretch]), begin), min(int(s.sure_to[stretch]), end)
            here = slice(*np.searchsorted(gap_begins, (since, until)).tolist())
            seen = np.append(gap_begins[here], until) - np.append(since, gap_ends[here])
            longest = parts.longest(bool(s.value[stretch] == 1))
            if longest is not None and bool(np.any(seen > max(longest, 0))):
                return until
        return None

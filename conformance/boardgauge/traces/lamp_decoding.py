"""What a lamp showed over time, read by the table of its board.

Law of this module: it stands on the same looks as the judge (``lamps``); a line of the table is named only for a
stretch in which nothing rules it out and at least one whole turn of it was seen; what could have looked the same is
listed beside it; and what is too short, or sampled too far apart, to be read is said to be so.

How: from the beginning of a stretch on, the line is taken that is ruled out last. It is the one shown if a whole turn
of it (a lit and a dark part, a group between two pauses, a stretch too long for any other line) lies before that. The
change to what follows lies between the last look that rules that out and the first that rules this out. What is left
between two lines was no line of the table if it is longer than any change of lines explains.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

import numpy as np
from attrs import evolve, frozen

from boardgauge.language.model import Blink, Dark, Steady
from boardgauge.traces.lamp_looks import Indices
from boardgauge.traces.lamp_parts import seconds
from boardgauge.traces.lamps import LampWatch
from boardgauge.traces.recording import Times
from boardgauge.traces.trace import Trace

Certainty = Literal["sure", "likely", "open", "none", "not read", "not known", "no supply"]
"""``sure``: a whole turn was seen, and all other lines are ruled out; ``likely``: all others are, but less than a whole
turn was seen; ``open``: others are not ruled out; ``none``: no line of the table; ``not read``: too short between two
changes; ``not known``: the recording does not tell lit from dark; ``no supply``: the lamp has no power."""


@frozen
class Shown:
    """A stretch of a lamp. Times in microseconds, as in the recording: true times, each somewhere between two.

    ``lines`` are the lines of the table (by number, from 0) that it fits, those with the same pattern together;
    ``may_be`` those that are not told apart from them in this stretch. ``seen`` says what was seen, whatever the table
    says. ``open_before`` and ``open_behind``: it began before the recording (or an unknown stretch), or went on behind.
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
    return tuple(_Decoder(trace, watch).shown())


class _Decoder:
    def __init__(self, trace: Trace, watch: LampWatch) -> None:
        self.trace, self.watch = trace, watch
        self.s, self.looks = watch.stretches, watch.looks
        self.lines = range(len(watch.parts))
        self.unreadable = tuple(line for line in self.lines if self.looks.too_coarse(watch.parts[line]))
        self.readable = tuple(line for line in self.lines if line not in self.unreadable)
        self._turns = {line: self._whole_turns(line) for line in self.readable}

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
        since, open_before = begins, at_start
        for turn in turns:
            is_last = turn.until >= end
            if turn.begin > since[1]:
                rows.append(self._between(since, (turn.begin, turn.ready), open_before))
                change, open_before = (turn.begin, turn.ready), False
            else:
                # It explains all back to where the line before it is ruled out: one change, somewhere between.
                change = max(turn.begin, since[0]), since[1]
                if rows:
                    rows[-1] = evolve(rows[-1], ends=change)
            over = ends if is_last else (max(change[0], self._latest_turn(turn)), turn.until)
            rows.append(self._line(turn, change, over, open_before, is_last and at_end))
            since, open_before = over, False
        if not turns or turns[-1].until < end:
            rows.append(self._between(since, ends, open_before))
        return rows

    def _followed(self, begin: int, end: int) -> list[_Turn]:
        """Give the lines shown one after another, as far as each is explained by nothing else."""
        found: list[_Turn] = []
        ready = begin
        while ready < end and self.readable:
            until, line = max((self._ruled_out(line, ready, end), -line) for line in self.readable)
            line = -line
            if self._turn_inside(line, ready, until):
                earliest = self.watch.last_against(line, ready)
                since = begin if earliest is None else max(begin, earliest)
                found.append(_Turn(line, since, ready, until))
                ready = max(until, ready + 1)
                continue
            # Nothing can be told before the next whole turn of some line.
            following = [self._next_turn(line, ready + 1) for line in self.readable]
            ready = min((turn for turn in following if turn is not None), default=end)
        return found

    def _ruled_out(self, line: int, ready: int, end: int) -> int:
        known = self.watch.ruled_out(line, ready)
        return end if known is None else min(known, end)

    def _latest_turn(self, turn: _Turn) -> int:
        """Give until when, at least, a line was shown: up to the last part of its last whole turn."""
        least = self._held_for(turn.line)
        if least is not None:
            # Had another line begun before, it would have changed the lamp by then.
            return max(min(turn.until, turn.ready + least), turn.until - least)
        begins, ends, sure = self._turns[turn.line]
        place = int(np.searchsorted(ends, turn.until, side="right")) - 1
        return int(sure[place]) if place >= 0 and begins[place] >= turn.ready else turn.ready

    # -- whole turns -----------------------------------------------------------------------------------------------

    def _whole_turns(self, line: int) -> tuple[Times, Times, Times]:
        """Give from when to when whole turns of a line were seen, in order; and until when it was surely shown.

        That is where the last part began: it may have run together with the first part of another line.
        """
        s, parts = self.s, self.watch.parts[line]
        if parts.number is not None:
            first, last = self.looks.groups(parts)
            right = (last - first) // 2 + 1 == parts.number
            return s.begin_early[first[right]], s.end_late[last[right]], s.begin_early[last[right]]
        if isinstance(parts.pattern, Blink):
            fits = self.looks.parts_that_fit(parts)
            first = np.flatnonzero(fits[:-1] & fits[1:])
            return s.begin_early[first], s.end_late[first + 1], s.begin_early[first + 1]
        least = self._held_for(line)
        assert least is not None
        lit = isinstance(parts.pattern, Steady)
        first = np.flatnonzero((s.value == int(lit)) & (s.sure_to - s.sure_from > least))
        return s.begin_late[first], s.end_early[first], s.end_early[first]

    def _turn_inside(self, line: int, begin: int, end: int) -> bool:
        least = self._held_for(line)
        if least is not None:
            return end - begin > least
        begins, ends, _ = self._turns[line]
        place = int(np.searchsorted(begins, begin))
        return place < len(ends) and int(ends[place]) <= end

    def _next_turn(self, line: int, begin: int) -> int | None:
        """Give where the next whole turn of a line begins, at a time or after it."""
        begins, ends, _ = self._turns[line]
        least = self._held_for(line)
        if least is None:
            place = int(np.searchsorted(begins, begin))
            return int(begins[place]) if place < len(begins) else None
        # A steady light may be looked at from any moment on.
        place = int(np.searchsorted(ends, begin + least, side="right"))
        return max(begin, int(begins[place])) if place < len(begins) else None

    def _held_for(self, line: int) -> int | None:
        """Give how long a steady (or dark) lamp must be looked at so that it is nothing else; None for other lines."""
        parts = self.watch.parts[line]
        if not isinstance(parts.pattern, (Steady, Dark)):
            return None
        longest = [other.longest(isinstance(parts.pattern, Steady)) for other in self.watch.parts]
        return self.s.stretched(max((length for length in longest if length is not None), default=0))

    # -- what is told ----------------------------------------------------------------------------------------------

    def _line(
        self, turn: _Turn, begins: tuple[int, int], ends: tuple[int, int], open_before: bool, open_behind: bool
    ) -> Shown:
        pattern = self.watch.parts[turn.line].pattern
        lines = tuple(line for line in self.lines if self.watch.parts[line].pattern == pattern)
        others = tuple(
            line for line in self.lines if line not in lines and self._possible(line, turn.ready, turn.until)
        )
        seen = self._seen(turn.ready, turn.until)
        return Shown(begins, ends, lines, others, seen, "open" if others else "sure", open_before, open_behind)

    def _between(self, begins: tuple[int, int], ends: tuple[int, int], open_before: bool) -> Shown:
        """Give a stretch of which no line was seen for a whole turn."""
        since, until = begins[1], ends[0]
        lines = tuple(line for line in self.lines if self._possible(line, since, until))
        seen = self._seen(since, until)
        if lines and until > since:
            single = len({self.watch.parts[line].pattern for line in lines}) == 1
            what: Certainty = "likely" if single and not set(lines) & set(self.unreadable) else "open"
            return Shown(begins, ends, lines if single else (), () if single else lines, seen, what, open_before)
        long = until - since > self.watch.grace + self._longest_turn()
        return Shown(begins, ends, (), (), seen, "none" if long else "not read", open_before)

    def _longest_turn(self) -> int:
        lamp = self.watch.lamp
        longest = 0
        for parts in self.watch.parts:
            lit, dark = (max((high for _, high in row), default=0) for row in (parts.lit, parts.dark))
            inside = lamp.flash.dark * 2 if lamp.flash is not None else 0
            longest = max(longest, lit + dark + ((parts.number or 1) - 1) * (lit + inside))
        return longest

    def _possible(self, line: int, begin: int, end: int) -> bool:
        """Tell whether a line could have looked so from one time to another."""
        if line in self.unreadable:
            return not self._too_slow_for(line, begin, end)
        known = self.watch.ruled_out(line, begin)
        return known is None or known >= end

    def _too_slow_for(self, line: int, begin: int, end: int) -> bool:
        """Tell whether a pattern too fast to be read would at least have shown shorter stretches than were seen."""
        parts, samples = self.watch.parts[line], self.trace.samples
        if samples is None or parts.shortest is None:
            return False
        # A whole part of it may have fallen between two samples so far apart.
        gap_begins, gap_ends = samples.gaps(parts.shortest - 1)
        s, inside = self.s, self._inside(begin, end, whole=False)
        for stretch in range(inside.start, inside.stop):
            since, until = max(int(s.sure_from[stretch]), begin), min(int(s.sure_to[stretch]), end)
            here = slice(*np.searchsorted(gap_begins, (since, until)).tolist())
            seen = np.append(gap_begins[here], until) - np.append(since, gap_ends[here])
            longest = parts.longest(bool(s.value[stretch] == 1))
            if longest is not None and bool(np.any(seen > max(longest, 0))):
                return True
        return False

    def _inside(self, begin: int, end: int, whole: bool = True) -> slice:
        """Give the stretches between two times; with ``whole`` off, also those that reach out of them."""
        if not whole:
            first = max(0, int(np.searchsorted(self.s.begin_late, begin, side="right")) - 1)
            return slice(first, max(first, int(np.searchsorted(self.s.begin_early, end))))
        first = int(np.searchsorted(self.s.begin_early, begin))
        return slice(first, max(first, int(np.searchsorted(self.s.end_late, end, side="right"))))

    def _seen(self, begin: int, end: int) -> str:
        """Say what was seen, in words that know nothing of the table."""
        s, inside = self.s, self._inside(begin, end)
        whole = np.flatnonzero(s.complete[inside]) + inside.start
        middle = (np.maximum(s.least, 0) + s.most) // 2
        lit, dark = whole[s.value[whole] == 1], whole[s.value[whole] == 0]
        if not len(lit) or not len(dark):
            at = int(np.searchsorted(s.begin_late, (begin + end) // 2, side="right")) - 1
            if end - begin <= 0 or at < 0 or s.value[at] < 0:
                return "too little to say"
            return "lit" if s.value[at] == 1 else "dark"
        lengths = middle[dark]
        short, long = int(np.quantile(lengths, 0.1)), int(np.quantile(lengths, 0.9))
        if long >= 2 * short and len(lengths) >= 2:
            return f"groups of {_numbers(whole, dark[lengths > (short + long) // 2])} flashes"
        return f"{_about(int(np.median(middle[lit])))} lit, {_about(int(np.median(lengths)))} dark"


def _numbers(whole: Indices, pauses: Indices) -> str:
    """Say how many flashes stood between pauses."""
    counts = sorted(set((np.diff(pauses) // 2).tolist()))
    if not counts:
        return f"at least {(len(whole) - len(pauses) + 1) // 2}"
    return " or ".join(map(str, counts)) if len(counts) <= 3 else f"{counts[0]} to {counts[-1]}"


def _about(length: int) -> str:
    return seconds(round(length, -4))

"""What a lamp was seen to show, and which lines of its table that rules out.

Law of this module: a look at the lamp rules a line out only if no lamp that showed this line from a grace before the
look began until it was complete could have looked so, at any phase, with any part anywhere in its tolerance.

Kinds of look:

- *held*: lit (or dark) without a break for longer than a part of the pattern lasts. It is open at both ends, so it may
  begin at any moment of the stretch, and the line that comes on in the middle of a long stretch is ruled out as soon as
  its own grace and longest part are over.
- *stretch*: a lit (or dark) part seen from edge to edge, shorter than any of the pattern's parts or between them.
- *group*: flashes between two pauses; their number is not the pattern's. A dark part counts as a pause from two thirds
  of the pause between groups on; so much of it before the group and after it belongs to the look.
- *run*: more flashes in a row, without a pause, than the pattern has.

Loss and return of power and unknown levels cut a look. A pattern with a part shorter than two gaps between the samples
taken meanwhile is never ruled out (its parts might have fallen between samples).

Times are true times in microseconds. ``begins_earliest`` is the earliest the look can have begun, ``known`` the moment
at which it is complete: a line shown since ``begins_earliest`` less the grace, or before, and still shown at ``known``,
is ruled out.

A judge need not step through looks: on a change of line it asks for the ``deadline`` of the new one, which is found by
bisection however long the recording is.
"""

from __future__ import annotations

from bisect import bisect_left
from itertools import pairwise
from typing import Literal

import numpy as np
from attrs import frozen

from boardgauge.language.model import Dark, Flashes, Lamp, Steady
from boardgauge.traces.lamp_parts import Parts, parts_of, seconds
from boardgauge.traces.lamp_stretches import stretches_of
from boardgauge.traces.recording import Times
from boardgauge.traces.trace import Trace

Look = Literal["held", "stretch", "group", "run"]
SAMPLES_A_PART = 2
"""How many gaps between samples the shortest part of a pattern must span for the samples to say anything about it."""


@frozen
class LampEvidence:
    """One look at a lamp: ``allowed`` are the lines (indices) that could have looked so; ``seen`` says it in words."""

    begins_earliest: int
    begins_latest: int
    known: int
    allowed: frozenset[int]
    seen: str
    kind: Look


@frozen(eq=False)
class _Against:
    """Everything that rules out one pattern: finished looks by their begins, and stretches held long enough."""

    begins: list[int]
    known: list[int]
    """The least of all from here on."""
    which: list[tuple[Look, int, int]]
    """The look that is known first of all from here on: its kind, its first and its last stretch."""
    held_from: list[int]
    held_to: list[int]
    held_for: list[int]
    held_which: list[int]


class LampWatch:
    """All looks at one lamp of a trace, ready to be asked which of them first rules out a line.

    Of a nominal trace, the measured one is looked at: rounding lit and dark parts to whole samples would put honest
    ones outside their tolerance.
    """

    def __init__(self, trace: Trace, lamp: Lamp) -> None:
        trace = trace.measured or trace
        self.lamp = lamp
        self.grace = max(lamp.changes_within, lamp.not_judged_for)
        self._stretches = stretches_of(trace, lamp.id)
        self._parts = [parts_of(line.shows, lamp) for line in lamp.lines]
        self._samples = trace.samples
        self._late = trace.late
        self._gaps = None if trace.samples is None else np.diff(trace.samples)
        self._coarse: dict[int, Times] = {}
        patterns: dict[object, _Against] = {}
        self._against: list[_Against] = []
        for parts in self._parts:
            if parts.pattern not in patterns:
                patterns[parts.pattern] = self._looks_against(parts)
            self._against.append(patterns[parts.pattern])

    def first_against(self, line: int, since: int) -> LampEvidence | None:
        """Give the look that is first complete of those that rule out a line shown since a time, None if none does.

        A board that shows this line from ``since`` on has shown something else by ``known``, or it deviates there.
        """
        against, ready = self._against[line], since + self.grace
        best: LampEvidence | None = None
        at = bisect_left(against.begins, ready)
        if at < len(against.begins):
            kind, first, last = against.which[at]
            best = self._evidence(kind, first, last, line)
        ready = self._stretches.latest(ready)
        index = bisect_left(against.held_to, ready)
        while index < len(against.held_to):
            begins = max(against.held_from[index], ready)
            known = begins + against.held_for[index]
            if known <= against.held_to[index]:
                if best is None or self._stretches.latest(known) < best.known:
                    best = self._held(against.held_which[index], begins, known)
                break
            index += 1
        return best

    def deadline(self, line: int, since: int) -> int | None:
        """Give only the time of ``first_against``."""
        found = self.first_against(line, since)
        return None if found is None else found.known

    # -- finding ---------------------------------------------------------------------------------------------------
    def _faithful(self, parts: Parts, first: Times, last: Times) -> np.ndarray:
        """Tell where the samples from one time to another would have shown every part of a pattern."""
        if self._gaps is None or self._samples is None or parts.shortest is None:
            return np.ones(len(first), dtype=bool)
        if parts.shortest not in self._coarse:
            bad = (self._gaps + self._late) * SAMPLES_A_PART > parts.shortest
            self._coarse[parts.shortest] = np.concatenate((np.zeros(1, dtype=np.int64), np.cumsum(bad)))
        coarse = self._coarse[parts.shortest]
        low = np.searchsorted(self._samples, first, side="right") - 1
        high = np.searchsorted(self._samples, last, side="left")
        bounds = len(coarse) - 1
        return np.asarray(coarse[np.clip(high, 0, bounds)] == coarse[np.clip(low, 0, bounds)])

    def _looks_against(self, parts: Parts) -> _Against:
        looks = [*self._short_stretches(parts), *self._runs(parts), *self._groups(parts)]
        table = [(self._begin(look[0], look[1]), self._known(look[0], look[2]), look) for look in looks]
        table.sort(key=lambda row: row[0])
        known: list[int] = []
        which: list[tuple[Look, int, int]] = []
        for _, time, look in reversed(table):
            if known and known[-1] <= time:
                time, look = known[-1], which[-1]
            known.append(time)
            which.append(look)
        held = self._held_stretches(parts)
        return _Against([row[0] for row in table], known[::-1], which[::-1], *held)

    def _begin(self, kind: Look, first: int) -> int:
        return int(self._stretches.begin_early[first]) - (self._pause if kind == "group" else 0)

    def _known(self, kind: Look, last: int) -> int:
        s = self._stretches
        if kind == "stretch":
            return int(s.end_late[last])
        if kind == "run":
            return int(s.begin_late[last])
        return int(s.end_late[last]) + self._pause

    @property
    def _pause(self) -> int:
        """From here on a dark part is a pause; the same for all groups of a lamp."""
        return next((parts.pause for parts in self._parts if parts.number is not None), 0)

    def _short_stretches(self, parts: Parts) -> list[tuple[Look, int, int]]:
        s = self._stretches
        if isinstance(parts.pattern, (Steady, Dark)):
            return []
        fits = np.zeros(len(s), dtype=bool)
        for value, ranges in ((1, parts.lit), (0, parts.dark)):
            for least, greatest in ranges:
                fits |= (s.value == value) & (s.most >= least) & (s.least <= greatest)
        odd = s.complete & ~fits & self._faithful(parts, s.begin_early, s.end_late)
        return [("stretch", index, index) for index in np.flatnonzero(odd).tolist()]

    def _runs(self, parts: Parts) -> list[tuple[Look, int, int]]:
        if parts.number is None:
            return []
        s, count = self._stretches, parts.number
        # A dark part too short to stand between groups; lit parts and cuts are told by their value.
        inside = s.complete & (s.value == 0) & (s.most < parts.between)
        darks = np.concatenate(([0], np.cumsum(inside)))
        starts = np.arange(max(0, len(s) - 2 * count))
        ends = starts + 2 * count
        good = (s.value[starts] == 1) & (s.value[ends] == 1) & s.began[starts] & s.began[ends]
        good &= darks[ends] - darks[starts] == count
        good &= self._faithful(parts, s.begin_early[starts], s.begin_late[ends])
        return [("run", start, start + 2 * count) for start in np.flatnonzero(good).tolist()]

    def _groups(self, parts: Parts) -> list[tuple[Look, int, int]]:
        if parts.number is None:
            return []
        s, looks = self._stretches, list[tuple[Look, int, int]]()
        pause = (s.value == 0) & (s.least >= parts.pause)
        doubtful = (s.value < 0) | ((s.value == 0) & ~pause & (s.most >= parts.between))
        borders = np.flatnonzero(pause).tolist()
        bad = np.concatenate(([0], np.cumsum(doubtful)))
        pairs = [(a, b) for a, b in pairwise(borders) if bad[b] == bad[a] and b - a >= 2]
        if not pairs:
            return looks
        left, right = np.array(pairs).T
        sure = self._faithful(parts, s.begin_early[left + 1] - parts.pause, s.end_late[right - 1] + parts.pause)
        # Between two pauses stand flashes and the dark parts inside the group: 2n - 1 stretches.
        number = (right - left) // 2
        wrong = sure & (number != parts.number) & s.began[left + 1] & s.ended[right - 1]
        for index in np.flatnonzero(wrong).tolist():
            looks.append(("group", int(left[index]) + 1, int(right[index]) - 1))
        return looks

    def _held_stretches(self, parts: Parts) -> tuple[list[int], list[int], list[int], list[int]]:
        s = self._stretches
        lasts = np.full(len(s), np.iinfo(np.int64).max)
        for value in (1, 0):
            longest = parts.longest(bool(value))
            if longest is not None:
                # Of a pattern without such a part a single moment is enough.
                lasts[s.value == value] = s.stretched(longest) + 1 if longest >= 0 else 0
        held = (s.sure_to - s.sure_from >= lasts) & self._faithful(parts, s.sure_from, s.sure_to)
        which = np.flatnonzero(held)
        return s.sure_from[which].tolist(), s.sure_to[which].tolist(), lasts[which].tolist(), which.tolist()

    # -- telling ---------------------------------------------------------------------------------------------------
    def _held(self, stretch: int, begins: int, known: int) -> LampEvidence:
        s = self._stretches
        lit, lasted = int(s.value[stretch]) == 1, known - begins
        allowed = []
        for index, parts in enumerate(self._parts):
            longest = parts.longest(lit)
            if (
                longest is None
                or (longest >= 0 and lasted <= s.stretched(longest))
                or not self._sure(parts, begins, known)
            ):
                allowed.append(index)
        seen = f"{'lit' if lit else 'dark'} for {seconds(lasted)} and on" if lasted else f"{'lit' if lit else 'dark'}"
        return LampEvidence(begins, begins, s.latest(known), frozenset(allowed), seen, "held")

    def _sure(self, parts: Parts, first: int, last: int) -> bool:
        return bool(self._faithful(parts, np.array([first]), np.array([last]))[0])

    def _evidence(self, kind: Look, first: int, last: int, line: int) -> LampEvidence:
        s = self._stretches
        begin, known = self._begin(kind, first), self._known(kind, last)
        lit, least, most = int(s.value[first]) == 1, int(s.least[first]), int(s.most[first])
        flashes = (last - first) // 2 + 1
        if kind == "stretch":
            length = seconds(most) if least == most else f"{seconds(max(0, least))} to {seconds(most)}"
            seen = f"{'lit' if lit else 'dark'} for {length}"
        elif kind == "group":
            seen = f"a group of {flashes} flash{'' if flashes == 1 else 'es'}"
        else:
            seen = f"{flashes} flashes without a pause"
        allowed = []
        for index, parts in enumerate(self._parts):
            if kind == "stretch":
                ranges = parts.lit if lit else parts.dark
                fits = any(low <= most and least <= high for low, high in ranges)
            elif isinstance(parts.pattern, Flashes):
                fits = parts.number == flashes if kind == "group" else (parts.number or 0) >= flashes
            else:
                fits = not isinstance(parts.pattern, (Steady, Dark))
            if fits or (parts.shortest is not None and not self._sure(parts, begin, known)):
                allowed.append(index)
        late = begin + int(s.begin_late[first] - s.begin_early[first])
        return LampEvidence(begin, late, known, frozenset(allowed) - {line}, seen, kind)

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

import numpy as np
from attrs import frozen

from boardgauge.language.model import Dark, Flashes, Lamp, Pattern, Steady
from boardgauge.traces.lamp_looks import KINDS, Against, Look, Looks
from boardgauge.traces.lamp_parts import Parts, parts_of, seconds
from boardgauge.traces.lamp_stretches import stretches_of
from boardgauge.traces.trace import Trace


@frozen
class LampEvidence:
    """One look at a lamp: ``allowed`` are the lines (indices) that could have looked so; ``seen`` says it in words."""

    begins_earliest: int
    begins_latest: int
    known: int
    allowed: frozenset[int]
    seen: str
    kind: Look


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
        pause = next((parts.pause for parts in self._parts if parts.number is not None), 0)
        self._looks = Looks(self._stretches, trace.samples, trace.late, pause)
        self._found: dict[Pattern, Against] = {}

    def first_against(self, line: int, since: int) -> LampEvidence | None:
        """Give the look that is first complete of those that rule out a line shown since a time, None if none does.

        A board that shows this line from ``since`` on has shown something else by ``known``, or it deviates there.
        """
        known, whole, held = self._first(line, since)
        if held is not None:
            return self._held(held[0], held[1], held[2])
        return None if known is None or whole is None else self._whole(self._against(line), whole, line)

    def deadline(self, line: int, since: int) -> int | None:
        """Give only the time at which the look of ``first_against`` is complete."""
        return self._first(line, since)[0]

    def _against(self, line: int) -> Against:
        parts = self._parts[line]
        if parts.pattern not in self._found:
            self._found[parts.pattern] = self._looks.against(parts)
        return self._found[parts.pattern]

    def _first(self, line: int, since: int) -> tuple[int | None, int | None, tuple[int, int, int] | None]:
        """Give when the line is ruled out, and by which whole look, or by which stretch held from when to when."""
        against, ready = self._against(line), since + self.grace
        best: int | None = None
        whole: int | None = None
        at = int(np.searchsorted(against.begins, ready))
        if at < len(against.begins):
            whole = int(against.best[at])
            best = int(against.known[whole])
        # By the recorder's own clock from here on: a length was measured by it.
        ready = self._stretches.latest(ready)
        for index in range(int(np.searchsorted(against.held_to, ready)), len(against.held_to)):
            begins = max(int(against.held_from[index]), ready)
            known = begins + int(against.held_for[index])
            if known <= against.held_to[index]:
                late = self._stretches.latest(known)
                if best is None or late < best:
                    return late, None, (int(against.held_which[index]), begins, known)
                break
        return best, whole, None

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
        return bool(self._looks.faithful(parts, np.array([first]), np.array([last]))[0])

    def _whole(self, against: Against, index: int, line: int) -> LampEvidence:
        s, kind = self._stretches, KINDS[against.kind[index]]
        first, last = int(against.first[index]), int(against.last[index])
        begin, known = int(against.begins[index]), int(against.known[index])
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

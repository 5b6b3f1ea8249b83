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

from weakref import WeakKeyDictionary

import numpy as np
from attrs import frozen

from boardgauge.language.model import Dark, Flashes, Lamp, Steady
from boardgauge.traces.lamp_looks import Against, Found, Look, Looks
from boardgauge.traces.lamp_parts import Parts, parts_of, seconds
from boardgauge.traces.lamp_stretches import stretches_of
from boardgauge.traces.trace import Trace

_WATCHES: WeakKeyDictionary[Trace, dict[str, LampWatch]] = WeakKeyDictionary()


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
    ones outside their tolerance. ``watch_of`` gives one that is worked out once for both.
    """

    def __init__(self, trace: Trace, lamp: Lamp) -> None:
        trace = trace.measured or trace
        self.lamp = lamp
        self.grace = max(lamp.changes_within, lamp.not_judged_for)
        self.parts = tuple(parts_of(line.shows, lamp) for line in lamp.lines)
        self.stretches = stretches_of(trace, lamp.id)
        pause = next((parts.pause for parts in self.parts if parts.number is not None), 0)
        self.sampled = trace.samples is not None
        self.looks = Looks(self.stretches, trace.samples, trace.late, pause, self.parts)
        self._found: list[Against | None] = [None] * len(self.parts)

    def first_against(self, line: int, since: int) -> LampEvidence | None:
        """Give the look that is first complete of those that rule out a line shown since a time, None if none does.

        A board that shows this line from ``since`` on has shown something else by ``known``, or it deviates there.
        """
        known, whole, held = self._first(line, since + self.grace)
        if held is not None:
            return self._held(held[0], held[1], held[2])
        return None if known is None or whole is None else self._whole(whole[0], whole[1], line)

    def deadline(self, line: int, since: int) -> int | None:
        """Give only the time at which the look of ``first_against`` is complete."""
        return self._first(line, since + self.grace)[0]

    def ruled_out(self, line: int, ready: int) -> int | None:
        """Give when the looks that begin at a time or after it rule out a line, whatever its grace; None if none do."""
        return self._first(line, ready)[0]

    def last_against(self, line: int, before: int) -> int | None:
        """Give the latest moment before a time at which a look begins that rules out a line; None if there is none."""
        against, s = self._against(line), self.stretches
        found: list[int] = []
        for looks in against.whole:
            place = looks.place(s, before) - 1
            if place >= 0:
                found.append(looks.begins(s, place))
        place = against.held.place(s, before)
        for at in (place, place - 1):
            if 0 <= at < len(against.held.which):
                begin, end, lasts = against.held.span(s, at)
                if end - lasts >= begin and begin < before:
                    found.append(min(end - lasts, before - 1))
                    break
        return max(found, default=None)

    def _against(self, line: int) -> Against:
        found = self._found[line]
        if found is None:
            found = self._found[line] = self.looks.against(self.parts[line])
        return found

    def _first(self, line: int, ready: int) -> tuple[int | None, tuple[Found, int] | None, tuple[int, int, int] | None]:
        """Give when the line is ruled out, and by which whole look, or by which stretch held from when to when."""
        against, s = self._against(line), self.stretches
        best: int | None = None
        whole: tuple[Found, int] | None = None
        for looks in against.whole:
            if (place := looks.place(s, ready)) < len(looks.first):
                known = looks.known(s, place)
                if best is None or known < best:
                    best, whole = known, (looks, place)
        # By the recorder's own clock from here on: a length was measured by it.
        ready = s.latest(ready)
        held = against.held
        for place in range(held.place(s, ready) if len(held.which) else 0, len(held.which)):
            begin, end, lasts = held.span(s, place)
            begin = max(begin, ready)
            known = begin + lasts
            # At the moment of a change a lamp is already what it becomes, but at a sample it is what was seen.
            if known <= end and (begin < end or self.sampled):
                late = s.latest(known)
                if best is None or late < best:
                    return late, None, (int(held.which[place]), begin, known)
                break
        return best, whole, None

    def _held(self, stretch: int, begins: int, known: int) -> LampEvidence:
        s = self.stretches
        lit, lasted = int(s.value[stretch]) == 1, known - begins
        allowed = []
        for index, parts in enumerate(self.parts):
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
        return bool(self.looks.faithful(parts, np.array([first]), np.array([last]))[0])

    def _whole(self, looks: Found, place: int, line: int) -> LampEvidence:
        s, kind = self.stretches, looks.kind
        first, last = int(looks.first[place]), int(looks.last[place])
        begin, known = looks.begins(s, place), looks.known(s, place)
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
        for index, parts in enumerate(self.parts):
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


def watch_of(trace: Trace, lamp: Lamp) -> LampWatch:
    """Give the looks at a lamp of a trace; a trace is looked at once, however often it is read."""
    watches = _WATCHES.setdefault(trace.measured or trace, {})
    watch = watches.get(lamp.id)
    if watch is None or watch.lamp != lamp:
        watch = watches[lamp.id] = LampWatch(trace, lamp)
    return watch

"""Finding the looks at a lamp that rule out a pattern.

Law of this module: every look is found by its own shape, at once for the whole recording; what a look means, and when
it may be used, is said in ``lamps``.

A long recording has some hundred thousand stretches for each of some ten patterns, so what is the same for all patterns
is worked out once: each stretch gets a number that says between which of all the patterns' limits its length lies, and
a pattern is a small table of those numbers. Looks of one kind stand in order, and are kept as places of stretches only.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import numpy as np
import numpy.typing as npt
from attrs import frozen

from boardgauge.language.model import Dark, Steady
from boardgauge.traces.lamp_parts import Parts
from boardgauge.traces.lamp_stretches import Stretches
from boardgauge.traces.recording import Times
from boardgauge.traces.samples import Samples
from boardgauge.traces.wave import Booleans

Look = Literal["stretch", "run", "group", "held"]
SAMPLES_A_PART = 2
"""How many gaps between samples the shortest part of a pattern must span for the samples to say anything about it."""

Indices = npt.NDArray[np.intp]
NOWHERE: Indices = np.empty(0, dtype=np.intp)


@frozen(eq=False)
class Found:
    """Looks of one kind, from stretch ``first[i]`` to ``last[i]``: neither falls, nor do their times.

    They begin ``before`` the beginning of the first stretch. A run is known as its last stretch begins, any other look
    ``behind`` the end of its last stretch.
    """

    kind: Look
    first: Indices
    last: Indices
    before: int = 0
    behind: int = 0

    def begins(self, s: Stretches, place: int) -> int:
        """Give the earliest moment at which a look began."""
        return int(s.begin_early[self.first[place]]) - self.before

    def known(self, s: Stretches, place: int) -> int:
        """Give the moment at which a look is complete."""
        over = s.begin_late if self.kind == "run" else s.end_late
        return int(over[self.last[place]]) + self.behind

    def place(self, s: Stretches, ready: int) -> int:
        """Give the place of the first look that begins at a time or after it."""
        stretch = int(s.begin_early.searchsorted(ready + self.before))
        return int(self.first.searchsorted(stretch))


@frozen(eq=False)
class Held:
    """Stretches without a break, in order, in which a look of length ``lasts`` (by value) may begin anywhere.

    Without ``begin`` and ``end`` they are whole: from where they surely held to where they surely did.
    """

    which: Indices
    lasts: tuple[int, int]
    begin: Times | None = None
    end: Times | None = None

    def span(self, s: Stretches, place: int) -> tuple[int, int, int]:
        """Give from when to when a stretch held, by the recorder's clock, and how long a look at it lasts."""
        stretch = self.which[place]
        begin = s.sure_from[stretch] if self.begin is None else self.begin[place]
        end = s.sure_to[stretch] if self.end is None else self.end[place]
        return int(begin), int(end), self.lasts[int(s.value[stretch])]

    def place(self, s: Stretches, ready: int) -> int:
        """Give the place of the first that ends at a time (of the recorder's clock) or after it."""
        if self.end is not None:
            return int(self.end.searchsorted(ready))
        return int(self.which.searchsorted(int(s.sure_to.searchsorted(ready))))


@frozen(eq=False)
class Against:
    """Everything that rules out one pattern."""

    whole: tuple[Found, ...]
    held: Held


class Looks:
    """The stretches of a lamp, with how closely they were sampled, ready to be searched for looks."""

    def __init__(
        self, stretches: Stretches, samples: Samples | None, late: int, pause: int, patterns: Sequence[Parts]
    ) -> None:
        self.stretches = stretches
        self.pause = pause
        self._samples = samples
        self._late = late
        s = stretches
        ranges = [row for parts in patterns for row in (*parts.lit, *parts.dark)]
        bounds = sorted({*(low for low, _ in ranges), *(high + 1 for _, high in ranges)})
        self._bounds = np.array(bounds, dtype=np.int64)
        longest = {self._lasts(parts, lit) for parts in patterns for lit in (False, True)} - {None}
        self._lengths = np.array(sorted(length for length in longest if length is not None), dtype=np.int64)
        # 1 more than there are bounds, for what lies above all of them.
        self._classes = len(bounds) + 1
        number = np.uint16 if 2 * self._classes**2 < 2**16 else np.uint32
        most = np.searchsorted(self._bounds, s.most, side="right").astype(number)
        exact = s.least is s.most
        least = most if exact else np.searchsorted(self._bounds, s.least, side="right").astype(number)
        lit = s.value == 1
        code = np.add(np.multiply(least, self._classes, dtype=number), 1, dtype=number)
        code = np.add(code, most, dtype=number)
        code = np.add(code, np.multiply(lit, self._classes**2, dtype=number), dtype=number)
        # 0 for what is not known or was not seen from edge to edge.
        self._code = np.multiply(code, s.complete, dtype=number)
        spans = s.sure_to - s.sure_from
        longer = np.searchsorted(self._lengths, spans, side="right").astype(np.uint8)
        longer += np.uint8(1)
        longer += lit * np.uint8(len(self._lengths) + 1)
        # Nothing holds for less than no time, between two edges that may be one.
        longer[(s.value < 0) | (spans < 0)] = 0
        self._longer = longer
        self._shapes: dict[tuple[int, int], tuple[Indices, Indices]] = {}
        self._darks: dict[int, npt.NDArray[np.int32]] = {}

    def coarse(self, parts: Parts) -> int | None:
        """Give the length beyond which a gap between samples could swallow a part; None if none can."""
        if self._samples is None or parts.shortest is None or len(self._samples) < 2:
            return None
        return parts.shortest // SAMPLES_A_PART - self._late

    def too_coarse(self, parts: Parts) -> bool:
        """Tell whether most gaps between samples could swallow a part of a pattern."""
        coarse = self.coarse(parts)
        return coarse is not None and bool(np.median(np.diff(np.asarray(self._samples))) > coarse)

    def faithful(self, parts: Parts, first: Times, last: Times) -> Booleans:
        """Tell where the samples from one time to another would have shown every part of a pattern."""
        coarse = self.coarse(parts)
        if coarse is None or self._samples is None:
            return np.ones(len(first), dtype=bool)
        return np.asarray(self._samples.wide_gaps(coarse, first, last) == 0)

    def against(self, parts: Parts) -> Against:
        """Find everything that rules out a pattern."""
        stretches = self._short_stretches(parts)
        whole = (
            Found("stretch", stretches, stretches),
            Found("run", *self._runs(parts)),
            Found("group", *self._groups(parts), self.pause, self.pause),
        )
        return Against(tuple(found for found in whole if len(found.first)), self._held(parts))

    def _sure(self, parts: Parts, first: Times, last: Times) -> Booleans | slice:
        coarse = self.coarse(parts)
        if coarse is None or self._samples is None or self._samples.longest_gap <= coarse:
            return slice(None)
        return self.faithful(parts, first, last)

    def fitting(self, parts: Parts) -> Booleans:
        """Tell, by number, which stretches seen from edge to edge may be parts of a pattern."""
        size = self._classes
        least, most = np.divmod(np.arange(size * size), size)
        fits = np.zeros(1 + 2 * size * size, dtype=bool)
        for at, ranges in ((1, parts.dark), (1 + size * size, parts.lit)):
            table = np.zeros(size * size, dtype=bool)
            for low, high in ranges:
                # Class k is from bound k - 1 on, up to bound k.
                table |= (most > np.searchsorted(self._bounds, low)) & (
                    least <= np.searchsorted(self._bounds, high + 1)
                )
            fits[at : at + size * size] = table
        return fits

    def parts_that_fit(self, parts: Parts) -> Booleans:
        """Tell which stretches were seen from edge to edge and may be parts of a pattern."""
        return np.asarray(self.fitting(parts)[self._code])

    def _short_stretches(self, parts: Parts) -> Indices:
        s = self.stretches
        if isinstance(parts.pattern, (Steady, Dark)):
            return NOWHERE
        wrong = ~self.fitting(parts)
        wrong[0] = False
        found = np.flatnonzero(wrong[self._code])
        return found[self._sure(parts, s.begin_early[found], s.end_late[found])] if len(found) else found

    def _runs(self, parts: Parts) -> tuple[Indices, Indices]:
        s, count = self.stretches, parts.number
        if count is None or len(s) <= 2 * count:
            return NOWHERE, NOWHERE
        darks = self._darks_inside(parts.between)
        # Among so many stretches, as many flashes as dark parts too short to stand between groups.
        good = darks[2 * count :] - darks[: -2 * count] == count
        good = good[: len(s) - 2 * count] & (s.value[: -2 * count] == 1) & s.began[: -2 * count] & s.began[2 * count :]
        starts = np.flatnonzero(good)
        if len(starts):
            starts = starts[self._sure(parts, s.begin_early[starts], s.begin_late[starts + 2 * count])]
        return starts, starts + 2 * count

    def _darks_inside(self, between: int) -> npt.NDArray[np.int32]:
        """Give, up to each stretch, how many complete dark parts were too short to stand between groups."""
        if between not in self._darks:
            s = self.stretches
            inside = s.complete & (s.value == 0) & (s.most < between)
            self._darks[between] = np.concatenate((np.zeros(1, np.int32), np.cumsum(inside, dtype=np.int32)))
        return self._darks[between]

    def groups(self, parts: Parts) -> tuple[Indices, Indices]:
        """Give the first and last stretches of all groups of flashes that stand between two pauses."""
        key = parts.pause, parts.between
        if key not in self._shapes:
            s = self.stretches
            dark = s.value == 0
            pause = dark & (s.least >= parts.pause)
            borders = np.flatnonzero(pause)
            if len(borders) < 2:
                self._shapes[key] = NOWHERE, NOWHERE
                return self._shapes[key]
            bad = np.cumsum((s.value < 0) | (dark & ~pause & (s.most >= parts.between)), dtype=np.int32)
            # Between two pauses stand flashes and the dark parts inside the group: 2n - 1 stretches.
            first, last = borders[:-1] + 1, borders[1:] - 1
            good = (bad[last] == bad[first - 1]) & (last >= first) & s.began[first] & s.ended[last]
            self._shapes[key] = first[good], last[good]
        return self._shapes[key]

    def _groups(self, parts: Parts) -> tuple[Indices, Indices]:
        if parts.number is None:
            return NOWHERE, NOWHERE
        s = self.stretches
        first, last = self.groups(parts)
        wrong = (last - first) // 2 + 1 != parts.number
        first, last = first[wrong], last[wrong]
        if len(first):
            sure = self._sure(parts, s.begin_early[first] - parts.pause, s.end_late[last] + parts.pause)
            first, last = first[sure], last[sure]
        return first, last

    def _lasts(self, parts: Parts, lit: bool) -> int | None:
        longest = parts.longest(lit)
        # Of a pattern without such a part a single moment is enough.
        return longest if longest is None else self.stretches.stretched(longest) + 1 if longest >= 0 else 0

    def _held(self, parts: Parts) -> Held:
        s = self.stretches
        never = int(np.iinfo(np.int64).max)
        dark, lit = self._lasts(parts, False), self._lasts(parts, True)
        lasts = never if dark is None else dark, never if lit is None else lit
        size = len(self._lengths) + 1
        long = np.zeros(1 + 2 * size, dtype=bool)
        for at, length in ((1, dark), (1 + size, lit)):
            if length is not None:
                long[at + int(np.searchsorted(self._lengths, length)) + 1 : at + size] = True
        which = np.flatnonzero(long[self._longer])
        coarse = self.coarse(parts)
        if coarse is None or self._samples is None or self._samples.longest_gap <= coarse:
            return Held(which, lasts)
        # Go on behind each gap that could have swallowed a part, and stop before the next.
        before, behind = self._samples.gaps(coarse)
        inside = np.searchsorted(s.sure_from, behind, side="right") - 1
        inside, behind = inside[inside >= 0], behind[inside >= 0]
        which, start = np.concatenate((which, inside)), np.concatenate((s.sure_from[which], behind))
        order = np.argsort(start, kind="stable")
        which, start = which[order], start[order]
        following = np.append(before, never)[np.searchsorted(before, start)]
        stop = np.minimum(s.sure_to[which], following)
        lengths = np.array([lasts[0], lasts[1], never])[s.value[which]]
        held = stop - start >= lengths
        return Held(which[held], lasts, start[held], np.maximum.accumulate(stop[held]))

"""Finding the looks at a lamp that rule out a pattern.

Law of this module: every look is found by its own shape, at once for the whole recording; what a look means, and when
it may be used, is said in ``lamps``.
"""

from __future__ import annotations

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
KINDS: tuple[Look, ...] = ("stretch", "run", "group")
SAMPLES_A_PART = 2
"""How many gaps between samples the shortest part of a pattern must span for the samples to say anything about it."""

Indices = npt.NDArray[np.intp]


@frozen(eq=False)
class Against:
    """Everything that rules out one pattern.

    Whole looks stand in the order in which they begin; ``best[i]`` is, of those from i on, the one known first.
    ``held_*`` are stretches without a break in which a look of length ``held_for`` may begin anywhere.
    """

    begins: Times
    known: Times
    kind: npt.NDArray[np.int8]
    first: Indices
    last: Indices
    best: Indices
    held_from: Times
    held_to: Times
    held_for: Times
    held_which: Indices


class Looks:
    """The stretches of a lamp, with how closely they were sampled, ready to be searched for looks."""

    def __init__(self, stretches: Stretches, samples: Samples | None, late: int, pause: int) -> None:
        self.stretches = stretches
        self.pause = pause
        self._samples = samples
        self._late = late

    def coarse(self, parts: Parts) -> int | None:
        """Give the length beyond which a gap between samples could swallow a part; None if none can."""
        if self._samples is None or parts.shortest is None or len(self._samples) < 2:
            return None
        return parts.shortest // SAMPLES_A_PART - self._late

    def faithful(self, parts: Parts, first: Times, last: Times) -> Booleans:
        """Tell where the samples from one time to another would have shown every part of a pattern."""
        coarse = self.coarse(parts)
        if coarse is None or self._samples is None:
            return np.ones(len(first), dtype=bool)
        return np.asarray(self._samples.wide_gaps(coarse, first, last) == 0)

    def against(self, parts: Parts) -> Against:
        """Find everything that rules out a pattern."""
        s = self.stretches
        stretch, run, group = self._short_stretches(parts), self._runs(parts), self._groups(parts)
        first = np.concatenate((stretch, run[0], group[0]))
        last = np.concatenate((stretch, run[1], group[1]))
        begins = s.begin_early[first]
        begins[len(first) - len(group[0]) :] -= self.pause
        known = np.concatenate((s.end_late[stretch], s.begin_late[run[1]], s.end_late[group[1]] + self.pause))
        kind = np.repeat(np.arange(3, dtype=np.int8), [len(stretch), len(run[0]), len(group[0])])
        if len(run[0]) or len(group[0]):
            order = np.argsort(begins, kind="stable")
            begins, known, kind, first, last = begins[order], known[order], kind[order], first[order], last[order]
        best = np.arange(len(known))
        if np.any(known[1:] < known[:-1]):
            # From the back: the place of the least so far.
            backwards = known[::-1]
            least = np.minimum.accumulate(backwards)
            place = np.maximum.accumulate(np.where(backwards == least, best, 0))
            best = (len(known) - 1 - place)[::-1]
        return Against(begins, known, kind, first, last, best, *self._held(parts))

    def _short_stretches(self, parts: Parts) -> Indices:
        s = self.stretches
        if isinstance(parts.pattern, (Steady, Dark)):
            return np.empty(0, dtype=np.intp)
        fits = np.zeros(len(s), dtype=bool)
        for value, ranges in ((1, parts.lit), (0, parts.dark)):
            for least, greatest in ranges:
                fits |= (s.value == value) & (s.most >= least) & (s.least <= greatest)
        return np.flatnonzero(s.complete & ~fits & self.faithful(parts, s.begin_early, s.end_late))

    def _runs(self, parts: Parts) -> tuple[Indices, Indices]:
        s, count = self.stretches, parts.number
        if count is None:
            return np.empty(0, dtype=np.intp), np.empty(0, dtype=np.intp)
        # A dark part too short to stand between groups; lit parts and cuts are told by their value.
        inside = s.complete & (s.value == 0) & (s.most < parts.between)
        darks = np.concatenate(([0], np.cumsum(inside)))
        starts = np.arange(max(0, len(s) - 2 * count))
        ends = starts + 2 * count
        good = (s.value[starts] == 1) & (s.value[ends] == 1) & s.began[starts] & s.began[ends]
        good &= darks[ends] - darks[starts] == count
        good &= self.faithful(parts, s.begin_early[starts], s.begin_late[ends])
        return starts[good], ends[good]

    def _groups(self, parts: Parts) -> tuple[Indices, Indices]:
        s = self.stretches
        pause = (s.value == 0) & (s.least >= parts.pause)
        borders = np.flatnonzero(pause)
        if parts.number is None or len(borders) < 2:
            return np.empty(0, dtype=np.intp), np.empty(0, dtype=np.intp)
        doubtful = (s.value < 0) | ((s.value == 0) & ~pause & (s.most >= parts.between))
        bad = np.concatenate(([0], np.cumsum(doubtful)))
        # Between two pauses stand flashes and the dark parts inside the group: 2n - 1 stretches.
        first, last = borders[:-1] + 1, borders[1:] - 1
        wrong = (bad[last] == bad[first]) & (last >= first) & ((last - first) // 2 + 1 != parts.number)
        first, last = first[wrong], last[wrong]
        sure = s.began[first] & s.ended[last]
        sure &= self.faithful(parts, s.begin_early[first] - parts.pause, s.end_late[last] + parts.pause)
        return first[sure], last[sure]

    def _held(self, parts: Parts) -> tuple[Times, Times, Times, Indices]:
        s = self.stretches
        never = int(np.iinfo(np.int64).max)
        lasts = np.full(len(s), never)
        for value in (1, 0):
            longest = parts.longest(bool(value))
            if longest is not None:
                # Of a pattern without such a part a single moment is enough.
                lasts[s.value == value] = s.stretched(longest) + 1 if longest >= 0 else 0
        which, start, stop = np.arange(len(s)), s.sure_from, s.sure_to
        coarse = self.coarse(parts)
        if coarse is not None and self._samples is not None and self._samples.longest_gap > coarse:
            # Go on behind each gap that could have swallowed a part, and stop before the next.
            before, behind = self._samples.gaps(coarse)
            inside = np.searchsorted(s.sure_from, behind, side="right") - 1
            inside, behind = inside[inside >= 0], behind[inside >= 0]
            which, start = np.concatenate((which, inside)), np.concatenate((start, behind))
            order = np.argsort(start, kind="stable")
            which, start = which[order], start[order]
            following = np.append(before, never)[np.searchsorted(before, start)]
            stop = np.minimum(s.sure_to[which], following)
        held = stop - start >= lasts[which]
        return start[held], stop[held], lasts[which][held], which[held]

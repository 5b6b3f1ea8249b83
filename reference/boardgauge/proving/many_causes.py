"""What set something going, in very many instants at once.

Law of this module: each is told as ``Blame`` finds it in that instant alone, but that which of several changed
together is left open where all of them count.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from boardgauge.proving.many_pictures import ManyPictures
from boardgauge.proving.many_rules import Drawn, Happens
from boardgauge.proving.words import NO, Bits

CauseKey = tuple[str, int]
"""("input", its level), ("output", its index); ("inputs", -1) and ("outputs", -1) for all that changed together.
What the instant itself set going has none."""

Causes = dict[CauseKey, Bits]
"""For each thing that set something going where it did."""


class ManyCauses:
    """Finds causes in the pictures of one look at very many instants."""

    def __init__(self, pictures: ManyPictures, now: Drawn, before: Drawn) -> None:
        self._pictures, self._now, self._before = pictures, now, before
        self._mixed: list[tuple[CauseKey, Bits, Drawn]] | None = None

    def put(self, rows: Causes, bits: Bits, happens: Happens | None) -> None:
        """Note what set something going where ``bits`` say that it was; what was noted of those before is gone."""
        if not np.any(bits):
            return
        for key in rows:
            rows[key] = rows[key] & ~bits
        if happens is None:
            return
        if self._mixed is None:
            self._mixed = list(self._all_mixed())
        left = bits
        for key, changed, mixed in self._mixed:
            hit = left & changed & happens(mixed, self._before, self._pictures.no_facts)
            rows[key] = rows[key] | hit if key in rows else hit
            left = left & ~hit

    def _all_mixed(self) -> Iterator[tuple[CauseKey, Bits, Drawn]]:
        """Give what may have set something going, in the order in which it is asked: where it changed, and the picture
        of its change alone."""
        yield from self._of(self._before, self._pictures.level_slots, ("input", "inputs"))
        inputs_new = list(self._before)
        for slot in self._pictures.level_slots:
            inputs_new[slot] = self._now[slot]
        yield from self._of(inputs_new, self._pictures.output_slots, ("output", "outputs"))

    def _of(self, base: Drawn, slots: Sequence[int], words: tuple[str, str]) -> Iterator[tuple[CauseKey, Bits, Drawn]]:
        every = list(base)
        once: Bits = NO
        twice: Bits = NO
        for index, slot in enumerate(slots):
            changed = self._now[slot] ^ self._before[slot]
            if np.any(changed):
                once, twice = once | changed, twice | (once & changed)
                mixed = list(base)
                mixed[slot] = every[slot] = self._now[slot]
                yield (words[0], index), changed, self._pictures.conditions_again(mixed)
        if np.any(twice):
            # Where fewer than two changed there is no more to all of them.
            yield (words[1], -1), twice, self._pictures.conditions_again(every)

"""Show of each part of a condition that it matters on its own (modified condition/decision coverage, masking form).

Law of this module: a part is shown to matter by two moments in which it differs, the outcome differs, and in each of
which turning over this part alone would turn over the outcome. That is the masking form: the other parts may differ
between the two as long as they hide nothing. (NASA/TM-2001-210876, chapter 2, from memory; the unique-cause form, in
which all other parts stay as they are, cannot be had on a machine whose parts hang together.)
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from attrs import frozen

Vector = tuple[bool, ...]


@frozen(eq=False)
class Decision:
    """A condition of so many parts; ``outcome`` gives what it comes to."""

    parts: int
    outcome: Callable[[Vector], bool]

    def mattering(self, vector: Vector) -> tuple[int, ...]:
        """Give the parts whose turning over, each alone, turns over the outcome."""
        is_ = self.outcome(vector)
        return tuple(
            part
            for part in range(self.parts)
            if self.outcome((*vector[:part], not vector[part], *vector[part + 1 :])) != is_
        )

    def sights(self, vector: Vector) -> frozenset[tuple[int, bool, bool]]:
        """Give what a moment shows: (part that matters in it, its value, the outcome)."""
        is_ = self.outcome(vector)
        return frozenset((part, vector[part], is_) for part in self.mattering(vector))


def shown(sights: Iterable[tuple[int, bool, bool]]) -> frozenset[int]:
    """Give the parts that moments show to matter on their own, all that was seen in them put together."""
    seen = set(sights)
    return frozenset(part for part, value, outcome in seen if (part, not value, not outcome) in seen)

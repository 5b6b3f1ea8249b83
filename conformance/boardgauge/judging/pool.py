"""Hypotheses beside one another, none of them inside another.

Law of this module: what a pool leaves out is contained in what it keeps.
"""

from __future__ import annotations

from itertools import combinations

from boardgauge.judging.hypothesis import Hypothesis
from boardgauge.judging.symbols import earlier, is_symbol, later


class Pool:
    """Hypotheses without those that another one contains; of too many of one kind the nearest are joined.

    What lies between the two is then allowed too, so joined is where least does.
    """

    MOST_OF_A_KIND = 6

    def __init__(self) -> None:
        self._kinds: list[list[Hypothesis]] = []
        self._alike: dict[object, list[list[Hypothesis]]] = {}
        self._exactly: dict[object, list[Hypothesis]] = {}
        self._symbols = False

    def add(self, new: Hypothesis) -> bool:
        """Take a hypothesis in; False if it brings nothing new."""
        if not self._kinds:
            self._kinds.append([new])
            return True
        kind = self._kind_of(new)
        for place, old in enumerate(kind):
            if new is old or new.within(old):
                return False
            if new.sums and new.vars == old.vars and new.rate == old.rate:
                # What an accumulator holds is kept as one interval: with every pulse seen or not, it would double.
                kind[place] = old.hull(new)
                return True
        kind[:] = [old for old in kind if not old.within(new)]
        kind.append(new)
        if len(kind) > self.MOST_OF_A_KIND:
            one, other = min(combinations(kind, 2), key=_gap_between)
            joined = one.hull(other)
            kind[:] = [old for old in kind if not old.within(joined)]
            kind.append(joined)
        return True

    def _kind_of(self, new: Hypothesis) -> list[Hypothesis]:
        """Give those that a hypothesis is compared with: mostly there is only one at all, so it looks them up late."""
        if not self._alike:
            self._enter(self._kinds[0][0], self._kinds[0])
        caps = new.caps
        self._symbols = self._symbols or any(is_symbol(cap) for cap in caps)
        if self._symbols:
            # A symbol can be compared, but not looked up.
            for one in self._alike.get(new.kind, ()):
                if one[0].caps == caps:
                    return one
        elif (known := self._exactly.get((new.kind, caps))) is not None:
            return known
        kind: list[Hypothesis] = []
        self._enter(new, kind)
        self._kinds.append(kind)
        return kind

    def _enter(self, new: Hypothesis, kind: list[Hypothesis]) -> None:
        self._alike.setdefault(new.kind, []).append(kind)
        caps = new.caps
        self._symbols = self._symbols or any(is_symbol(cap) for cap in caps)
        if not self._symbols:
            self._exactly[new.kind, caps] = kind

    def __len__(self) -> int:
        return sum(len(kind) for kind in self._kinds)

    def all(self) -> list[Hypothesis]:
        """Give the hypotheses, in the order in which their kinds were first met."""
        return [hypothesis for kind in self._kinds for hypothesis in kind]


def _gap_between(pair: tuple[Hypothesis, Hypothesis]) -> int:
    """Give how much lies between two hypotheses of a kind that neither of them allows, all moments and sums added."""
    one, other = pair
    gap = 0
    for (early, late), (first, last) in zip(one.vars, other.vars, strict=True):
        gap += later(later(early, first) - earlier(late, last), 0)
    for a, b in zip(one.sums, other.sums, strict=True):
        gap += later(later(a.least, b.least) - earlier(a.most, b.most), 0)
    return gap

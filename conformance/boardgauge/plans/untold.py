"""Say of faults that a plan does not find why not: they make no difference, none that is wired, or it is not known.

Law of this module: *no difference* only where it was proved that the faulty board does nothing that a good one may not,
*at one moment* where it was proved that it does something else only if an input changes just as a time runs out.
"""

from __future__ import annotations

from functools import reduce
from itertools import combinations
from typing import Literal

from boardgauge.comparing.terminals import may_do_more
from boardgauge.faults import Fault
from boardgauge.language.expressions import Name
from boardgauge.language.model import Board, Delay
from boardgauge.language.quantities import Duration
from boardgauge.machine.picture import CannotSettle
from boardgauge.machine.settle import Engine
from boardgauge.pairing.jointly import FIRST, SECOND, Ends, Joint, Jointly, Occurs, together
from boardgauge.pairing.lockstep import lockstep, without_lengths
from boardgauge.pairing.pair import Pair, engine_of
from boardgauge.plans.hand import MARGIN, Hand

Untold = Literal["equivalent", "not wired", "one moment"]
_Names = tuple[tuple[str, ...], tuple[str, ...]]
MOST_PAIRS = 8_000

REASONS: dict[Untold, str] = {
    "equivalent": "proved equivalent: such a board does nothing, within the tolerances, that a good one may not",
    "not wired": "not told by the wired signals: proved that none of them ever shows it",
    "one moment": "proved to make no difference but where an input changes in the very instant in which a time runs "
    "out, which no bench brings about at will",
}

TOO_QUICK = "not decided: it acts only while something lasts that is over before the next thing can be done"
_ACT_WHILE_IT_LASTS = {"begun again", "power", "output chatters"}


def too_quick(board: Board, fault: Fault) -> bool:
    """Tell whether a fault acts only while a delay runs that is over before a plan does the next thing."""
    if fault.group not in _ACT_WHILE_IT_LASTS:
        return False
    output = board.outputs.get(fault.of)
    shows = output.on if output is not None else None
    rule = board.rules.get(shows.name if isinstance(shows, Name) else fault.of)
    return isinstance(rule, Delay) and isinstance(rule.lasts, Duration) and rule.lasts.longest < MARGIN


def why_untold(
    good: Engine, fault: Fault, hand: Hand, wired: tuple[str, ...], *, closely: bool, most: int = MOST_PAIRS
) -> Untold | None:
    """Give why no bench tells a fault from the board of ``good``, None where that is not known.

    ``closely``: lengths are followed as well, which takes far longer. ``most`` is how many pairs of states a proof may
    take; ``wired`` are the outputs and lamps that the bench sees.
    """
    if fault.group == "input not filtered" and fault.of in hand.at_power_up:
        # A flicker is nothing to what is looked at once, as the supply comes on.
        return "equivalent"
    board = hand.board
    more = set(may_do_more(board, fault.board))
    pair = Pair(good, engine_of(fault.board))
    unseen = {f"{section}.{name}" for section in ("outputs", "lamps") for name in getattr(board, section)}
    unseen -= {f"{section}.{name}" for section in ("outputs", "lamps") for name in wired}
    asked: list[tuple[Untold, _Names, set[str]]] = [("equivalent", (pair.outputs, pair.lamps), set())]
    seen = tuple(name for name in pair.outputs if name in wired), tuple(name for name in pair.lamps if name in wired)
    if seen != asked[0][1]:
        asked.append(("not wired", seen, unseen))
    found: Untold | None = None
    for why, names, allowed in asked:
        if not more - allowed:
            pair.outputs, pair.lamps = names
            try:
                if closely and lockstep(pair, True, most).verdict == "held":
                    return why
                if not closely and _held(Jointly, pair, most):
                    return why
                if not closely and _held(_Apart, pair, most):
                    found = "one moment"
            except CannotSettle:
                pass
    return found


def _held(kind: type[Jointly], pair: Pair, most: int) -> bool:
    return without_lengths(kind(pair, pair.partners(True)), most, None).verdict == "held"


class _Apart(Jointly):
    """What may happen to a pair, but for inputs that change in the very instant in which a time runs out."""

    def occurrences(self, joint: Joint, ends: Ends | None = None) -> list[Occurs]:
        """Give what happens at the inputs, together or not, and what is over, together or not."""
        if not joint.first.powered:
            return super().occurrences(joint, ends)
        one, other = ends or self.running(joint)
        over = [self.end(joint, FIRST, end) for end in one]
        over += [Occurs(second=(end,)) for end in other if not self.runs_alike(joint, SECOND, end.timing)]
        found = super().occurrences(joint, ([], []))
        for some in (row for size in (1, 2, 3) for row in combinations(over, size)):
            found.append(reduce(together, some))
        return found

"""Acceptance sampling of a lot: single sampling, general inspection level II of ISO 2859-1, in three severities.

Law of this module: a lot is accepted or not by the plan of its size and severity alone; boards that are undecided are
counted as neither good nor bad until it no longer matters which they are. How strictly is said by ``switching``.

Sources. Code letters by lot size and sample sizes: ISO 2859-1:1999, tables 1 and 2-A, read in public copies. Normal and
tightened inspection: every cell of letters A to Q (tightened: A to L) at limits 0.65 to 6.5 was read in a public
guide of the US government that tells tables II-A and II-B of MIL-STD-105E, which those of ISO 2859-1 follow; the cells
stand along diagonals, by which the other limits go (from memory). Reduced inspection: table II-C of MIL-STD-105E and of
ISO 2859-1:1989, from memory, held against nothing; the edition of 1999 has other numbers there, which were not to be
read.
"""

from __future__ import annotations

from typing import Literal

from attrs import frozen

LETTERS = "ABCDEFGHJKLMNPQR"
SIZES = (2, 3, 5, 8, 13, 20, 32, 50, 80, 125, 200, 315, 500, 800, 1250, 2000)
"""Sample sizes of the code letters."""
LARGEST = (
    (8, "A"), (15, "B"), (25, "C"), (50, "D"), (90, "E"), (150, "F"), (280, "G"), (500, "H"), (1200, "J"),
    (3200, "K"), (10_000, "L"), (35_000, "M"), (150_000, "N"), (500_000, "P"),
)  # fmt: skip
"""The largest lot of each code letter, level II; a larger one than all has Q."""
LIMITS = ("0.065", "0.10", "0.15", "0.25", "0.40", "0.65", "1.0", "1.5", "2.5", "4.0", "6.5")
"""Acceptable quality limits, in per cent of boards that do not conform."""
Severity = Literal["normal", "tightened", "reduced"]
_SMALLER = (2, 2, 2, 3, 5, 8, 13, 20, 32, 50, 80, 125, 200, 315, 500, 800)
"""Sample sizes of the code letters at reduced inspection."""
_ON_DIAGONAL: dict[Severity, dict[int, tuple[int, int]]] = {
    "normal": {
        10: (0, 1), 13: (1, 2), 14: (2, 3), 15: (3, 4), 16: (5, 6), 17: (7, 8), 18: (10, 11), 19: (14, 15),
        20: (21, 22),
    },
    "tightened": {
        11: (0, 1), 14: (1, 2), 15: (2, 3), 16: (3, 4), 17: (5, 6), 18: (8, 9), 19: (12, 13), 20: (18, 19),
    },
    "reduced": {
        10: (0, 1), 13: (0, 2), 14: (1, 3), 15: (1, 4), 16: (2, 5), 17: (3, 6), 18: (5, 8), 19: (7, 10), 20: (10, 13),
    },
}  # fmt: skip
"""Acceptance and rejection numbers by the sum of the places of letter and limit; elsewhere arrows lead up and down."""
_UP = 11
"""The diagonal from which an arrow leads up to the first acceptance number, but at tightened inspection."""

Decision = Literal["accept", "do not accept", "go on"]


class NoSuchPlan(ValueError):
    """There is no plan for this size or limit; the message says which there are."""


@frozen
class SamplingPlan:
    """Judge ``n`` boards of the lot, drawn at random; do not accept it from ``reject`` on that do not conform.

    ``letter`` is the code letter of the lot's size, ``used`` that of the plan: arrows of the table may lead to another.
    ``all``: the sample is the whole lot. ``accept`` is one less than ``reject``, but at reduced inspection: a lot with
    a number between them is accepted, and those after it are inspected normally.
    """

    lot: int
    limit: str
    letter: str
    used: str
    n: int
    accept: int
    reject: int
    all: bool
    severity: Severity = "normal"

    @property
    def tighter(self) -> int | None:
        """The acceptance number of this sample if the limit were one step tighter; None where it is no other sample's.

        That is so for acceptance numbers of 2 and more at normal inspection, which is where it is asked for.
        """
        place = LETTERS.index(self.used) + LIMITS.index(self.limit)
        found = _ON_DIAGONAL[self.severity].get(place - 1)
        return None if found is None else found[0]

    def accepted(self, share: float) -> float:
        """Give how likely a lot with this share of bad boards is accepted (binomial: a sample from a long series)."""
        from scipy.stats import binom

        return float(binom.cdf(self.reject - 1, self.n, share))

    def decide(self, judged: int, bad: int, undecided: int) -> Decision:
        """Decide on ``judged`` boards of the sample, of which some are bad and some undecided."""
        if bad >= self.reject:
            return "do not accept"
        if judged >= self.n and bad + undecided < self.reject:
            return "accept"
        return "go on"


def letter_of(lot: int) -> str:
    """Give the code letter of a lot size, level II. Raises NoSuchPlan."""
    if lot < 2:
        raise NoSuchPlan(f"a lot of {lot}: expected at least 2 boards")
    return next((letter for largest, letter in LARGEST if lot <= largest), "Q")


def plan_of(lot: int, limit: str = "1.0", severity: Severity = "normal") -> SamplingPlan:
    """Give the plan for a lot of this size. Raises NoSuchPlan."""
    named = _named(limit)
    letter = letter_of(lot)
    column, row = LIMITS.index(named), LETTERS.index(letter)
    cells = _ON_DIAGONAL[severity]
    while (column + row) not in cells:
        down = column + row <= max(cells) and (column + row != _UP or severity == "tightened")
        if not 0 <= row + (1 if down else -1) < len(LETTERS):
            raise NoSuchPlan(f"{limit} % for a lot of {lot}: the table has no plan")
        row += 1 if down else -1
    n = (_SMALLER if severity == "reduced" else SIZES)[row]
    accept, reject = cells[column + row]
    return SamplingPlan(lot, named, letter, LETTERS[row], min(n, lot), accept, reject, n >= lot, severity)


def _named(limit: str) -> str:
    try:
        value = float(limit)
    except ValueError:
        value = -1.0
    found = next((name for name in LIMITS if float(name) == value), None)
    if found is None:
        raise NoSuchPlan(f"a limit of {limit} %: expected one of {', '.join(LIMITS)}")
    return found

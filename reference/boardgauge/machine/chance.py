"""The free choices of a simulated board: how long, how late, seen or not.

Law of this module: every choice the spec leaves open is made here, inside what the spec allows, and from one seed. No
clock is read.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from hashlib import sha256
from random import Random
from typing import Literal

from attrs import frozen

from boardgauge.language.quantities import Duration, TimeRange, Tolerance
from boardgauge.machine.table import Machine

Timings = Literal["nominal", "earliest", "latest", "random"]
TIMINGS: tuple[Timings, ...] = ("nominal", "earliest", "latest", "random")

_FINE = 10_000
_AT_A_LIMIT = 0.2


@frozen
class Draw:
    """How long one start of a timing lasts: ``board`` microseconds of board time, then ``real`` at rate 1.

    A negative ``real`` ends it that much before the board time is used up.
    """

    board: Fraction
    real: int


class Chance:
    """Makes the choices of one run.

    ``durations`` (timing's name -> microseconds) says of some timings how long they last: the first time, the second
    time and so on, the last figure from then on.
    """

    def __init__(
        self, machine: Machine, timings: Timings, seed: int, durations: Mapping[str, Sequence[int]] | None = None
    ) -> None:
        if timings not in TIMINGS:
            raise ValueError(f"a board runs at timings {', '.join(TIMINGS)}, not {timings!r}")
        self._said = {name: list(lengths) for name, lengths in (durations or {}).items()}
        self.timings = timings
        self._machine = machine
        self._seed = seed
        self._random = Random(seed)
        self._shared: Fraction | None = None
        if machine.board.clock == "shared":
            self._shared = self._shared_factor(machine)

    def beside(self, what: str) -> Chance:
        """Give a chance for choices that disturb no others, the same each time for the same ``what``."""
        digest = sha256(f"{self._seed} {what}".encode()).digest()
        other = Chance(self._machine, self.timings, int.from_bytes(digest[:8], "big"))
        other._shared = None
        return other

    def _shared_factor(self, machine: Machine) -> Fraction:
        # One clock drives all times, so its error has to be allowed to every one of them.
        judged = [t for t in machine.timings if t.role not in {"requirement", "not judged"}]
        tolerances = [d.tolerance for t in judged for d in t.choices if d.tolerance is not None]
        less = min((t.percent_less for t in tolerances), default=Fraction(0))
        more = min((t.percent_more for t in tolerances), default=Fraction(0))
        return 1 + self.part(less, more)

    def part(self, less: Fraction, more: Fraction) -> Fraction:
        """Give a fraction between ``-less`` and ``more``."""
        if self.timings == "nominal":
            return Fraction(0)
        if self.timings == "earliest":
            return -less
        if self.timings == "latest":
            return more
        return -less + (less + more) * self._share()

    def _share(self) -> Fraction:
        # The limits themselves are where boards and judges part; plain chance would never draw them.
        draw = self._random.random()
        if draw < _AT_A_LIMIT:
            return Fraction(int(draw * 2 / _AT_A_LIMIT))
        return Fraction(self._random.randint(0, _FINE), _FINE)

    def between(self, first: int, last: int) -> int:
        """Give a whole number from ``first`` to ``last``: the first unless boards are late or random."""
        if last <= first or self.timings in {"nominal", "earliest"}:
            return first
        if self.timings == "latest":
            return last
        return first + int((last - first) * self._share())

    def edge(self, first: int, last: int) -> int:
        """Give the moment of a change that bounced from ``first`` to ``last``; nominal: when it came to rest."""
        return last if self.timings == "nominal" else self.between(first, last)

    def duration(self, duration: Duration, name: str = "") -> Draw:
        """Draw how long a timing lasts this time; ``name`` is the timing's, for what is said of it."""
        said = self._said.get(name)
        if said:
            return _lasting(duration, said.pop(0) if len(said) > 1 else said[0])
        tolerance = duration.tolerance or Tolerance()
        if self._shared is None:
            factor = 1 + self.part(tolerance.percent_less, tolerance.percent_more)
        else:
            # Times of requirements and of stretches not judged are not the board's and stay exact.
            factor = min(max(self._shared, 1 - tolerance.percent_less), 1 + tolerance.percent_more)
        real = self.part(Fraction(tolerance.less), Fraction(tolerance.more))
        return Draw(duration.nominal * factor, real.numerator // real.denominator)

    def length(self, nominal: int, shortest: int, longest: int) -> int:
        """Give a length from ``shortest`` to ``longest``, in whole microseconds."""
        if self.timings == "random":
            return self._random.randint(shortest, longest)
        return {"nominal": nominal, "earliest": shortest, "latest": longest}[self.timings]

    def sees(self, lasted: int, ignores: TimeRange) -> bool:
        """Decide whether a change that may go unseen is seen; it lasted so long."""
        if self.timings == "nominal":
            return 2 * lasted >= ignores.least + ignores.greatest
        return self._yes()

    def loses_power(self, gap: int, rides_through: TimeRange) -> bool:
        """Decide whether a gap of the supply is a loss of power."""
        if gap < rides_through.least:
            return False
        if gap > rides_through.greatest:
            return True
        if self.timings == "nominal":
            return 2 * gap >= rides_through.least + rides_through.greatest
        return self._yes()

    def _yes(self) -> bool:
        return self.timings == "earliest" or (self.timings == "random" and self._random.random() < 0.5)


def _lasting(duration: Duration, length: int) -> Draw:
    """Give the draw by which a timing lasts so long when nothing speeds it up."""
    board = min(max(Fraction(length), duration.percent_shortest), duration.percent_longest)
    real = length - board
    return Draw(board, real.numerator // real.denominator)

"""What a case asks of an implementation, and what an implementation may answer.

Law of this module: values only. Times are whole microseconds from the moment a case calls 0.
"""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING, Protocol

from attrs import frozen

if TYPE_CHECKING:
    from boardgauge.cases.case import Case

State = bool | Fraction | None
"""True for on, closed, fitted, pressed and lit; a number for a sensor; None for what is not known."""


@frozen(order=True)
class Row:
    """From ``time`` on ``signal`` is ``value``."""

    time: int
    signal: str
    value: State


@frozen
class Refused:
    """The spec was turned down, with this message."""

    message: str


@frozen
class Played:
    """What the outputs and lamps showed, each change a row, in order of time."""

    rows: tuple[Row, ...]


@frozen
class Judged:
    """A verdict, and of a board that deviates its first deviation; None for what is not said of it."""

    verdict: str
    time: int | None = None
    signal: str | None = None
    rule: str | None = None
    clause: str | None = None
    earliest: int | None = None
    latest: int | None = None


@frozen
class Skipped:
    """The implementation does not do what the case is about."""

    reason: str


@frozen
class Broke:
    """The implementation gave no answer at all: it crashed, ran out of time or answered nonsense."""

    reason: str


Outcome = Refused | Played | Judged | Skipped | Broke


class Subject(Protocol):
    """An implementation of the language, seen from the suite. A spec that is turned down is answered ``Refused``."""

    def play(self, case: Case) -> Outcome:
        """Give what a board at nominal times does with the inputs of the case."""

    def judge(self, case: Case) -> Outcome:
        """Give the verdict on the recording of the case."""

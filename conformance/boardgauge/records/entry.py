"""What is put into the records: one run of one board, with all that it was judged by.

Law of this module: values only, and nothing here needs a database. Who ran the board (a person with a logger, a bench)
fills in an ``Entry``; ``adding.add_run`` keeps it.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable
from datetime import UTC, datetime
from typing import Any
from uuid import uuid4

from attrs import evolve, field, frozen

from boardgauge.judging.judgement import Judgement
from boardgauge.language.model import Board

LONGEST_NAME = 100
"""Letters of a serial number, a lot, an operator or a rig at most."""


class UnusableEntry(ValueError):
    """Something of an entry cannot be kept; the message says what, and what was expected."""


def is_name(text: str) -> bool:
    """Tell whether a serial number, a lot, an operator or a rig can be called so."""
    return bool(text.strip()) and len(text) <= LONGEST_NAME and text.isprintable()


def _named(what: str) -> Callable[[object, object, Any], None]:
    def check(_: object, __: object, value: Any) -> None:
        if value is not None and not is_name(value):
            raise UnusableEntry(
                f"{what} {value!r}: expected 1 to {LONGEST_NAME} letters, digits and signs on one line, not all blank"
            )

    return check


def any_simulated(runs: Iterable[bool | None]) -> bool | None:
    """Tell whether one of several runs was simulated; None where none is known to be and of one it is not known."""
    found = set(runs)
    return True if True in found else None if None in found else False


@frozen
class KeptFile:
    """One file of a recording: what it was called, and its bytes."""

    name: str
    content: bytes = field(repr=False)

    @property
    def sha256(self) -> str:
        """The digest by which the bytes are kept."""
        return hashlib.sha256(self.content).hexdigest()


@frozen
class Goal:
    """One thing that a plan is to show of a board: its kind, and what it is, in words."""

    kind: str
    what: str


@frozen
class LeftOut:
    """Something that a plan does not try to show, and why."""

    kind: str
    what: str
    reason: str


@frozen
class PlanCoverage:
    """What of a plan's goals a run reached, and what it did not. ``digest`` is the SHA-256 of the plan's text.

    Of a plan in several sittings, each is a run; what they reached counts together.
    """

    title: str
    digest: str
    reached: tuple[Goal, ...]
    missed: tuple[Goal, ...] = ()
    left_out: tuple[LeftOut, ...] = ()

    @property
    def complete(self) -> bool:
        """Tell whether there was something to reach and nothing of it was missed."""
        return bool(self.reached) and not self.missed

    def with_(self, other: PlanCoverage) -> PlanCoverage:
        """Give what two runs of one plan reached together: a goal that one of them reached is reached."""
        reached = tuple(dict.fromkeys((*self.reached, *other.reached)))
        missed = tuple(goal for goal in dict.fromkeys((*self.missed, *other.missed)) if goal not in set(reached))
        return evolve(
            self, reached=reached, missed=missed, left_out=tuple(dict.fromkeys((*self.left_out, *other.left_out)))
        )


def together(plans: Iterable[PlanCoverage]) -> tuple[PlanCoverage, ...]:
    """Give what several runs reached, each plan (by its digest) once."""
    found: dict[str, PlanCoverage] = {}
    for plan in plans:
        found[plan.digest] = found[plan.digest].with_(plan) if plan.digest in found else plan
    return tuple(found.values())


@frozen
class Entry:
    """One run of one board.

    ``files`` are the recording, in one part or several; ``judgement`` what came of it; ``board`` the spec that it was
    judged by and ``spec_given`` what that was called; ``wiring_text`` the text of the wiring's file (None: channels
    went by the names of signals) and ``wiring_given`` the file. ``start`` and ``settings`` are what was told to the
    judge. ``rig`` is the rig that drove the board, if one did, ``rig_kind`` its kind, and ``simulated`` tells whether
    no real board stood on it; None where that is not known. ``measured`` is when the recording was made, with its time
    zone. ``visit`` is the same for all runs that belong together: what was recorded of a board one after the other, say
    by one plan. ``command`` is what was typed.
    """

    serial: str = field(validator=_named("serial number"))
    judgement: Judgement
    board: Board
    files: tuple[KeptFile, ...]
    measured: datetime
    version: str
    spec_given: str = ""
    wiring_id: str = ""
    wiring_text: str | None = None
    wiring_given: str = ""
    start: str | None = None
    settings: dict[str, str] = field(factory=dict)
    lot: str | None = field(default=None, validator=_named("lot"))
    operator: str | None = field(default=None, validator=_named("operator"))
    rig: str | None = field(default=None, validator=_named("rig"))
    rig_kind: str | None = None
    simulated: bool | None = False
    plan: PlanCoverage | None = None
    visit: str = field(factory=lambda: uuid4().hex)
    command: str = ""
    note: str = ""

    def __attrs_post_init__(self) -> None:
        if self.measured.tzinfo is None:
            raise UnusableEntry(f"measured at {self.measured}: expected a time with its time zone")
        if self.measured > datetime(9999, 1, 1, tzinfo=UTC):
            raise UnusableEntry(f"measured at {self.measured}: expected a time of our days")

"""A board spec as values: what the reader gives and everything else takes.

Law of this module: these classes hold what was written and decide nothing. A ``Board`` that came from
``language.read_board`` has passed every check of ``language.checks``; one put together by hand may not have.

Every table carries a ``Note`` (what people wrote about it, with the clause of the document it comes from) and an
``at``, the place of its header in the file. ``at`` never counts when two boards are compared.
"""

from __future__ import annotations

from enum import Enum
from typing import Literal

from attrs import field, frozen

from boardgauge.language.expressions import Condition, Event, Trigger
from boardgauge.language.quantities import Duration, Quantity, TimeRange, Tolerance


@frozen(order=True)
class Spot:
    """A place in a file; lines and columns count from 1."""

    file: str
    line: int = 1
    column: int = 1

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.column}"


NOWHERE = Spot("<made in memory>")


def _at() -> Spot:
    value: Spot = field(default=NOWHERE, eq=False, kw_only=True, repr=False)
    return value


@frozen
class Note:
    """What people wrote about a table: title, text, why, and the clause of the document it comes from."""

    title: str | None = None
    text: str | None = None
    why: str | None = None
    clause: str | None = None


NO_NOTE = Note()


class InputKind(Enum):
    """The kinds of input; each has its own words for its states."""

    CALL = "call"
    SIGNAL = "signal"
    SWITCH = "switch"
    LINK = "link"
    BUTTON = "button"
    SENSOR = "sensor"


Contact = Literal["normally open", "normally closed"]


@frozen
class Input:
    """One input terminal. ``filter`` and ``responds_within`` are the board's where the table states none."""

    id: str
    kind: InputKind
    filter: TimeRange
    responds_within: int
    contact: Contact | None = None
    unit: str | None = None
    accuracy: Quantity | None = None
    note: Note = NO_NOTE
    curve: str | None = None
    at: Spot = _at()

    @property
    def rests_on(self) -> bool:
        """Tell whether it is on (closed, that is) where nothing is done to it; a sensor has no rest."""
        return self.kind is InputKind.SWITCH and self.contact == "normally closed"


@frozen
class Position:
    """One position of a setting: its time, and the name or the condition by which it is chosen."""

    is_: Duration
    name: str | None = None
    when: Condition | None = None


@frozen
class Setting:
    """A time chosen on the board, by jumpers (``when``) or by a person (``name``)."""

    id: str
    positions: tuple[Position, ...]
    read: Literal["at power-up", "always"]
    factory: str | None = None
    note: Note = NO_NOTE
    at: Spot = _at()


@frozen
class SettingRef:
    """The time of a rule is that of a setting."""

    setting: str


Lasting = Duration | SettingRef


@frozen
class NamedCondition:
    """``[conditions.X]``: a name for a condition."""

    id: str
    is_: Condition
    note: Note = NO_NOTE
    at: Spot = _at()


@frozen
class Delay:
    """A stretch of time that begins at an event and lasts a time; may be cut short."""

    id: str
    begins: Event
    lasts: Lasting
    if_begun_again: Literal["starts over", "runs on"] | None = None
    cut_by: Trigger | None = None
    kept_without_power: bool = False
    note: Note = NO_NOTE
    at: Spot = _at()


@frozen
class Lockout:
    """Latches when tripped. ``clears`` is None for a hard lockout ("only by power loss")."""

    id: str
    trips: Trigger
    clears: Trigger | None
    lasts: Lasting | None = None
    kept_without_power: bool = False
    note: Note = NO_NOTE
    at: Spot = _at()


@frozen
class Count:
    """Counts events, inside a window if ``within`` is given; reached from ``limit`` on."""

    id: str
    counts: Event
    limit: int
    within: Lasting | None = None
    forgets: Trigger | None = None
    kept_without_power: bool = False
    note: Note = NO_NOTE
    at: Spot = _at()


@frozen
class Accumulator:
    """Adds up time while a condition holds, and keeps it while it does not."""

    id: str
    adds_while: Condition
    target: Lasting
    resets: Trigger | None = None
    kept_without_power: bool = False
    note: Note = NO_NOTE
    at: Spot = _at()


@frozen
class Mode:
    """Begins and ends by triggers, with least and greatest stay."""

    id: str
    begins: Trigger
    ends: Trigger
    at_least: Lasting | None = None
    at_most: Lasting | None = None
    kept_without_power: bool = False
    note: Note = NO_NOTE
    at: Spot = _at()


@frozen
class Step:
    """One step of a sequence. ``then`` and ``if_not`` name a step, or ``"end"``; both are filled in by the reader."""

    name: str
    then: str
    lasts: Lasting | None = None
    until: Condition | None = None
    if_not: str | None = None


@frozen
class Sequence:
    """Named steps with times, what ends each, and where it goes on."""

    id: str
    begins: Trigger
    ends: Trigger
    steps: tuple[Step, ...]
    kept_without_power: bool = False
    note: Note = NO_NOTE
    at: Spot = _at()


@frozen
class Toggle:
    """One remembered bit that flips on an event, off at first."""

    id: str
    flips: Event
    kept_without_power: bool = False
    note: Note = NO_NOTE
    at: Spot = _at()


Rule = Delay | Lockout | Count | Accumulator | Mode | Sequence | Toggle


@frozen
class Output:
    """One output terminal: either ``on``, or ``starts`` and ``stops``. ``lag`` in microseconds."""

    id: str
    on: Condition | None = None
    starts: Condition | None = None
    stops: Condition | None = None
    contact: Contact = "normally open"
    lag: int = 0
    note: Note = NO_NOTE
    at: Spot = _at()


@frozen
class Steady:
    """Lit without a break."""


@frozen
class Dark:
    """Not lit at all."""


@frozen
class Blink:
    """Lit and dark in turn; microseconds."""

    lit: int
    dark: int


@frozen
class Flashes:
    """Groups of this many flashes."""

    number: int


Pattern = Steady | Dark | Blink | Flashes


@frozen
class LampLine:
    """One line of a lamp's table. ``when`` is None for the last line, "otherwise".

    ``means`` and ``do`` are for people: what the line tells, and what to do about it.
    """

    when: Condition | None
    shows: Pattern
    clause: str | None = None
    means: str | None = None
    do: str | None = None


@frozen
class Lamp:
    """A lamp: the first line whose ``when`` holds is shown. ``flash`` is one flash of a group."""

    id: str
    lines: tuple[LampLine, ...]
    tolerance: Tolerance
    flash: Blink | None = None
    between_groups: int | None = None
    changes_within: int = 0
    not_judged_for: int = 0
    note: Note = NO_NOTE
    at: Spot = _at()


@frozen
class Never:
    """The condition never holds, or the event never happens."""

    what: Condition | Event


@frozen
class Always:
    """The condition holds in every settled picture."""

    what: Condition


@frozen
class Follows:
    """Each ``after`` is followed by ``then`` within a time (microseconds)."""

    after: Event
    then: Trigger
    within: int


@frozen
class Together:
    """The outputs that change in one instant (in which ``after`` happens) show within a time of each other."""

    outputs: tuple[str, ...]
    within: int
    after: Event | None = None


@frozen
class Requirement:
    """What must never or always happen, whatever the rules say."""

    id: str
    demand: Never | Always | Follows | Together
    except_while: Condition | None = None
    note: Note = NO_NOTE
    at: Spot = _at()


@frozen
class SpeedUp:
    """While the condition holds, the timings of the rules named run faster."""

    id: str
    while_: Condition
    times_faster: int
    what: tuple[str, ...]
    note: Note = NO_NOTE
    at: Spot = _at()


@frozen
class NotJudged:
    """A stretch after an event in which outputs give neither verdict nor event; ``signals`` are output or lamp ids."""

    signals: tuple[str, ...]
    after: Event
    lasts: Duration
    clause: str | None = None
    at: Spot = _at()


@frozen
class Board:
    """A whole board spec, checked. Mappings keep the order of the file, which means nothing."""

    id: str
    title: str
    tolerance: Tolerance | None = None
    responds_within: int = 0
    filter: TimeRange = TimeRange()
    same_moment: int = 0
    clock: Literal["independent", "shared"] = "independent"
    rides_through: TimeRange = TimeRange()
    source: str | None = None
    text: str | None = None
    inputs: dict[str, Input] = field(factory=dict)
    settings: dict[str, Setting] = field(factory=dict)
    conditions: dict[str, NamedCondition] = field(factory=dict)
    rules: dict[str, Rule] = field(factory=dict)
    outputs: dict[str, Output] = field(factory=dict)
    lamps: dict[str, Lamp] = field(factory=dict)
    requirements: dict[str, Requirement] = field(factory=dict)
    speed_ups: dict[str, SpeedUp] = field(factory=dict)
    not_judged: tuple[NotJudged, ...] = ()
    digest: str = field(default="", eq=False)
    at: Spot = _at()

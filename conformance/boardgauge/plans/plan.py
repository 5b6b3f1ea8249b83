"""A bench plan: what is done to a board, step by step, and what a good board shows meanwhile.

Law of this module: values only. A plan is a line of steps that goes by what the board does: a step that waits for a
signal is over when it comes, or at its limit, and what follows is timed from there. A plan never says whether a board
is good: its recordings are judged by the judge. Times are microseconds.

A plan is made of *sittings*. Each begins with the supply off, every input at rest but for what ``start`` says and the
settings that a person chooses as ``settings`` says, gives one recording, and ends with the supply off again.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from attrs import field, frozen

from boardgauge.language.model import NOWHERE, Spot
from boardgauge.machine.run import Value

GoalKind = Literal["move", "limit", "lamp line", "part of a condition", "fault"]
GOAL_KINDS: tuple[GoalKind, ...] = ("move", "limit", "lamp line", "part of a condition", "fault")
"""``move``: a rule goes from one place to another; ``limit``: one side of a timing's limits; ``lamp line``: a line of a
lamp's table, shown long enough to be read; ``part of a condition``: shown to matter on its own; ``fault``: found."""

PLURALS: dict[GoalKind, str] = {
    "move": "moves",
    "limit": "limits of times",
    "lamp line": "lamp lines",
    "part of a condition": "parts of conditions",
    "fault": "faults",
}


NO_TIME = "no bench time was left for it"
STOPPED = "not decided: planning was broken off first"


def untried(kind: str, reason: str) -> bool:
    """Tell whether goals of a kind were left out only since planning, or the bench, had too little time.

    A plan that left a move, a limit or the like out for that is not whole, and qualifies no board. Faults are more than
    a plan of hours decides, and those that it finds are named.
    """
    return kind != "fault" and reason in (NO_TIME, STOPPED)


@frozen
class Set:
    """Bring ``inputs`` to values and the supply on or off (``power``; None leaves it), all at one moment.

    ``caution`` is what a person must have read before; ``why`` is what the step is for. In every step ``id`` is the
    name by which later steps count from it, "" where none does.
    """

    inputs: Mapping[str, Value] = field(factory=dict)
    power: bool | None = None
    id: str = ""
    caution: str = ""
    why: str = ""
    at: Spot = field(default=NOWHERE, eq=False, repr=False)


@frozen
class Wait:
    """Let a time go by, whatever the board does."""

    time: int
    id: str = ""
    why: str = ""
    at: Spot = field(default=NOWHERE, eq=False, repr=False)


@frozen
class WaitFor:
    """Wait until an output is at a level (the coil on is true), ``at_most`` so long from the beginning of this step.

    If it is so already, the step is over at once; if it does not come, the plan goes on all the same. A good board
    does it ``earliest`` to ``latest`` after the step ``since`` was over; "" is the beginning of this step.
    """

    signal: str
    level: bool
    earliest: int
    latest: int
    at_most: int
    since: str = ""
    id: str = ""
    why: str = ""
    at: Spot = field(default=NOWHERE, eq=False, repr=False)


@frozen
class Observe:
    """Look at ``outputs`` (the coil on is true) and ``lamps`` (what each shows, in the words of the spec) for a time.

    A good board shows all of it from the beginning of the step to its end, ``held`` later; a lamp only from its grace
    after a change of line on.
    """

    held: int
    outputs: Mapping[str, bool] = field(factory=dict)
    lamps: Mapping[str, str] = field(factory=dict)
    id: str = ""
    why: str = ""
    at: Spot = field(default=NOWHERE, eq=False, repr=False)


@frozen
class Measure:
    """The time from the end of step ``since`` to the end of step ``until``, which takes none itself.

    ``what`` names what is measured (a timing of the spec). A good board takes ``shortest`` to ``longest``.
    """

    what: str
    since: str
    until: str
    shortest: int
    longest: int
    id: str = ""
    why: str = ""
    at: Spot = field(default=NOWHERE, eq=False, repr=False)


PlanStep = Set | Wait | WaitFor | Observe | Measure


@frozen
class Sitting:
    """One stretch of a plan, from no power to no power: one recording.

    ``settings`` are positions by name that a person sets before the supply comes on; ``start`` has the inputs that do
    not stand at rest then, sensors among them.
    """

    id: str
    steps: tuple[PlanStep, ...]
    settings: Mapping[str, str] = field(factory=dict)
    start: Mapping[str, Value] = field(factory=dict)
    at: Spot = field(default=NOWHERE, eq=False, repr=False)


@frozen
class Covered:
    """Goals of one kind that a plan reaches, each in words; of faults the ids, as the fault library has them."""

    kind: GoalKind
    goals: tuple[str, ...]


@frozen
class LeftOut:
    """Goals of one kind that a plan does not reach, and the reason."""

    kind: GoalKind
    goals: tuple[str, ...]
    reason: str


@frozen
class Plan:
    """A plan for one board.

    ``spec_digest`` is that of the spec it was made from; ``wired`` are the signals that the bench sees; ``seed`` is
    that of its making. ``expected_time`` is how long a board at nominal times takes for it. ``cautions`` are read
    before the first step.
    """

    board: str
    spec_digest: str
    title: str
    sittings: tuple[Sitting, ...]
    wired: tuple[str, ...]
    covers: tuple[Covered, ...] = ()
    leaves_out: tuple[LeftOut, ...] = ()
    cautions: tuple[str, ...] = ()
    expected_time: int = 0
    seed: int = 0
    at: Spot = field(default=NOWHERE, eq=False, repr=False)

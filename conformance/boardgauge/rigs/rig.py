"""The adaptor: what every rig can say and do, be it a simulated board, firmware, a fixture on a port or a person.

Law of this module: it speaks the board's words. A level is true for on, closed, fitted, pressed and lit; an output's
level is that of its coil, whatever contact it uses; a sensor's value is a number in the unit of its input; the supply
is the input ``power``. All moments are whole microseconds since the rig was started, by the rig's own clock.

The order of calls is ``start``, then any number of ``set`` and ``wait``, and the same again for another sitting; then
``safe`` and ``close``. Those two may be called at any time, also before the start, and more than once. Used as ``with
rig:``, a rig is made safe and closed however the block ends.

Changes come as *reports*: ``wait`` gives those seen, and a moment ``now`` up to which nothing is still to come. The
moment that ``set`` gives is later than the last report; what changed between the two comes with the next one.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Mapping
from fractions import Fraction
from types import TracebackType

from attrs import frozen

from boardgauge.machine.run import POWER, Value

__all__ = [
    "LONGEST_PULSE",
    "NOT_KEPT",
    "POWER",
    "SIMULATED",
    "Change",
    "Report",
    "Rig",
    "RigFacts",
    "RigFailure",
    "Value",
]


SIMULATED = "simulated: no real board"
"""What is said wherever a run is told of in which no real board stood on the rig."""
NOT_KEPT = "whether a real board was there was not kept"
"""The same of a run that an earlier version made or kept."""
LONGEST_PULSE = 200_000
"""Microseconds: no rig is asked for a longer pulse; what lasts longer is set, waited for and set back."""


class RigFailure(Exception):
    """The rig cannot go on: the link is lost, the program is dead, or it refused. The message says which and why."""


@frozen
class Change:
    """A signal that the rig sees changed: from ``time`` on it stands at ``value``."""

    time: int
    signal: str
    value: Value


@frozen
class Report:
    """What was seen: every change up to ``now`` that was not reported before, in the order of time."""

    now: int
    changes: tuple[Change, ...] = ()


@frozen
class RigFacts:
    """What a rig is.

    ``name`` is the rig's own, ``kind`` one of the kinds of rig. ``drives`` has the inputs (and ``power``) that it can
    drive, each with the value that is safe; ``sees`` the signals that it reports. ``latency`` is how far a moment it
    gives may be off, either way, and ``clock_error`` how far its clock may be off, as a fraction; the judge widens its
    readings by both. A rig that is ``sampled`` looks at what it sees at the moments ``now`` of its reports and at no
    others; between two of them ``least_pulse`` is the shortest pulse that it is sure to catch, None if any may be
    missed. Where it is not sampled, no change escapes it.

    With ``virtual`` time a wait takes as long as the rig needs to work it out; otherwise as long as it says, or as much
    less as its clock is faster than that on the wall. ``safe_within`` bounds the time that ``safe`` takes, in
    microseconds of the clock on the wall. ``watchdog`` is the time on that clock without word from us after which the
    rig makes itself safe, None if it does not: in virtual time, or where nothing can be driven. One that ``chooses``
    brings the settings that a person chooses on other boards to the positions that ``start`` is given; one that
    ``pulses`` can time a short pulse by itself.
    """

    name: str
    kind: str
    drives: Mapping[str, Value]
    sees: tuple[str, ...]
    latency: int = 0
    clock_error: Fraction = Fraction(0)
    sampled: bool = False
    least_pulse: int | None = None
    virtual: bool = False
    safe_within: int = 1_000_000
    watchdog: int | None = None
    chooses: bool = False
    pulses: bool = False

    @property
    def simulated(self) -> bool:
        """Tell whether no real board is there: it is simulated, or time is virtual, which nothing real keeps to."""
        return self.virtual or self.kind == "simulated"


class Rig(ABC):
    """Something that drives a board's inputs and sees what it shows. Each call may raise ``RigFailure``."""

    @property
    @abstractmethod
    def facts(self) -> RigFacts:
        """What this rig is; known before it is started. Its latency may grow while it runs, where it was slower."""

    @abstractmethod
    def start(self, settings: Mapping[str, str] | None = None) -> Report:
        """Bring everything driven to its safe state and begin to count time, from 0.

        The report has a change for each signal that the rig sees, telling how it stands. ``settings`` (setting -> name
        of its position) are those that a person chooses; only a rig that ``chooses`` looks at them.
        """

    @abstractmethod
    def set(self, levels: Mapping[str, Value]) -> int:
        """Bring inputs to values, all at once as nearly as the rig can; give the moment at which that was done.

        Only what ``facts.drives`` has may be named.
        """

    def pulse(self, levels: Mapping[str, Value], back: Mapping[str, Value], length: int) -> tuple[int, int]:
        """Bring inputs to values as ``set`` does, and after ``length`` microseconds ``back``; give both moments.

        Only for a rig that ``pulses``, and for no longer than LONGEST_PULSE: it times more finely than we can from
        outside, over a link.
        """
        raise RigFailure(f"{self.facts.name} times no pulses")

    @abstractmethod
    def wait(self, until: int) -> Report:
        """Wait until a moment, or the next change if that comes sooner, and report.

        A moment that is over gives what was seen meanwhile. In real time a rig may report sooner, with no change; one
        with a watchdog is kept awake by each call, and no call takes longer than a third of the watchdog's time.
        """

    @abstractmethod
    def safe(self) -> None:
        """Bring everything driven to its safe state, within ``facts.safe_within``.

        Raises RigFailure if that cannot be made sure from here: then a person has to cut the supply.
        """

    @abstractmethod
    def close(self) -> None:
        """Let go of link, program and files. Never raises."""

    def __enter__(self) -> Rig:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        try:
            self.safe()
        except RigFailure as failure:
            if error is None:
                raise
            error.add_note(str(failure))
        finally:
            self.close()

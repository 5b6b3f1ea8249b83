"""What a fixture says of itself at the beginning.

Law of this module: what the answer to hello may hold is said in ``docs/rigs.md``, and nothing else is taken.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

from attrs import define, field

from boardgauge.rigs.lines import VERSION, BadLine, is_name, number_of, shown, time_of
from boardgauge.rigs.links import Link
from boardgauge.rigs.rig import RigFailure

MOST_BEFORE = 200
"""So many lines of others (of a start-up) may stand before the answer to hello."""


@define
class About:
    """What a fixture said of itself."""

    name: str = ""
    drives: dict[str, Fraction] = field(factory=dict)
    sees: list[str] = field(factory=list)
    virtual: bool = False
    sampled: bool = False
    least_pulse: int | None = None
    watchdog: int | None = None
    chooses: bool = False
    pulses: bool = False
    sums: bool = False


def ask_hello(name: str, link: Link, clock: Callable[[], float]) -> About:
    """Ask the fixture called ``name`` in messages what it is. Raises RigFailure."""
    about, deadline, before, again = About(), clock() + link.hello_within, 0, False
    # An empty line ends the half line in which a fixture may have been left.
    link.send("")
    link.send(f"hello {VERSION}")
    while True:
        line = link.line(max(0.0, deadline - clock()))
        if line is None:
            raise RigFailure(f"{name}: it did not answer hello within {link.hello_within:g} s")
        words = line.split()
        if words[:1] == ["error"] and not again:
            # That may have been about the half line before.
            again = True
            link.send(f"hello {VERSION}")
            continue
        if not about.name and words[:1] not in (["fixture"], ["error"]):
            before += 1
            if before > MOST_BEFORE:
                raise RigFailure(f"{name}: it says other things than the protocol has: {shown(line)}")
            continue
        try:
            if _told(about, words, line):
                return about
        except BadLine as error:
            raise RigFailure(f"{name}: {error}") from None


def _told(about: About, words: list[str], line: str) -> bool:
    """Take in a line of the answer to hello; tells whether it was the last."""
    match words:
        case ["fixture", *name] if name:
            about.name = " ".join(name)
        case ["drives", name, *safe] if is_name(name) and len(safe) <= 1:
            about.drives[name] = number_of(safe[0]) if safe else Fraction(0)
        case ["sees", name] if is_name(name):
            about.sees.append(name)
        case ["time", "virtual" | "real" as word]:
            about.virtual = word == "virtual"
        case ["sampled"]:
            about.sampled = True
        case ["sampled", least]:
            about.sampled, about.least_pulse = True, time_of(least)
        case ["watchdog", silence]:
            about.watchdog = time_of(silence)
        case ["chooses"]:
            about.chooses = True
        case ["pulses"]:
            about.pulses = True
        case ["sums"]:
            about.sums = True
        case ["ok", version]:
            if version != str(VERSION):
                raise BadLine(f"it speaks version {shown(version)} of the protocol, and this is {VERSION}")
            return True
        case ["error", *_]:
            raise BadLine(f"it refuses hello: {shown(line)}")
        case _:
            raise BadLine(f"it says {shown(line)}, which the answer to hello does not have")
    return False

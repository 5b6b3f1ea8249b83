"""A single fault of a board, as a value.

Law of this module: a fault is a name for a machine. What is wrong, why that happens and how often are words and figures
for people; what the faulty board does is said by its own board spec and by nothing else.
"""

from __future__ import annotations

from attrs import field, frozen

from boardgauge.language.model import Board


@frozen
class Group:
    """One kind of fault: its ``title``, the likely physical ``cause``, and how often it is met beside the others.

    ``weight`` is a rank for sorting, 1 (rare) to 10 (often); causes and weights are common practice, no source.
    """

    title: str
    cause: str
    weight: int


GROUPS: dict[str, Group] = {
    "output stuck on": Group("output stuck on", "relay contact welded, or the driver of its coil shorted", 10),
    "output stuck off": Group("output stuck off", "relay coil open, its driver dead, or a cracked joint", 10),
    "output chatters": Group("output chatters", "worn relay, low coil voltage, or a bad joint at its coil", 8),
    "output late": Group("output late", "sticking relay, or a leaking capacitor across its coil", 4),
    "output leads crossed": Group("output leads crossed", "two output leads changed over at the terminals", 5),
    "lamp": Group("lamp", "lamp dead or its driver shorted, or a cracked joint", 7),
    "lamp line": Group("lamp line", "wrong firmware: the lamp's table is not that of this board", 4),
    "input stuck": Group("input stuck", "cracked joint, burnt input resistor, or an input part shorted", 8),
    "input leads crossed": Group("input leads crossed", "two input leads changed over at the terminals", 5),
    "input not filtered": Group("input not filtered", "filter capacitor open, or a firmware slip in the debouncing", 3),
    "sensor reads off": Group(
        "sensor reads off", "sensor drifted, wrong sensor fitted, or a bad joint in its leads", 7
    ),
    "setting misread": Group("setting misread", "jumper or switch does not make contact, or a cracked joint", 6),
    "clock": Group("clock", "drifted or wrong oscillator, or the wrong line frequency set", 6),
    "timing short": Group("timing short", "wrong time in the firmware, or a wrong or drifted timing part", 6),
    "timing long": Group("timing long", "wrong time in the firmware, or a wrong or drifted timing part", 6),
    "timing absent": Group("timing absent", "timing left out of the firmware, or a timing part shorted", 5),
    "timing endless": Group("timing endless", "timer never stops: firmware slip, or a timing part open", 4),
    "begun again": Group("begun again", "firmware slip: what a second beginning does was chosen wrongly", 4),
    "bypass at each opening": Group("bypass at each opening", "firmware slip: the bypass goes by the switch", 4),
    "lockout": Group("lockout", "latch lost: firmware slip, or a memory cell gone", 4),
    "power": Group("power", "memory not kept, or not cleared: buffer capacitor or battery gone, or a firmware slip", 4),
    "count": Group("count", "firmware slip in the counting", 4),
    "accumulator": Group("accumulator", "firmware slip in the adding up", 4),
    "sequence": Group("sequence", "firmware slip in the order of the steps", 3),
    "toggle": Group("toggle", "latching relay or memory cell stuck", 5),
    "speed-up": Group("speed-up", "speed-up pins bridged by dirt or solder, or their joint open", 6),
    "part ignored": Group("part ignored", "a condition left out of the firmware", 3),
    "part stuck": Group("part stuck", "firmware slip, or a memory cell stuck", 2),
    "part inverted": Group("part inverted", "firmware slip: a condition turned over", 2),
    "wrong event": Group("wrong event", "firmware slip: it goes by another event", 2),
}
"""The kinds of fault, by their key."""


@frozen
class Fault:
    """One thing wrong with a board.

    ``board`` is the spec of a board with this fault: it compiles, simulates and is judged with as any other.
    ``any_size`` is, for a fault that can be of any size (how short, how long, how slow), the spec that allows all
    sizes; ``timings`` names the timings (of the machine) whose lengths tell the size.

    ``of`` is the id of what is faulty (an input, a setting, a condition, a rule, an output, a lamp, a speed-up; of the
    clock the board), ``clause`` the clause of the document that says how it should be. ``alike`` names the faults that
    give the very same board and are therefore not listed.
    """

    id: str
    name: str
    group: str
    of: str
    clause: str | None
    board: Board = field(repr=False, eq=False)
    any_size: Board | None = field(default=None, repr=False, eq=False)
    timings: tuple[str, ...] = ()
    alike: tuple[str, ...] = ()
    more_weight: int = 0

    @property
    def cause(self) -> str:
        """Give the likely physical cause."""
        return GROUPS[self.group].cause

    @property
    def weight(self) -> int:
        """Give how often such a fault is met, a rank from 1 (rare) to 10 (often)."""
        return max(1, GROUPS[self.group].weight + self.more_weight)

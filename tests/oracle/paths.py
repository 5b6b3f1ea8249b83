"""One way in which a board may stand, as the solver's search carries it.

Law of this module: values only; moments are numbers of the solver or plain ones.
"""

from __future__ import annotations

from collections.abc import Mapping

from attrs import field, frozen

from boardgauge.language import expressions as ex
from oracle.due import POWER
from oracle.look import Key
from oracle.reals import Filling, Going, Real
from oracle.standing import Standing


@frozen(eq=False)
class Change:
    """A change of an input, or the supply's coming, that is at the terminal and not taken in yet.

    Those of one ``moment`` are taken in together; 0 is none.
    """

    name: str
    value: bool
    raw: Real
    moment: int = 0


@frozen(eq=False)
class Command:
    """A change of an output that has not shown; ``floating`` count from its act or later, till it shows.

    It shows by ``limit``, by one of ``deadlines`` and by all of ``others``, which are those of requirements that it
    shows ``together`` with other commands.
    """

    value: bool
    act: Real
    limit: Real
    deadlines: tuple[Real, ...]
    floating: tuple[Real, ...] = ()
    together: tuple[tuple[object, int], ...] = ()
    others: tuple[Real, ...] = ()


@frozen(eq=False)
class Path:
    """One way in which the board may stand.

    ``seen`` counts the changes of the trace behind it, signal by signal, ``hidden`` the moments out of sight since the
    last of them. ``levels`` are the inputs at their terminals, ``shown`` the outputs that are on at theirs. A board
    without power, or on the point of waking, is ``asleep``; ``slept`` says since when.
    """

    standing: Standing
    now: Real
    going: Mapping[Key, Going]
    filling: Mapping[str, Filling]
    queues: Mapping[str, tuple[Command, ...]]
    levels: Mapping[str, bool]
    shown: frozenset[str] = frozenset()
    asleep: bool = True
    slept: Real = 0
    pending: tuple[Change, ...] = ()
    seen: Mapping[str, int] = field(factory=dict)
    hidden: int = 0
    flipped: Mapping[str, Real] = field(factory=dict)
    idle: frozenset[str] = frozenset()
    pulses: int = 0
    masked: Mapping[str, Real] = field(factory=dict)
    lit: Mapping[str, tuple[int, Real]] = field(factory=dict)
    owed: Mapping[str, tuple[Real, ...]] = field(factory=dict)
    happened: Mapping[ex.Event, Real] = field(factory=dict)

    @property
    def first(self) -> dict[str, Change]:
        """Give for each input the first change it has not acted on; the supply goes before all."""
        found: dict[str, Change] = {}
        for change in self.pending:
            if change.name == POWER:
                return {POWER: change}
            found.setdefault(change.name, change)
        return found
